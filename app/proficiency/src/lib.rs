//! Statistics of learning a manual skill: numbers in, numbers out.
//!
//! This crate never knows a lash, a trainee, a file, a clock or a random source (seeds are arguments).
//! No input makes it panic: where nothing can be said the answer is `None` or an error that says why.
//!
//! Reading order: plain numbers ([`middle`], [`normal`], [`special`], [`distribution`]); lines and curves
//! ([`linear`], [`robust`], [`number`], [`nonlinear`]); learning ([`learning_curve`], [`own_curve`],
//! [`plateau`]), of a group ([`mixed`], [`group_curve`], [`forecast`]); agreement and rates ([`kappa`],
//! [`intraclass`], [`proportion`]); series ([`chart`], [`rank`], [`trend`]); decisions ([`competence`]); two
//! eyes, one pair of hands ([`timeline`]).

pub mod middle;
pub mod normal;
pub mod special;

pub mod distribution;
pub mod linear;
pub mod nonlinear;
pub mod number;
pub mod robust;
mod twice;

pub mod learning_curve;
pub mod own_curve;
pub mod plateau;

pub mod forecast;
pub mod group_curve;
pub mod mixed;

pub mod intraclass;
pub mod kappa;
pub mod leniency;
pub mod proportion;

pub mod chart;
pub mod rank;
pub mod trend;

pub mod competence;

pub mod timeline;
