//! Dual numbers on a tape: each number carries its value and, on the tape, its exact derivative with
//! respect to the numbers it was made of.
//!
//! The states of the firmware's stages are private, and nothing outside need know them. On a tape
//! they show by themselves: what a step reads of earlier steps is the state. Dual numbers with a
//! fixed vector of derivatives (such as the crate num-dual has) would need every component of every
//! state to be named and set before the step.

use shared_math::Scalar;
use std::cell::RefCell;
use std::ops::{Add, Mul, Neg, Sub};

/// A number of the law with its place on the tape; place 0 is that of all constants.
#[derive(Clone, Copy, Debug)]
pub struct Dual {
    value: f64,
    place: u32,
}

/// What one number was made of: up to two places and the partial derivatives.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Entry {
    pub(super) parents: [(u32, f64); 2],
}

thread_local! {
    static TAPE: RefCell<Vec<Entry>> = const { RefCell::new(Vec::new()) };
}

/// Begins an empty tape in this thread.
pub(super) fn begin_tape() {
    TAPE.with_borrow_mut(|tape| {
        tape.clear();
        tape.push(Entry::default());
    });
}

/// Number of places used so far.
pub(super) fn tape_length() -> u32 {
    TAPE.with_borrow(|tape| tape.len() as u32)
}

/// Takes the tape.
pub(super) fn take_tape() -> Vec<Entry> {
    TAPE.with_borrow_mut(std::mem::take)
}

impl Dual {
    /// A number without derivative.
    #[must_use]
    pub const fn constant(value: f64) -> Self {
        Self { value, place: 0 }
    }

    /// A new independent number.
    #[must_use]
    pub(super) fn variable(value: f64) -> Self {
        Self::record(value, [(0, 0.0); 2], true)
    }

    /// Its value.
    #[must_use]
    pub const fn value(self) -> f64 {
        self.value
    }

    /// Its place on the tape; 0 for a constant.
    pub(super) const fn place(self) -> u32 {
        self.place
    }

    fn record(value: f64, parents: [(u32, f64); 2], independent: bool) -> Self {
        let [(a, da), (b, db)] = parents;
        // One number used twice: its derivatives add up, and may cancel.
        let parents = if a == b {
            [(a, da + db), (0, 0.0)]
        } else {
            parents
        };
        // A constant, or a derivative of nothing, leaves no trace.
        let parents = parents.map(|(p, d)| if d == 0.0 { (0, 0.0) } else { (p, d) });
        if !independent && parents.iter().all(|&(place, _)| place == 0) {
            return Self::constant(value);
        }
        let place = TAPE.with_borrow_mut(|tape| {
            if tape.is_empty() {
                tape.push(Entry::default());
            }
            tape.push(Entry { parents });
            (tape.len() - 1) as u32
        });
        Self { value, place }
    }

    fn of_one(value: f64, parent: Self, derivative: f64) -> Self {
        Self::record(value, [(parent.place, derivative), (0, 0.0)], false)
    }

    fn of_two(value: f64, a: Self, da: f64, b: Self, db: f64) -> Self {
        Self::record(value, [(a.place, da), (b.place, db)], false)
    }
}

impl Add for Dual {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self::of_two(self.value + other.value, self, 1.0, other, 1.0)
    }
}

impl Sub for Dual {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self::of_two(self.value - other.value, self, 1.0, other, -1.0)
    }
}

impl Mul for Dual {
    type Output = Self;
    fn mul(self, other: Self) -> Self {
        Self::of_two(
            self.value * other.value,
            self,
            other.value,
            other,
            self.value,
        )
    }
}

impl Neg for Dual {
    type Output = Self;
    fn neg(self) -> Self {
        Self::of_one(-self.value, self, -1.0)
    }
}

impl Scalar for Dual {
    const ZERO: Self = Self::constant(0.0);
    const ONE: Self = Self::constant(1.0);

    fn from_f32(x: f32) -> Self {
        Self::constant(f64::from(x))
    }

    fn to_f64(self) -> f64 {
        self.value
    }

    fn from_q24(bits: i32) -> Self {
        Self::constant(<f64 as Scalar>::from_q24(bits))
    }

    fn to_q24(self) -> i32 {
        self.value.to_q24()
    }

    /// The branch taken at the operating point; its derivative is that branch's.
    fn select_ge(a: Self, b: Self, x: Self, y: Self) -> Self {
        if a.value >= b.value { x } else { y }
    }

    /// At zero and below the value is zero and so is the derivative.
    fn sqrt(self) -> Self {
        let root = Scalar::sqrt(self.value);
        let derivative = if root > 0.0 { 0.5 / root } else { 0.0 };
        Self::of_one(root, self, derivative)
    }

    fn div(self, d: Self) -> Self {
        let quotient = self.value / d.value;
        Self::of_two(quotient, self, 1.0 / d.value, d, -quotient / d.value)
    }

    fn is_finite(self) -> bool {
        self.value.is_finite()
    }

    fn is_within(self, most: f32) -> bool {
        self.value.is_within(most)
    }
}
