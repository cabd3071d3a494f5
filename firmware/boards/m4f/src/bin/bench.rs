//! The law on the Cortex-M4F (mps2-an386) board behind the link, for the host's bench.
#![no_std]
#![no_main]

mps2::tool!(|timer| mps2::bench::serve::<f32>("Cortex-M4F (mps2-an386)", timer));
