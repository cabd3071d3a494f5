//! The flight recorder on the Cortex-M7 (mps2-an500) board in batches of recorded frames.
#![no_std]
#![no_main]

mps2::tool!(mps2::batch::recorder::<f32>);
