//! The stored form of every body: frozen twins of the domain's types, each with its version.
//!
//! A twin never changes once it is released. A domain type that grows gets a twin of version 2 beside
//! it, and both are read for good. Fields that a twin does not know are passed over when read; the
//! entry's own line keeps them.

#[macro_use]
mod twin;
mod aftercare;
mod basics;
mod bodies;
mod couch;
mod coursework;
mod incident;
mod keys;
mod outcome;
mod people;
mod said;
mod service;
mod times;

pub(crate) use bodies::{decode, encode, version};
pub(crate) use couch::{OpeningV1, TapV1};
pub(crate) use outcome::AnswersV1;
pub(crate) use twin::Twin;

#[cfg(test)]
pub(crate) mod any;
#[cfg(test)]
mod tests;
