//! First-order lag (low-pass) in its exact discrete form for a held input.

use crate::{Plain, Scalar, plain};

/// A first-order lag: `y += k (x - y)`, `k = 1 - exp(-dt / time_constant)`.
#[derive(Clone, Copy, Debug)]
#[repr(C)]
pub struct Lag<S> {
    k: S,
}

plain!([S: Plain] Lag<S> { k });

impl<S: Scalar> Lag<S> {
    /// A lag with the given time constant and step, both in seconds.
    /// A time constant of zero passes the input through.
    #[must_use]
    #[inline(never)]
    pub fn new(time_constant_s: f32, dt_s: f32) -> Self {
        let k = if time_constant_s <= 0.0 {
            1.0
        } else {
            -libm::expm1f(-dt_s / time_constant_s)
        };
        Self {
            k: S::of_parameter(k),
        }
    }

    /// One step: returns the new output and stores it in `y`.
    #[inline(always)]
    pub fn step(&self, y: &mut S, x: S) -> S {
        *y = *y + self.k * (x - *y);
        *y
    }
}
