//! The flight recorder on the Cortex-M4F (mps2-an386) board in batches of recorded frames.
#![no_std]
#![no_main]

mps2::tool!(mps2::batch::recorder::<f32>);
