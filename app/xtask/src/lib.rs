//! The chores of the project: build, serve, test and check.
//!
//! Reading order: [`workspace`] says where things stand and how a program is run; [`setup`] brings
//! what a build needs; [`wasm`] makes the app's two halves; [`site`] puts a whole site together in
//! memory; [`server`], [`serve`] and [`dist`] hand it out; [`directions`], [`tidy`], [`content`] and
//! [`leaks`] are checks; [`study`] simulates academies; [`test`] runs everything and counts.
//!
//! It never knows what a page looks like or what a service is.

pub mod workspace;

pub mod setup;
pub mod site;
pub mod wasm;

pub mod dist;
pub mod serve;
pub mod server;

pub mod content;
pub mod directions;
pub mod leaks;
pub mod study;
pub mod test;
pub mod tidy;
