//! The arithmetic that the control law is written over.

use core::fmt::Debug;
use core::ops::{Add, Mul, Neg, Sub};

/// A number the control law can be run in.
///
/// Implementations must not panic for any operands. Units are chosen by the
/// caller so that every quantity of the law stays within about +-128: metres,
/// seconds, tonnes, kilonewtons, amperes, volts, hundreds of kelvin.
pub trait Scalar:
    Copy
    + Debug
    + 'static
    + Add<Output = Self>
    + Sub<Output = Self>
    + Mul<Output = Self>
    + Neg<Output = Self>
{
    /// Zero.
    const ZERO: Self;
    /// One.
    const ONE: Self;

    /// Nearest representable value to `x`; saturates where the type does.
    /// For constants; what a configuration is built from goes through [`Scalar::of_parameter`].
    fn from_f32(x: f32) -> Self;

    /// The same for the many numbers of a configuration, which come from parameters: out of line where it takes
    /// more than a few instructions.
    #[inline(always)]
    fn of_parameter(x: f32) -> Self {
        Self::from_f32(x)
    }

    /// Value for the host's reports; not used in the loop.
    fn to_f64(self) -> f64;

    /// The value `bits * 2^-24`: how calibrated sensor readings enter the law.
    fn from_q24(bits: i32) -> Self;

    /// The value as a count of `2^-24`, saturating, cut off toward zero: how commands leave the law.
    fn to_q24(self) -> i32;

    /// `x` when `a >= b`, else `y`; `y` when the comparison has no answer.
    fn select_ge(a: Self, b: Self, x: Self, y: Self) -> Self;

    /// Square root of the value; zero for negative values.
    fn sqrt(self) -> Self;

    /// `self / d`, saturating. The caller keeps `d` away from zero; a zero
    /// divisor gives a large finite value or zero, never a panic.
    fn div(self, d: Self) -> Self;

    /// An integer that is negative where the value is, and only there. A zero with a sign and what is no number may be either.
    #[inline(always)]
    fn sign(self) -> i32 {
        self.to_q24()
    }

    /// Whether the value is a finite number.
    fn is_finite(self) -> bool;

    /// Whether the value is a number of a magnitude up to `most`. A type that holds no more has nothing to look at.
    fn is_within(self, most: f32) -> bool;

    /// The value, or `fallback` when it is not a finite number.
    #[inline(always)]
    fn finite_or(self, fallback: Self) -> Self {
        if self.is_finite() { self } else { fallback }
    }

    /// The smaller of two values; `b` when they cannot be compared.
    #[inline(always)]
    fn min(self, b: Self) -> Self {
        Self::select_ge(b, self, self, b)
    }

    /// The larger of two values; `b` when they cannot be compared.
    #[inline(always)]
    fn max(self, b: Self) -> Self {
        Self::select_ge(self, b, self, b)
    }

    /// The value kept within `[lo, hi]`; `hi` wins when the two are crossed.
    #[inline(always)]
    fn limit(self, lo: Self, hi: Self) -> Self {
        self.max(lo).min(hi)
    }

    /// The magnitude.
    #[inline(always)]
    fn abs(self) -> Self {
        self.max(-self)
    }

    /// What of the value lies outside `[-edge, edge]`; zero inside.
    #[inline(always)]
    fn dead_zone(self, edge: Self) -> Self {
        self - self.limit(-edge, edge)
    }
}

/// A product that stands once in the program, for what is seldom done: it costs time and saves memory.
#[inline(never)]
pub fn seldom_product<S: Scalar>(a: S, b: S) -> S {
    a * b
}

macro_rules! float_scalar {
    ($t:ty, $sqrt:path, $below:expr) => {
        impl Scalar for $t {
            const ZERO: Self = 0.0;
            const ONE: Self = 1.0;
            #[inline(always)]
            fn from_f32(x: f32) -> Self {
                Self::from(x)
            }
            #[inline(always)]
            fn to_f64(self) -> f64 {
                f64::from(self)
            }
            #[inline(always)]
            fn from_q24(bits: i32) -> Self {
                bits as $t * (1.0 / 16_777_216.0)
            }
            #[inline(always)]
            fn to_q24(self) -> i32 {
                // A cast saturates and gives zero for NaN.
                (self * 16_777_216.0) as i32
            }
            #[inline(always)]
            fn sign(self) -> i32 {
                // One instruction: the first bit is the sign.
                (self.to_bits() >> $below) as i32
            }
            #[inline(always)]
            fn select_ge(a: Self, b: Self, x: Self, y: Self) -> Self {
                if a >= b { x } else { y }
            }
            #[inline(always)]
            fn abs(self) -> Self {
                // One instruction.
                <$t>::abs(self)
            }
            #[inline(always)]
            fn sqrt(self) -> Self {
                $sqrt(Scalar::max(self, 0.0))
            }
            #[inline(always)]
            fn div(self, d: Self) -> Self {
                self / d
            }
            #[inline(always)]
            fn is_finite(self) -> bool {
                <$t>::is_finite(self)
            }
            #[inline(always)]
            fn is_within(self, most: f32) -> bool {
                <$t>::abs(self) <= Self::from(most)
            }
        }
    };
}

float_scalar!(f32, crate::root::sqrt, 0);
float_scalar!(f64, libm::sqrt, 32);
