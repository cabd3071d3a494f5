//! The port to the Cortex-M3 (mps2-an385) board.
#![no_std]
#![no_main]

mps2::port!(shared_math::Q24);
