//! The log.
