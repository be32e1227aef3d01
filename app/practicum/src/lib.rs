//! The training of lash lifting as a domain.
//!
//! A trainee works on practice models, service by service. A *course book* says which stages a service
//! has, what counts as good, and when sections may be widened. A service at the couch is a list of taps;
//! every time on every screen is worked out from those taps. An assessor marks the outcome. What a
//! trainee may do next is worked out from the marked services, and never stored.
//!
//! This crate never reads a clock, a file, a store or a random source: moments and identifiers are
//! arguments. It never knows how a record is stored. Only [`course_book::text`] reads TOML; only
//! [`evidence`] calls the statistics.
//!
//! Reading order: [`ids`], [`moment`], [`eye`], [`section`], [`course_book`], [`product`],
//! [`practice_model`], [`gate`], [`couch`], [`service`], [`outcome`], [`competency`], [`evidence`],
//! [`trial`], [`standing`], [`group`], [`coursework`], [`after_the_couch`], [`certificate`].

pub mod after_the_couch;
pub mod certificate;
pub mod competency;
pub mod couch;
pub mod course_book;
pub mod coursework;
pub mod evidence;
pub mod eye;
pub mod gate;
pub mod group;
pub mod ids;
pub mod moment;
pub mod order;
pub mod outcome;
pub mod person;
pub mod practice_model;
pub mod product;
pub mod retention;
pub mod section;
pub mod service;
pub mod standing;
pub mod trial;
