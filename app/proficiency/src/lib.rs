//! Statistics of learning a manual skill: numbers in, numbers out.
//!
//! This crate never knows a lash, a trainee, a file, a clock or a random source (seeds are arguments).
//! No input makes it panic: values that are not finite are left out, and where nothing can be said the
//! answer is `None`.
//!
//! Reading order: [`middle`], [`normal`], [`trend`], [`proportion`], [`timeline`].

pub mod middle;
pub mod normal;
pub mod proportion;
pub mod timeline;
pub mod trend;
