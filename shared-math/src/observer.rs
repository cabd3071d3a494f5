//! Fixed-gain observer correction.

use crate::{Plain, Scalar, plain, rolled};

/// Steady-state gains of an observer with `N` states and `M` measurements:
/// `state[i] += sum_j gain[i][j] * innovation[j]`.
#[derive(Clone, Copy, Debug)]
#[repr(C)]
pub struct ObserverGains<S, const N: usize, const M: usize>(pub [[S; M]; N]);

plain!([S: Plain, const N: usize, const M: usize] ObserverGains<S, N, M> { 0 });

impl<S: Scalar, const N: usize, const M: usize> ObserverGains<S, N, M> {
    /// Gains from single-precision numbers, as a rig's design supplies them.
    #[must_use]
    #[inline(never)]
    pub fn from_f32(k: &[[f32; M]; N]) -> Self {
        let mut gains = [[S::ZERO; M]; N];
        for (to, from) in rolled(gains.as_flattened_mut())
            .iter_mut()
            .zip(k.as_flattened())
        {
            *to = S::of_parameter(*from);
        }
        Self(gains)
    }
}

/// The states of an observer; the prediction is written where it is used.
#[derive(Clone, Copy, Debug)]
#[repr(C)]
pub struct Observer<S, const N: usize> {
    /// The estimated states.
    pub state: [S; N],
}

plain!([S: Plain, const N: usize] Observer<S, N> { state });

impl<S: Scalar, const N: usize> Default for Observer<S, N> {
    fn default() -> Self {
        Self {
            state: [S::ZERO; N],
        }
    }
}

impl<S: Scalar, const N: usize> Observer<S, N> {
    /// Adds the weighted innovations to the states.
    #[inline(always)]
    pub fn correct<const M: usize>(&mut self, gains: &ObserverGains<S, N, M>, innovation: &[S; M]) {
        for (x, row) in self.state.iter_mut().zip(&gains.0) {
            for (&k, &e) in row.iter().zip(innovation) {
                *x = *x + k * e;
            }
        }
    }
}
