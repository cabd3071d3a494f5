//! Intervals with outward rounding: every number that the law's code can come to, enclosed.
//!
//! An interval holds all values that an expression can take when its arguments take any value of
//! theirs. Each operation is rounded outward, so that the exact result is inside; then it is
//! widened by what the controller's own arithmetic may round ([`Rounding`]). So the result
//! encloses the exact value and the value that the controller computes. A number that may be
//! no number at all is marked.

use shared_math::{Scalar, q24_from_f32};
use std::fmt;
use std::marker::PhantomData;
use std::ops::{Add, Mul, Neg, Sub};

/// What the controller's arithmetic makes of an exact result.
pub trait Rounding: Copy + fmt::Debug + Send + Sync + 'static {
    /// Name of the arithmetic.
    const NAME: &'static str;

    /// The smallest number that a result of `x` or more may be rounded to.
    fn down(x: f64) -> f64;

    /// The largest number that a result of `x` or less may be rounded to.
    fn up(x: f64) -> f64;

    /// The constant that the arithmetic holds for `x`.
    fn constant(x: f32) -> f64;
}

/// Exact real numbers: no rounding but outward.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Exact;

/// Single precision, rounding to nearest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Single;

/// Saturating fixed point with 24 fractional bits ([`shared_math::Q24`]).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fixed;

impl Rounding for Exact {
    const NAME: &'static str = "exact";
    fn down(x: f64) -> f64 {
        x
    }
    fn up(x: f64) -> f64 {
        x
    }
    fn constant(x: f32) -> f64 {
        x.into()
    }
}

impl Rounding for Single {
    const NAME: &'static str = "f32";
    fn down(x: f64) -> f64 {
        // Rounding to nearest is monotone and never passes a number of the type.
        let near = x as f32;
        if f64::from(near) > x {
            near.next_down().into()
        } else {
            near.into()
        }
    }
    fn up(x: f64) -> f64 {
        -Self::down(-x)
    }
    fn constant(x: f32) -> f64 {
        x.into()
    }
}

/// One step of the fixed-point type.
const STEP: f64 = 1.0 / 16_777_216.0;
const FIXED_MIN: f64 = -128.0;
const FIXED_MAX: f64 = 128.0 - STEP;

impl Rounding for Fixed {
    const NAME: &'static str = "fixed";
    fn down(x: f64) -> f64 {
        ((x / STEP).floor() * STEP).clamp(FIXED_MIN, FIXED_MAX)
    }
    fn up(x: f64) -> f64 {
        ((x / STEP).ceil() * STEP).clamp(FIXED_MIN, FIXED_MAX)
    }
    fn constant(x: f32) -> f64 {
        f64::from(q24_from_f32(x)) * STEP
    }
}

/// All numbers from `lo` to `hi`, in an arithmetic that rounds like `R`.
#[derive(Clone, Copy, PartialEq)]
pub struct Interval<R> {
    lo: f64,
    hi: f64,
    /// It may be no number (NaN).
    nan: bool,
    rounding: PhantomData<R>,
}

impl<R> fmt::Debug for Interval<R> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let nan = if self.nan { " or NaN" } else { "" };
        write!(f, "[{}, {}]{nan}", self.lo, self.hi)
    }
}

impl<R: Rounding> Interval<R> {
    /// All numbers from `lo` to `hi`; the two in either order. An end that is no number bounds nothing.
    #[must_use]
    pub const fn new(lo: f64, hi: f64) -> Self {
        if lo.is_nan() || hi.is_nan() {
            return Self::anything();
        }
        let (lo, hi) = if lo <= hi { (lo, hi) } else { (hi, lo) };
        Self::raw(lo, hi, false)
    }

    /// One number.
    #[must_use]
    pub const fn point(x: f64) -> Self {
        Self::raw(x, x, x.is_nan())
    }

    /// Every number of a floating-point type, infinities and NaN included.
    #[must_use]
    pub const fn anything() -> Self {
        Self::raw(f64::NEG_INFINITY, f64::INFINITY, true)
    }

    const fn raw(lo: f64, hi: f64, nan: bool) -> Self {
        Self {
            lo,
            hi,
            nan,
            rounding: PhantomData,
        }
    }

    /// The smallest number in it.
    #[must_use]
    pub const fn lo(&self) -> f64 {
        self.lo
    }

    /// The largest number in it.
    #[must_use]
    pub const fn hi(&self) -> f64 {
        self.hi
    }

    /// Whether it may be no number.
    #[must_use]
    pub const fn may_be_nan(&self) -> bool {
        self.nan
    }

    /// Whether every value is a finite number.
    #[must_use]
    pub const fn surely_finite(&self) -> bool {
        !self.nan && self.lo.is_finite() && self.hi.is_finite()
    }

    /// Whether it holds `x`.
    #[must_use]
    pub const fn contains(&self, x: f64) -> bool {
        if x.is_nan() {
            self.nan
        } else {
            self.lo <= x && x <= self.hi
        }
    }

    /// The smallest interval that holds both.
    #[must_use]
    pub const fn hull(self, b: Self) -> Self {
        Self::raw(self.lo.min(b.lo), self.hi.max(b.hi), self.nan || b.nan)
    }

    /// A result whose exact ends lie within one rounding of `lo` and `hi`.
    #[inline(always)]
    fn rounded(lo: f64, hi: f64, nan: bool) -> Self {
        // An end that is no number comes of infinities and says nothing.
        let nan = nan || lo.is_nan() || hi.is_nan();
        let lo = if lo.is_nan() {
            f64::NEG_INFINITY
        } else {
            R::down(lo.next_down())
        };
        let hi = if hi.is_nan() {
            f64::INFINITY
        } else {
            R::up(hi.next_up())
        };
        Self::raw(lo, hi, nan)
    }

    fn unbounded(&self) -> bool {
        self.lo.is_infinite() || self.hi.is_infinite()
    }
}

impl<R: Rounding> Add for Interval<R> {
    type Output = Self;
    #[inline(always)]
    fn add(self, b: Self) -> Self {
        // Infinities of unlike signs anywhere in the two make NaN.
        let nan = (self.hi == f64::INFINITY && b.lo == f64::NEG_INFINITY)
            || (self.lo == f64::NEG_INFINITY && b.hi == f64::INFINITY);
        Self::rounded(self.lo + b.lo, self.hi + b.hi, self.nan || b.nan || nan)
    }
}

impl<R: Rounding> Neg for Interval<R> {
    type Output = Self;
    #[inline(always)]
    fn neg(self) -> Self {
        Self::rounded_exactly(-self.hi, -self.lo, self.nan)
    }
}

impl<R: Rounding> Interval<R> {
    /// A result that is exact but for what the arithmetic cannot hold (the negative of the least
    /// fixed-point number).
    #[inline(always)]
    fn rounded_exactly(lo: f64, hi: f64, nan: bool) -> Self {
        Self::raw(R::down(lo), R::up(hi), nan)
    }
}

impl<R: Rounding> Sub for Interval<R> {
    type Output = Self;
    #[inline(always)]
    fn sub(self, b: Self) -> Self {
        self + Self::raw(-b.hi, -b.lo, b.nan)
    }
}

impl<R: Rounding> Mul for Interval<R> {
    type Output = Self;
    #[inline(always)]
    fn mul(self, b: Self) -> Self {
        let nan = self.nan
            || b.nan
            || (self.unbounded() && b.contains(0.0))
            || (b.unbounded() && self.contains(0.0));
        // Zero times an infinite end is no number, but other products say how far it reaches.
        let product = |x: f64, y: f64| if x == 0.0 || y == 0.0 { 0.0 } else { x * y };
        let all = [
            product(self.lo, b.lo),
            product(self.lo, b.hi),
            product(self.hi, b.lo),
            product(self.hi, b.hi),
        ];
        let lo = all[0].min(all[1]).min(all[2].min(all[3]));
        let hi = all[0].max(all[1]).max(all[2].max(all[3]));
        Self::rounded(lo, hi, nan)
    }
}

impl<R: Rounding> Scalar for Interval<R> {
    const ZERO: Self = Self::raw(0.0, 0.0, false);
    const ONE: Self = Self::raw(1.0, 1.0, false);

    fn from_f32(x: f32) -> Self {
        Self::point(R::constant(x))
    }

    /// The middle.
    fn to_f64(self) -> f64 {
        0.5 * (self.lo + self.hi)
    }

    fn from_q24(bits: i32) -> Self {
        let x = f64::from(bits) * STEP;
        Self::raw(R::down(x), R::up(x), false)
    }

    /// The count at the middle: no enclosure. The stages that are proved do not call it.
    fn to_q24(self) -> i32 {
        (self.to_f64() / STEP) as i32
    }

    #[inline(always)]
    fn select_ge(a: Self, b: Self, x: Self, y: Self) -> Self {
        let unclear = a.nan || b.nan;
        if !unclear && a.lo >= b.hi {
            x
        } else if a.hi < b.lo {
            y
        } else {
            x.hull(y)
        }
    }

    fn sqrt(self) -> Self {
        // Both arithmetics take a negative number for zero, and NaN too.
        let root = |x: f64| x.max(0.0).sqrt();
        let lo = if self.nan { 0.0 } else { root(self.lo) };
        let wide = Self::rounded(lo, root(self.hi), false);
        Self::raw(wide.lo.max(0.0), wide.hi, false)
    }

    fn div(self, d: Self) -> Self {
        if d.nan || d.contains(0.0) || (self.unbounded() && d.unbounded()) {
            return Self::anything();
        }
        let all = [
            self.lo / d.lo,
            self.lo / d.hi,
            self.hi / d.lo,
            self.hi / d.hi,
        ];
        let lo = all[0].min(all[1]).min(all[2].min(all[3]));
        let hi = all[0].max(all[1]).max(all[2].max(all[3]));
        Self::rounded(lo, hi, self.nan)
    }

    /// Whether every value is finite. Where only some are, take the two cases apart.
    fn is_finite(self) -> bool {
        self.surely_finite()
    }

    /// Whether every value is within.
    fn is_within(self, most: f32) -> bool {
        let most = f64::from(most);
        self.surely_finite() && -most <= self.lo && self.hi <= most
    }

    fn finite_or(self, fallback: Self) -> Self {
        if self.surely_finite() {
            self
        } else {
            let (least, most) = (R::down(f64::MIN), R::up(f64::MAX));
            let finite = Self::raw(self.lo.max(least), self.hi.min(most), false);
            finite.hull(fallback)
        }
    }

    #[inline(always)]
    fn min(self, b: Self) -> Self {
        let least = Self::raw(self.lo.min(b.lo), self.hi.min(b.hi), false);
        // What cannot be compared gives `b`.
        if self.nan || b.nan {
            least.hull(b)
        } else {
            least
        }
    }

    #[inline(always)]
    fn max(self, b: Self) -> Self {
        let most = Self::raw(self.lo.max(b.lo), self.hi.max(b.hi), false);
        if self.nan || b.nan {
            most.hull(b)
        } else {
            most
        }
    }

    #[inline(always)]
    fn abs(self) -> Self {
        let lo = if self.contains(0.0) {
            0.0
        } else {
            self.lo.abs().min(self.hi.abs())
        };
        let hi = self.lo.abs().max(self.hi.abs());
        // The magnitude of NaN is NaN.
        Self::rounded_exactly(lo, hi, self.nan)
    }
}
