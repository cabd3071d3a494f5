//! What the tests of the proof's arithmetic share: a seeded generator of awkward numbers, the operations of
//! `Scalar` by name, their exact results in rational numbers (num-rational), and random expressions.

use host_sim::proof::interval::{Exact, Fixed, Interval, Rounding, Single};
use num_rational::BigRational;
use num_traits::{Signed, Zero};
use shared_math::{Q24, Scalar};
use std::cmp::{max, min};

/// A generator of numbers: xorshift64*.
pub struct Numbers(pub u64);

impl Numbers {
    pub fn bits(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_F491_4F6C_DD1D)
    }

    pub fn below(&mut self, n: usize) -> usize {
        (((self.bits() >> 32) * n as u64) >> 32) as usize
    }

    /// Between `lo` and `hi`.
    pub fn between(&mut self, lo: f64, hi: f64) -> f64 {
        lo + (hi - lo) * ((self.bits() >> 11) as f64 / (1_u64 << 53) as f64)
    }

    pub fn one_of<T: Copy>(&mut self, all: &[T]) -> T {
        all[self.below(all.len())]
    }
}

/// An arithmetic of the proof, with the controller's number type that it encloses.
pub trait Arithmetic: Rounding {
    type Number: Scalar;

    /// Any number of the type as f64: ends of ranges, zeros, the least, powers of two, any bits.
    fn any(n: &mut Numbers) -> f64;

    /// The nearest number of the type.
    fn nearest(x: f64) -> f64;

    /// The number; `x` is one of the type's.
    fn number(x: f64) -> Self::Number;

    /// Distance from the larger of the ends to the next number.
    fn unit(x: f64) -> f64;

    /// Whether an exact result is within the type's range (the fixed-point type saturates).
    fn holds(x: &BigRational) -> bool;

    /// Between 1/16 and 16, either sign.
    fn ordinary(n: &mut Numbers) -> f64 {
        let x = n.between(-4.0, 4.0).exp2();
        Self::nearest(if n.below(2) == 0 { x } else { -x })
    }
}

impl Arithmetic for Exact {
    type Number = f64;
    fn any(n: &mut Numbers) -> f64 {
        let x = match n.below(8) {
            0 => n.one_of(&[0.0, f64::MAX, f64::MIN_POSITIVE, f64::from_bits(1), 1.0]),
            1 => f64::MIN_POSITIVE.next_down() * n.between(0.0, 1.0),
            2 => (n.below(2098) as f64 - 1074.0).exp2(),
            3 => n.one_of(&[1.0_f64.next_up(), 1.0_f64.next_down(), f64::MAX.next_down()]),
            4 => f64::from_bits(n.bits()),
            _ => n.between(0.0, 200.0),
        };
        let x = if x.is_finite() { x } else { 3.0 };
        if n.below(2) == 0 { x } else { -x }
    }
    fn nearest(x: f64) -> f64 {
        x
    }
    fn number(x: f64) -> f64 {
        x
    }
    fn unit(x: f64) -> f64 {
        x.abs().next_up() - x.abs()
    }
    fn holds(_: &BigRational) -> bool {
        true
    }
}

impl Arithmetic for Single {
    type Number = f32;
    fn any(n: &mut Numbers) -> f64 {
        let x = match n.below(8) {
            0 => n.one_of(&[0.0, f32::MAX, f32::MIN_POSITIVE, f32::from_bits(1), 1.0]),
            1 => f32::from_bits(n.below(1 << 23) as u32),
            2 => (n.below(277) as f32 - 149.0).exp2(),
            3 => n.one_of(&[1.0_f32.next_up(), 1.0_f32.next_down(), f32::MAX.next_down()]),
            4 => f32::from_bits(n.bits() as u32),
            _ => n.between(0.0, 200.0) as f32,
        };
        let x = if x.is_finite() { x } else { 3.0 };
        f64::from(if n.below(2) == 0 { x } else { -x })
    }
    fn nearest(x: f64) -> f64 {
        (x as f32).into()
    }
    fn number(x: f64) -> f32 {
        assert!(x.is_nan() || f64::from(x as f32) == x, "{x} is no f32");
        x as f32
    }
    fn unit(x: f64) -> f64 {
        let x = x.abs() as f32;
        f64::from(x.next_up()) - f64::from(x)
    }
    fn holds(_: &BigRational) -> bool {
        true
    }
}

/// One step of the fixed-point type.
pub const STEP: f64 = 1.0 / 16_777_216.0;

impl Arithmetic for Fixed {
    type Number = Q24;
    fn any(n: &mut Numbers) -> f64 {
        let bits = match n.below(8) {
            0 => n.one_of(&[0, 1, -1, i32::MAX, i32::MIN, i32::MIN + 1, 1 << 24]),
            1 => n.below(4096) as i32 - 2048,
            2 => n.one_of(&[1, -1]) << n.below(31),
            3 => n.bits() as i32,
            _ => (n.bits() as i32) >> 5,
        };
        f64::from(bits) * STEP
    }
    fn nearest(x: f64) -> f64 {
        // A cast saturates.
        f64::from((x / STEP).round() as i32) * STEP
    }
    fn number(x: f64) -> Q24 {
        let bits = (x / STEP) as i32;
        assert_eq!(f64::from(bits) * STEP, x, "no fixed-point number");
        Q24::from_bits(bits)
    }
    fn unit(_: f64) -> f64 {
        STEP
    }
    fn holds(x: &BigRational) -> bool {
        *x >= exact(-128.0) && *x <= exact(128.0 - STEP)
    }
}

/// The number itself.
pub fn exact(x: f64) -> BigRational {
    BigRational::from_float(x).expect("a finite number")
}

/// An operation of `Scalar`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Op {
    Add,
    Sub,
    Neg,
    Mul,
    Div,
    Sqrt,
    Min,
    Max,
    Abs,
    Limit,
    DeadZone,
    SelectGe,
    FiniteOr,
}

impl Op {
    pub const ALL: [Self; 13] = [
        Self::Add,
        Self::Sub,
        Self::Neg,
        Self::Mul,
        Self::Div,
        Self::Sqrt,
        Self::Min,
        Self::Max,
        Self::Abs,
        Self::Limit,
        Self::DeadZone,
        Self::SelectGe,
        Self::FiniteOr,
    ];

    /// The operation on as many of `x` as it takes.
    pub fn on<S: Scalar>(self, x: &[S; 4]) -> S {
        let [a, b, c, d] = *x;
        match self {
            Self::Add => a + b,
            Self::Sub => a - b,
            Self::Neg => -a,
            Self::Mul => a * b,
            Self::Div => Scalar::div(a, b),
            Self::Sqrt => Scalar::sqrt(a),
            Self::Min => Scalar::min(a, b),
            Self::Max => Scalar::max(a, b),
            Self::Abs => Scalar::abs(a),
            Self::Limit => a.limit(b, c),
            Self::DeadZone => a.dead_zone(b),
            Self::SelectGe => S::select_ge(a, b, c, d),
            Self::FiniteOr => a.finite_or(b),
        }
    }

    /// Its exact result; None for a quotient by zero. Of a root the square.
    pub fn exactly(self, [a, b, c, d]: &[BigRational; 4]) -> Option<BigRational> {
        let limited =
            |lo: &BigRational, hi: &BigRational| min(max(a.clone(), lo.clone()), hi.clone());
        Some(match self {
            Self::Add => a + b,
            Self::Sub => a - b,
            Self::Neg => -a,
            Self::Mul => a * b,
            Self::Div if b.is_zero() => return None,
            Self::Div => a / b,
            Self::Sqrt => max(a.clone(), BigRational::zero()),
            Self::Min => min(a, b).clone(),
            Self::Max => max(a, b).clone(),
            Self::Abs => a.abs(),
            Self::Limit => limited(b, c),
            Self::DeadZone => a - limited(&-b, b),
            Self::SelectGe => if a >= b { c } else { d }.clone(),
            Self::FiniteOr => a.clone(),
        })
    }
}

/// Whether an interval holds an exact number.
pub fn encloses<R: Rounding>(i: &Interval<R>, x: &BigRational) -> bool {
    (i.lo() == f64::NEG_INFINITY || exact(i.lo()) <= *x)
        && (i.hi() == f64::INFINITY || *x <= exact(i.hi()))
}

/// Whether an interval holds the root of an exact number that is not negative.
pub fn encloses_root<R: Rounding>(i: &Interval<R>, square: &BigRational) -> bool {
    let squared = |x: f64| exact(x) * exact(x);
    (i.lo() <= 0.0 || squared(i.lo()) <= *square)
        && (i.hi() == f64::INFINITY || (i.hi() >= 0.0 && *square <= squared(i.hi())))
}

/// An expression over three variables.
#[derive(Clone, Debug)]
pub enum Expression {
    Variable(usize),
    Constant(f32),
    Count(i32),
    Of(Op, Vec<Self>),
}

impl Expression {
    /// A random one over some operations, at most `depth` deep.
    pub fn random(n: &mut Numbers, ops: &[Op], depth: u32) -> Self {
        if depth == 0 || n.below(12) == 0 {
            return match n.below(8) {
                0 => Self::Constant(n.between(-4.0, 4.0) as f32),
                1 => Self::Count((n.bits() as i32) >> 6),
                _ => Self::Variable(n.below(3)),
            };
        }
        let op = n.one_of(ops);
        let count = match op {
            Op::Neg | Op::Sqrt | Op::Abs => 1,
            Op::Limit => 3,
            Op::SelectGe => 4,
            _ => 2,
        };
        let parts = (0..count).map(|_| Self::random(n, ops, depth - 1));
        Self::Of(op, parts.collect())
    }

    /// Its value in any arithmetic.
    pub fn at<S: Scalar>(&self, variables: &[S; 3]) -> S {
        match self {
            Self::Variable(k) => variables[*k],
            Self::Constant(x) => S::from_f32(*x),
            Self::Count(bits) => S::from_q24(*bits),
            Self::Of(op, parts) => {
                let mut x = [S::ZERO; 4];
                for (x, part) in x.iter_mut().zip(parts) {
                    *x = part.at(variables);
                }
                op.on(&x)
            }
        }
    }

    /// Its exact value; None if a divisor is zero or there is a root in it.
    pub fn exactly(&self, variables: &[BigRational; 3]) -> Option<BigRational> {
        match self {
            Self::Variable(k) => Some(variables[*k].clone()),
            Self::Constant(x) => Some(exact((*x).into())),
            Self::Count(bits) => Some(exact(f64::from(*bits) * STEP)),
            Self::Of(Op::Sqrt, _) => None,
            Self::Of(op, parts) => {
                let mut x = [const { None }; 4];
                for (x, part) in x.iter_mut().zip(parts) {
                    *x = Some(part.exactly(variables)?);
                }
                op.exactly(&x.map(|x| x.unwrap_or_else(BigRational::zero)))
            }
        }
    }
}
