//! The law on the Cortex-M3 (mps2-an385) board behind the link, for the host's bench.
#![no_std]
#![no_main]

mps2::tool!(|timer| mps2::bench::serve::<shared_math::Q24>("Cortex-M3 (mps2-an385)", timer));
