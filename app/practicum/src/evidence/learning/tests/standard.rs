//! Standard.
