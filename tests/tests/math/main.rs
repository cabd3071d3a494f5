//! Arithmetic and blocks of shared-math.

mod agreement;
mod blocks;
mod braking;
mod lattice;
mod q24;
mod whole;
