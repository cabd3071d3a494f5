//! The law on the Cortex-M7 (mps2-an500) board behind the link, for the host's bench.
#![no_std]
#![no_main]

mps2::tool!(|timer| mps2::bench::serve::<f32>("Cortex-M7 (mps2-an500)", timer));
