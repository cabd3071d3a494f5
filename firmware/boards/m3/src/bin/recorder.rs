//! The flight recorder on the Cortex-M3 (mps2-an385) board in batches of recorded frames.
#![no_std]
#![no_main]

mps2::tool!(mps2::batch::recorder::<shared_math::Q24>);
