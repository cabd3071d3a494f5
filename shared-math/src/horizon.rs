//! Least acceleration that keeps a double integrator near a forecast.
//!
//! A point moves freely (`x'' = u`). At the times `tau_j = (j + 1) h`,
//! `j = 0..N`, its distance from a forecast reference should not exceed a
//! limit. Of all accelerations, held over each interval, the one with the
//! least integral of `u^2` (plus a penalty on what of the limit is broken) is
//! the solution of a small convex program. Its dual has one unknown a time;
//! [`Horizon::step`] improves them by Gauss-Seidel sweeps from where the last
//! step left them and returns the acceleration of the first interval.

use crate::{Scalar, dot};

/// Constants of a [`Horizon`] with `N` times.
#[derive(Clone, Copy, Debug)]
pub struct HorizonConfig<S, const N: usize> {
    /// Dual Hessian, scaled to a unit diagonal.
    hessian: [[S; N]; N],
    /// From position error to the scaled dual residual, 1/(scaled position).
    weight: [S; N],
    /// Limit on each residual, scaled.
    edge: [S; N],
    /// From the scaled duals to the first acceleration.
    first: [S; N],
    /// The times, s.
    tau: [S; N],
}

impl<S: Scalar, const N: usize> HorizonConfig<S, N> {
    /// Constants from the interval `h_s` (s, > 0), the distance limit at no time
    /// `near` and at the last time `far` (m, > 0; between them it runs linearly:
    /// the farther a forecast looks the more room it should leave), and the `softness` of the limit (>= 0): the share of the dual Hessian's
    /// largest diagonal that is added to it.
    #[must_use]
    pub fn new(h_s: f32, near: f32, far: f32, softness: f32) -> Self {
        // Effect on x(tau_j) of u held over interval i is h (tau_j - t_i - h/2);
        // the cost h u^2 gives the dual Hessian sum_i G_ji G_ki / h.
        let effect = |j: usize, i: usize| {
            if i <= j {
                h_s * h_s * ((j - i) as f32 + 0.5)
            } else {
                0.0
            }
        };
        let raw = |j: usize, k: usize| -> f32 {
            (0..N).map(|i| effect(j, i) * effect(k, i)).sum::<f32>() / h_s
        };
        let soft = softness * if N == 0 { 0.0 } else { raw(N - 1, N - 1) };
        let limit = |j: usize| near + (far - near) * (j as f32 + 1.0) / N as f32;
        let diagonal: [f32; N] = core::array::from_fn(|j| 1.0 / libm::sqrtf(raw(j, j) + soft));
        // Residuals and duals at half their size, so that fixed point holds the nearest time's.
        let half: [f32; N] = diagonal.map(|d| 0.5 * d);
        let twice: [f32; N] = diagonal.map(|d| 2.0 * d);
        Self {
            hessian: core::array::from_fn(|j| {
                core::array::from_fn(|k| {
                    let scaled = if j == k {
                        0.0
                    } else {
                        raw(j, k) * at(&diagonal, j) * at(&diagonal, k)
                    };
                    S::from_f32(scaled)
                })
            }),
            weight: half.map(S::from_f32),
            edge: core::array::from_fn(|j| S::from_f32(limit(j) * at(&half, j))),
            first: core::array::from_fn(|j| S::from_f32(effect(j, 0) / h_s * at(&twice, j))),
            tau: core::array::from_fn(|j| S::from_f32(h_s * (j as f32 + 1.0))),
        }
    }

    /// The times of the horizon, s.
    #[must_use]
    pub const fn tau(&self) -> &[S; N] {
        &self.tau
    }
}

fn at<const N: usize>(a: &[f32; N], i: usize) -> f32 {
    a.get(i).copied().unwrap_or(0.0)
}

/// The dual unknowns, kept from step to step.
#[derive(Clone, Copy, Debug)]
pub struct Horizon<S, const N: usize> {
    dual: [S; N],
}

impl<S: Scalar, const N: usize> Default for Horizon<S, N> {
    fn default() -> Self {
        Self { dual: [S::ZERO; N] }
    }
}

impl<S: Scalar, const N: usize> Horizon<S, N> {
    /// `sweeps` sweeps on the free motion `error[j]` (m): position less forecast at
    /// `tau_j` if no acceleration acts. Returns the first acceleration, m/s^2.
    #[inline]
    pub fn step(&mut self, config: &HorizonConfig<S, N>, error: &[S; N], sweeps: usize) -> S {
        let mut residual = [S::ZERO; N];
        for ((r, &e), &w) in residual.iter_mut().zip(error).zip(&config.weight) {
            *r = e * w;
        }
        for _ in 0..sweeps {
            for j in 0..N {
                let (Some(row), Some(&edge), Some(&r)) =
                    (config.hessian.get(j), config.edge.get(j), residual.get(j))
                else {
                    continue;
                };
                let t = r - dot(row, &self.dual);
                if let Some(y) = self.dual.get_mut(j) {
                    *y = t.dead_zone(edge);
                }
            }
        }
        -dot(&config.first, &self.dual)
    }
}
