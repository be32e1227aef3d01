//! Fixtures and helpers shared by the system tests.
