//! Statistics of learning a manual skill: numbers in, numbers out.
//!
//! This crate never knows a lash, a trainee, a file, a clock or a random source (seeds are arguments).
