//! A pure delay of a fixed number of steps.

use crate::{Plain, Scalar, plain};

/// The last `N` values, newest first.
#[derive(Clone, Copy, Debug)]
#[repr(C)]
pub struct Delay<S, const N: usize> {
    past: [S; N],
}

plain!([S: Plain, const N: usize] Delay<S, N> { past });

impl<S: Scalar, const N: usize> Default for Delay<S, N> {
    fn default() -> Self {
        Self { past: [S::ZERO; N] }
    }
}

impl<S: Scalar, const N: usize> Delay<S, N> {
    /// As if all values had been `x`.
    #[must_use]
    pub const fn of(x: S) -> Self {
        Self { past: [x; N] }
    }

    /// Puts `x` in front and returns the value that falls out: `x` of `N` steps ago.
    #[inline(always)]
    pub fn step(&mut self, x: S) -> S {
        push_front(&mut self.past, x)
    }
}

/// Puts `first` in front and returns what falls out at the end.
#[inline(always)]
pub(crate) fn push_front<S: Scalar, const N: usize>(list: &mut [S; N], first: S) -> S {
    let mut carry = first;
    for slot in list {
        core::mem::swap(slot, &mut carry);
    }
    carry
}
