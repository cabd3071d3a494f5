//! Checked ranges: made once when a configuration is built.

use crate::Scalar;

/// Why a range was refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RangeError {
    /// A bound is NaN or infinite.
    NotFinite,
    /// The lower bound lies above the upper bound.
    Inverted,
}

/// A closed interval whose bounds are finite and in order.
#[derive(Clone, Copy, Debug)]
pub struct Bounds<S> {
    lo: S,
    hi: S,
}

impl<S: Scalar> Bounds<S> {
    /// The interval `[lo, hi]`.
    ///
    /// # Errors
    /// When a bound is not finite or the bounds are inverted.
    pub fn new(lo: f32, hi: f32) -> Result<Self, RangeError> {
        if !lo.is_finite() || !hi.is_finite() {
            Err(RangeError::NotFinite)
        } else if lo > hi {
            Err(RangeError::Inverted)
        } else {
            Ok(Self {
                lo: S::from_f32(lo),
                hi: S::from_f32(hi),
            })
        }
    }

    /// `x` kept within the interval.
    #[inline(always)]
    pub fn limit(&self, x: S) -> S {
        x.limit(self.lo, self.hi)
    }
}
