//! How a result changes with one argument: an interval with the interval of its derivative.
//!
//! Evaluated over a whole domain it shows whether a function rises or falls everywhere in it. Where a branch is not
//! decided, the derivative of either side counts; a function that is continuous and has a derivative on each piece
//! changes by no more than that (mean-value theorem, piece by piece).

use super::interval::{Exact, Interval};
use shared_math::Scalar;
use std::ops::{Add, Mul, Neg, Sub};

/// A value and its derivative to the argument that was made by [`Slope::variable`], in exact real numbers.
#[derive(Clone, Copy, Debug)]
pub struct Slope {
    /// The value.
    pub value: Interval<Exact>,
    /// The derivative.
    pub slope: Interval<Exact>,
}

impl Slope {
    /// What does not depend on the argument: all numbers from `lo` to `hi`.
    #[must_use]
    pub const fn constant(lo: f64, hi: f64) -> Self {
        Self {
            value: Interval::new(lo, hi),
            slope: Interval::point(0.0),
        }
    }

    /// The argument itself, between `lo` and `hi`.
    #[must_use]
    pub const fn variable(lo: f64, hi: f64) -> Self {
        Self {
            value: Interval::new(lo, hi),
            slope: Interval::point(1.0),
        }
    }
}

impl Add for Slope {
    type Output = Self;
    fn add(self, b: Self) -> Self {
        Self {
            value: self.value + b.value,
            slope: self.slope + b.slope,
        }
    }
}

impl Sub for Slope {
    type Output = Self;
    fn sub(self, b: Self) -> Self {
        self + -b
    }
}

impl Neg for Slope {
    type Output = Self;
    fn neg(self) -> Self {
        Self {
            value: -self.value,
            slope: -self.slope,
        }
    }
}

impl Mul for Slope {
    type Output = Self;
    fn mul(self, b: Self) -> Self {
        Self {
            value: self.value * b.value,
            slope: self.slope * b.value + self.value * b.slope,
        }
    }
}

impl Scalar for Slope {
    const ZERO: Self = Self::constant(0.0, 0.0);
    const ONE: Self = Self::constant(1.0, 1.0);

    fn from_f32(x: f32) -> Self {
        Self::constant(x.into(), x.into())
    }

    fn to_f64(self) -> f64 {
        self.value.to_f64()
    }

    fn from_q24(bits: i32) -> Self {
        Self {
            value: Interval::from_q24(bits),
            slope: Interval::point(0.0),
        }
    }

    fn to_q24(self) -> i32 {
        self.value.to_q24()
    }

    fn select_ge(a: Self, b: Self, x: Self, y: Self) -> Self {
        let one = Interval::<Exact>::ONE;
        let zero = Interval::<Exact>::ZERO;
        let chosen = Interval::select_ge(a.value, b.value, one, zero);
        if chosen == one {
            x
        } else if chosen == zero {
            y
        } else {
            Self {
                value: x.value.hull(y.value),
                slope: x.slope.hull(y.slope),
            }
        }
    }

    fn sqrt(self) -> Self {
        let root = self.value.sqrt();
        // Half the slope by the root; at and below zero the root does not change.
        let half = Interval::from_f32(0.5) * self.slope.div(root);
        let slope = if self.value.lo() <= 0.0 {
            half.hull(Interval::point(0.0))
        } else {
            half
        };
        Self { value: root, slope }
    }

    fn div(self, d: Self) -> Self {
        let value = self.value.div(d.value);
        Self {
            value,
            slope: (self.slope - value * d.slope).div(d.value),
        }
    }

    fn is_finite(self) -> bool {
        self.value.surely_finite()
    }

    fn is_within(self, most: f32) -> bool {
        self.value.is_within(most)
    }

    fn finite_or(self, fallback: Self) -> Self {
        if self.is_finite() {
            self
        } else {
            // Some values may be finite: then either slope counts.
            Self {
                value: self.value.finite_or(fallback.value),
                slope: self.slope.hull(fallback.slope),
            }
        }
    }

    fn min(self, b: Self) -> Self {
        Self {
            value: self.value.min(b.value),
            slope: Self::select_ge(b, self, self, b).slope,
        }
    }

    fn max(self, b: Self) -> Self {
        Self {
            value: self.value.max(b.value),
            slope: Self::select_ge(self, b, self, b).slope,
        }
    }
}
