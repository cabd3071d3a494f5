//! The state machine of the modes, explored whole.
//!
//! What runs is the firmware's own `supervise::State::step` with its latch, not a model of it.
//! Its inputs fall into 21 600 classes ([`alphabet`]); its counters are cut where they cease to
//! matter (`State::bounded`) and latched faults are known by their class, so that the states that differ are finite and all of them are
//! visited ([`graph`]). The machine's structure does not depend on how many steps a time lasts, so
//! it is explored with short times. [`proof`] counts what breaks a claim, [`periods`] finds
//! how fast modes can follow each other, [`guards`] what makes them change; [`page`] and
//! [`diagram`] say so in the documentation.

pub mod alphabet;
pub mod graph;
pub mod guards;
pub mod periods;
pub mod proof;

pub mod diagram;
pub mod page;
