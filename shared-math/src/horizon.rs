//! Least acceleration that keeps a double integrator near a forecast.
//!
//! A point moves freely (`x'' = u`). At the times `tau_j = (j + 1) h`,
//! `j = 0..N`, its distance from a forecast reference should not exceed a
//! limit. Of all accelerations, held over each interval, the one with the
//! least integral of `u^2` (plus a penalty on what of the limit is broken) is
//! the solution of a small convex program. Its dual has one unknown a time;
//! [`Horizon::step`] improves every other one of them by Gauss-Seidel from where the last
//! steps left them and returns the acceleration of the first interval. Two steps are a sweep.

use crate::root::sqrt;
use crate::{Flag, Plain, Scalar, dot_from, plain, rolled};

/// Which half of the times a step works on.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Turn {
    /// The first, third, fifth ...
    #[default]
    Odd,
    /// The second, fourth, sixth ...
    Even,
}

impl Turn {
    /// The half that is the second, or not.
    #[inline(always)]
    #[must_use]
    pub const fn of(even: Flag) -> Self {
        if even.holds() { Self::Even } else { Self::Odd }
    }

    /// The other half.
    #[must_use]
    pub const fn other(self) -> Self {
        match self {
            Self::Odd => Self::Even,
            Self::Even => Self::Odd,
        }
    }
}

/// Constants of a [`Horizon`] with `N` times.
#[derive(Clone, Copy, Debug)]
#[repr(C)]
pub struct HorizonConfig<S, const N: usize> {
    rows: [Row<S, N>; N],
    /// From the scaled duals to the first acceleration, with the sign turned.
    first: [S; N],
}

plain!([S: Plain, const N: usize] HorizonConfig<S, N> { rows, first });

/// What belongs to one time.
#[derive(Clone, Copy, Debug)]
#[repr(C)]
struct Row<S, const N: usize> {
    /// The dual Hessian's row, scaled to a unit diagonal, which is left out, with the sign turned.
    others: [S; N],
    /// From position error to the scaled dual residual, 1/(scaled position).
    weight: S,
    /// Limit on the residual, scaled.
    edge: S,
    /// The time, s.
    tau: S,
}

plain!([S: Plain, const N: usize] Row<S, N> { others, weight, edge, tau });

impl<S: Scalar, const N: usize> HorizonConfig<S, N> {
    /// Constants from the interval `h_s` (s, > 0), the distance limit at no time
    /// `near` and at the last time `far` (m, > 0; between them it runs linearly:
    /// the farther a forecast looks the more room it should leave), and the `softness` of the limit (>= 0): the share of the dual Hessian's
    /// largest diagonal that is added to it.
    #[must_use]
    #[inline(never)]
    pub fn new(h_s: f32, near: f32, far: f32, softness: f32) -> Self {
        let largest = if N == 0 {
            0.0
        } else {
            hessian(h_s, N - 1, N - 1)
        };
        let soft = softness * largest;
        let mut diagonal = [0.0; N];
        for (j, d) in rolled(diagonal.as_mut_slice()).iter_mut().enumerate() {
            *d = 1.0 / sqrt(hessian(h_s, j, j) + soft);
        }
        let mut config = Self {
            rows: [Row {
                others: [S::ZERO; N],
                weight: S::ZERO,
                edge: S::ZERO,
                tau: S::ZERO,
            }; N],
            first: [S::ZERO; N],
        };
        for (j, row) in rolled(config.rows.as_mut_slice()).iter_mut().enumerate() {
            let limit = near + (far - near) * (j as f32 + 1.0) / N as f32;
            row.fill(h_s, j, limit, &diagonal);
        }
        for (j, first) in rolled(config.first.as_mut_slice()).iter_mut().enumerate() {
            let twice = 2.0 * at(&diagonal, j);
            *first = S::of_parameter(-effect(h_s, j, 0) / h_s * twice);
        }
        config
    }

    /// The times of one `turn` of the horizon, s, in order.
    pub fn times(&self, turn: Turn) -> impl Iterator<Item = S> + '_ {
        let skip = match turn {
            Turn::Odd => 0,
            Turn::Even => 1,
        };
        self.rows.iter().skip(skip).step_by(2).map(|row| row.tau)
    }
}

impl<S: Scalar, const N: usize> Row<S, N> {
    /// The row of time `j` with its distance limit.
    #[inline(never)]
    fn fill(&mut self, h_s: f32, j: usize, limit: f32, diagonal: &[f32; N]) {
        let own = at(diagonal, j);
        for (k, other) in rolled(self.others.as_mut_slice()).iter_mut().enumerate() {
            let scaled = if j == k {
                0.0
            } else {
                hessian(h_s, j, k) * own * at(diagonal, k)
            };
            *other = S::of_parameter(-scaled);
        }
        // Residuals and duals at half their size, so that fixed point holds the nearest time's.
        let half = 0.5 * own;
        self.weight = S::of_parameter(half);
        self.edge = S::of_parameter(limit * half);
        self.tau = S::of_parameter(h_s * (j as f32 + 1.0));
    }
}

fn at<const N: usize>(a: &[f32; N], i: usize) -> f32 {
    a.get(i).copied().unwrap_or(0.0)
}

/// Effect on `x(tau_j)` of `u` held over interval `i`: `h (tau_j - t_i - h/2)`.
fn effect(h_s: f32, j: usize, i: usize) -> f32 {
    h_s * h_s * (j.saturating_sub(i) as f32 + 0.5)
}

/// The cost `h u^2` gives the dual Hessian `sum_i G_ji G_ki / h`, over the intervals that both times feel.
#[inline(never)]
fn hessian(h_s: f32, j: usize, k: usize) -> f32 {
    let mut sum = 0.0;
    for i in 0..=j.min(k) {
        sum += effect(h_s, j, i) * effect(h_s, k, i);
    }
    sum / h_s
}

/// The dual unknowns, kept from step to step.
#[derive(Clone, Copy, Debug)]
#[repr(C)]
pub struct Horizon<S, const N: usize> {
    dual: [S; N],
}

plain!([S: Plain, const N: usize] Horizon<S, N> { dual });

impl<S: Scalar, const N: usize> Default for Horizon<S, N> {
    fn default() -> Self {
        Self { dual: [S::ZERO; N] }
    }
}

impl<S: Scalar, const N: usize> Horizon<S, N> {
    /// Half a sweep, on the free motion `error[i]` (m): position less forecast at the times of this `turn`,
    /// in order, if no acceleration acts. Returns the first acceleration, m/s^2.
    #[inline]
    pub fn step<const HALF: usize>(
        &mut self,
        config: &HorizonConfig<S, N>,
        turn: Turn,
        error: &[S; HALF],
    ) -> S {
        const { assert!(N == 2 * HALF) };
        // Each half with its own places in the arrays, known when it is compiled.
        match turn {
            Turn::Odd => self.improve::<HALF, 0>(config, error),
            Turn::Even => self.improve::<HALF, 1>(config, error),
        }
        dot_from(S::ZERO, &config.first, &self.dual)
    }

    #[inline(always)]
    fn improve<const HALF: usize, const FIRST: usize>(
        &mut self,
        config: &HorizonConfig<S, N>,
        error: &[S; HALF],
    ) {
        for (i, &e) in error.iter().enumerate() {
            let j = 2 * i + FIRST;
            if let Some(row) = config.rows.get(j) {
                let rest = dot_from(e * row.weight, &row.others, &self.dual);
                if let Some(dual) = self.dual.get_mut(j) {
                    *dual = rest.dead_zone(row.edge);
                }
            }
        }
    }
}
