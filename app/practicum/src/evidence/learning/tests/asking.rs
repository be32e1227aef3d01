//! Asking.
