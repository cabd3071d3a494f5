//! The port to the Cortex-M4F (mps2-an386) board.
#![no_std]
#![no_main]

mps2::port!(f32);
