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
            share_reached(dt_s / time_constant_s)
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

/// `1 - exp(-x)` for `x >= 0`, within 3e-7 of itself: `2 / (1 + coth(x / 2))`, with Lambert's continued fraction
/// `y coth y = 1 + y^2 / (3 + y^2 / (5 + ...))`. The library's function takes ten times the memory, of which the smallest
/// core has little.
fn share_reached(x: f32) -> f32 {
    // From here on it is one.
    let y = Scalar::min(0.5 * x, 10.0_f32);
    let mut odd = LAST;
    let mut y_coth_y = odd;
    while odd > 1.0 {
        odd = crate::rolled(odd) - 2.0;
        y_coth_y = odd + y * y / y_coth_y;
    }
    2.0 / (1.0 + y_coth_y / y)
}

/// The last odd number that is used: enough up to the largest argument.
const LAST: f32 = 25.0;
