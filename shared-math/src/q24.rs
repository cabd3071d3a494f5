//! Saturating fixed point with 24 fractional bits, for cores without an FPU.

use crate::{Scalar, whole};
use core::ops::{Add, Mul, Neg, Sub};
use fixed::types::I8F24;

/// A signed 32-bit fixed-point number: range [-128, 128), step 2^-24 (6e-8).
///
/// Sums and products saturate; products round to nearest.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[repr(transparent)]
pub struct Q24(I8F24);

impl Q24 {
    /// The number whose 32-bit pattern is `bits`.
    #[must_use]
    pub const fn from_bits(bits: i32) -> Self {
        Self(I8F24::from_bits(bits))
    }

    /// The 32-bit pattern.
    #[must_use]
    pub const fn to_bits(self) -> i32 {
        self.0.to_bits()
    }
}

/// The count of 2^-24 nearest to `x`, saturating; zero for NaN.
#[must_use]
#[inline(never)]
pub fn q24_from_f32(x: f32) -> i32 {
    nearest(x)
}

#[inline(always)]
fn nearest(x: f32) -> i32 {
    // A cast saturates and gives zero for NaN.
    libm::roundf(x * 16_777_216.0) as i32
}

const fn saturate(x: i64) -> i32 {
    if x > i32::MAX as i64 {
        i32::MAX
    } else if x < i32::MIN as i64 {
        i32::MIN
    } else {
        x as i32
    }
}

impl Add for Q24 {
    type Output = Self;
    #[inline(always)]
    fn add(self, b: Self) -> Self {
        Self(self.0.saturating_add(b.0))
    }
}

impl Sub for Q24 {
    type Output = Self;
    #[inline(always)]
    fn sub(self, b: Self) -> Self {
        Self(self.0.saturating_sub(b.0))
    }
}

impl Mul for Q24 {
    type Output = Self;
    #[inline(always)]
    fn mul(self, b: Self) -> Self {
        let product = i64::from(self.to_bits()) * i64::from(b.to_bits());
        Self::from_bits(saturate((product + (1 << 23)) >> 24))
    }
}

impl Neg for Q24 {
    type Output = Self;
    #[inline(always)]
    fn neg(self) -> Self {
        Self(self.0.saturating_neg())
    }
}

impl Scalar for Q24 {
    const ZERO: Self = Self(I8F24::ZERO);
    const ONE: Self = Self(I8F24::ONE);

    fn from_f32(x: f32) -> Self {
        Self::from_bits(nearest(x))
    }
    #[inline(always)]
    fn of_parameter(x: f32) -> Self {
        Self::from_bits(q24_from_f32(x))
    }
    fn to_f64(self) -> f64 {
        self.0.to_num()
    }
    #[inline(always)]
    fn from_q24(bits: i32) -> Self {
        Self::from_bits(bits)
    }
    #[inline(always)]
    fn to_q24(self) -> i32 {
        self.to_bits()
    }
    #[inline(always)]
    fn select_ge(a: Self, b: Self, x: Self, y: Self) -> Self {
        if a.0 >= b.0 { x } else { y }
    }
    fn sqrt(self) -> Self {
        // sqrt(bits * 2^-24) = sqrt(bits * 2^24) * 2^-24.
        let wide = (self.to_bits().max(0) as u64) << 24;
        Self::from_bits(whole::root(wide) as i32)
    }
    fn div(self, d: Self) -> Self {
        let (bits, divisor) = (self.to_bits(), d.to_bits());
        let size = bits.unsigned_abs();
        let by = divisor.unsigned_abs().max(1);
        let quotient = if size >> 8 >= by {
            i64::MAX
        } else {
            i64::from(whole::divide(u64::from(size) << 24, by))
        };
        let negative = (bits ^ divisor) < 0;
        Self::from_bits(saturate(if negative { -quotient } else { quotient }))
    }
    #[inline(always)]
    fn is_finite(self) -> bool {
        true
    }
    #[inline(always)]
    fn is_within(self, most: f32) -> bool {
        let within = || {
            let most = Self::from_f32(most);
            self <= most && -self <= most
        };
        most >= 128.0 || within()
    }
}
