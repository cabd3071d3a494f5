//! Adaptive autoregressive forecast by a Burg lattice.
//!
//! A signal that is sampled every `M` steps is modelled as an autoregression
//! of order `P`, `x[n] = a1 x[n-1] + ... + aP x[n-P]`, whose coefficients follow
//! the signal. The lattice form (J. P. Burg, 1967; textbook material) keeps
//! every reflection coefficient within +-1 by construction, so that the model
//! stays stable in coarse arithmetic, where a recursive least-squares fit of
//! the same order does not.
//!
//! One lattice stage is worked a step, so that the cost of a step hardly
//! depends on where in the sampling interval it falls. `M` must exceed `P`.

use crate::Scalar;

/// Constants of a [`Lattice`].
#[derive(Clone, Copy, Debug)]
pub struct LatticeConfig<S> {
    scale: S,
    leak: S,
    prior_first: S,
    prior_rest: S,
    prior_coefficient: S,
}

impl<S: Scalar> LatticeConfig<S> {
    /// Constants from:
    /// * `scale`: factor from the signal to about +-0.5 (keeps the sums of squares in range);
    /// * `window`: effective memory, in samples (> 1);
    /// * `prior`: weight of the prior on the first coefficient, in (signal unit)^2 samples;
    /// * `prior_coefficient`: first coefficient with no experience, in [0, 1];
    /// * `regularisation`: weight that pulls the later stages to zero, in (signal unit)^2 samples.
    #[must_use]
    pub fn new(
        scale: f32,
        window: f32,
        prior: f32,
        prior_coefficient: f32,
        regularisation: f32,
    ) -> Self {
        Self {
            scale: S::from_f32(scale),
            leak: S::from_f32(1.0 - 1.0 / window),
            prior_first: S::from_f32(prior * scale * scale),
            prior_rest: S::from_f32(regularisation * scale * scale),
            prior_coefficient: S::from_f32(prior_coefficient),
        }
    }
}

/// State of the adaptive lattice: order `P`, sampling interval `M` steps,
/// `L = M * P` past values.
#[derive(Clone, Copy, Debug)]
pub struct Lattice<S, const P: usize, const M: usize, const L: usize> {
    past: [S; L],
    newest: usize,
    phase: usize,
    forward: S,
    backward: S,
    delayed: [S; P],
    cross: [S; P],
    power: [S; P],
    building: [S; P],
    coefficients: [S; P],
}

impl<S: Scalar, const P: usize, const M: usize, const L: usize> Default for Lattice<S, P, M, L> {
    fn default() -> Self {
        const { assert!(P >= 1 && M > P && L == M * P) };
        Self {
            past: [S::ZERO; L],
            newest: 0,
            phase: 0,
            forward: S::ZERO,
            backward: S::ZERO,
            delayed: [S::ZERO; P],
            cross: [S::ZERO; P],
            power: [S::ZERO; P],
            building: [S::ZERO; P],
            coefficients: [S::ZERO; P],
        }
    }
}

impl<S: Scalar, const P: usize, const M: usize, const L: usize> Lattice<S, P, M, L> {
    /// Takes the newest value of the signal; called every step.
    pub fn step(&mut self, config: &LatticeConfig<S>, x: S) {
        let scaled = config.scale * x;
        self.newest = if self.newest + 1 >= L {
            0
        } else {
            self.newest + 1
        };
        if let Some(slot) = self.past.get_mut(self.newest) {
            *slot = scaled;
        }
        if self.phase == 0 {
            self.forward = scaled;
            self.backward = scaled;
        }
        if self.phase < P {
            self.work_stage(config, self.phase);
        } else if self.phase == P {
            self.coefficients = self.building;
        }
        self.phase = if self.phase + 1 >= M {
            0
        } else {
            self.phase + 1
        };
    }

    /// The coefficients `a1 ... aP` now in use.
    #[must_use]
    pub const fn coefficients(&self) -> &[S; P] {
        &self.coefficients
    }

    fn work_stage(&mut self, config: &LatticeConfig<S>, m: usize) {
        let (Some(delayed), Some(cross), Some(power)) = (
            self.delayed.get_mut(m),
            self.cross.get_mut(m),
            self.power.get_mut(m),
        ) else {
            return;
        };
        let (f, b) = (self.forward, *delayed);
        *delayed = self.backward;
        let product = f * b;
        *cross = config.leak * *cross + product + product;
        *power = config.leak * *power + f * f + b * b;
        let (extra, toward) = if m == 0 {
            (
                config.prior_first,
                config.prior_first * config.prior_coefficient,
            )
        } else {
            (config.prior_rest, S::ZERO)
        };
        let edge = S::from_q24(16_760_000); // just below one
        let k = (*cross + toward).div(*power + extra).limit(-edge, edge);
        let old = self.building;
        for (i, slot) in self.building.iter_mut().enumerate().take(m) {
            let mirror = old.get(m - 1 - i).copied().unwrap_or(S::ZERO);
            *slot = *slot - k * mirror;
        }
        if let Some(slot) = self.building.get_mut(m) {
            *slot = k;
        }
        self.forward = f - k * b;
        self.backward = b - k * f;
    }

    /// The expected change of the signal's integral over the next `N` intervals
    /// of `per` samples each (trapezoid rule; `interval_s` is the time between
    /// samples times the inverse of the configuration's scale):
    /// `out[j] = integral over (j + 1) * per * M` steps from now.
    pub fn forecast_integral<const N: usize>(&self, per: usize, interval: S) -> [S; N] {
        let mut recent = [S::ZERO; P];
        let mut at = self.newest;
        for slot in &mut recent {
            *slot = self.past.get(at).copied().unwrap_or(S::ZERO);
            at = if at >= M { at - M } else { at + L - M };
        }
        let half = interval * S::from_q24(1 << 23);
        let mut sum = S::ZERO;
        let mut out = [S::ZERO; N];
        for slot in &mut out {
            for _ in 0..per {
                let last = recent.first().copied().unwrap_or(S::ZERO);
                // Oldest first: only the last term waits for the value before.
                let mut next = S::ZERO;
                for (&a, &x) in self.coefficients.iter().zip(&recent).rev() {
                    next = next + a * x;
                }
                recent.copy_within(0..P - 1, 1);
                if let Some(first) = recent.first_mut() {
                    *first = next;
                }
                sum = sum + half * (last + next);
            }
            *slot = sum;
        }
        out
    }
}
