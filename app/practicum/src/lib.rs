//! domain
