//! The port to the Cortex-M7 (mps2-an500) board.
#![no_std]
#![no_main]

mps2::port!(f32);
