#![no_std]
//! Scalar arithmetic and control building blocks.
//!
//! The control law is written once over [`Scalar`] and runs in `f32`, in `f64`
//! and in the saturating fixed-point type [`Q24`]. Nothing here knows of seats.
//!
//! Rules that hold in every file of this crate:
//!
//! * no panic, no allocation, no data-dependent loop; `unsafe` only for the square root's instruction
//!   and the view of memory as words;
//! * what is kept from step to step is [`Plain`] memory: every pattern of its bits is a value;
//! * choices are made by [`Scalar::min`], [`Scalar::max`] and
//!   [`Scalar::select_ge`], so that the same lines can later run on other
//!   arithmetics (dual numbers, intervals, lanes);
//! * configuration (immutable) and state (small, `Copy`) are separate types.

mod counter;
mod delay;
mod dot;
mod forecast;
mod horizon;
mod lag;
mod lattice;
mod mirrored;
mod observer;
mod plain;
mod q24;
mod range;
mod root;
mod scalar;
pub mod trig;
pub mod whole;

pub use counter::{Debounce, DebounceBits, DebounceBitsConfig, Strikes, StrikesConfig};
pub use delay::Delay;
pub use dot::dot_from;
pub use forecast::Forecast;
pub use horizon::{Horizon, HorizonConfig, Turn};
pub use lag::Lag;
pub use lattice::{Lattice, LatticeConfig, LatticeWork};
pub use mirrored::Mirrored;
pub use observer::{Observer, ObserverGains};
pub use plain::{Flag, Halves, Names, Plain, WordKind, tell_of_field, words_of_field};
pub use q24::{Q24, q24_from_f32};
pub use range::{Bounds, RangeError};
pub use scalar::{Scalar, seldom_product};

/// A slice whose length the compiler does not know: a loop over it is not unrolled. For what runs once and
/// should be small.
#[inline(always)]
pub fn rolled<T>(slice: T) -> T {
    core::hint::black_box(slice)
}
