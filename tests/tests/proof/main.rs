//! The proof of the travel and of the modes: arithmetic, sets, certificate.

mod certify;
mod expressions;
mod interval;
mod modes;
mod set;
mod slope;
