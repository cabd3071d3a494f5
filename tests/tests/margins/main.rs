//! Gains and margins of the linear law against scipy and python-control.

mod delay;
mod law;
mod limits;
mod poles;
mod reference;
mod riccati;
mod sweep;
