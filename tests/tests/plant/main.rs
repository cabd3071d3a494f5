//! The plant and the seated body against closed forms, handbooks and scipy.

mod apparent_mass;
mod bumper;
mod motion;
mod motor;
mod reference;
