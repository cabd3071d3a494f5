//! Adaptive autoregressive forecast by a Burg lattice.
//!
//! A signal that is sampled every `M` steps is modelled as an autoregression
//! of order `P`, `x[n] = a1 x[n-1] + ... + aP x[n-P]`, whose coefficients follow
//! the signal. The lattice form (J. P. Burg, 1967; textbook material) keeps
//! every reflection coefficient within +-1 by construction, so that the model
//! stays stable in coarse arithmetic, where a recursive least-squares fit of
//! the same order does not.
//!
//! One lattice stage is worked a step; the steps that are left of the sampling interval are free for
//! [`crate::Forecast`]. `M` must exceed `P`.

use crate::delay::push_front;
use crate::{Mirrored, Plain, Scalar, plain};

/// Constants of a [`Lattice`].
#[derive(Clone, Copy, Debug)]
#[repr(C)]
pub struct LatticeConfig<S> {
    scale: S,
    leak: S,
    prior_first: S,
    prior_rest: S,
    prior_coefficient: S,
}

plain!([S: Plain] LatticeConfig<S> {
    scale, leak, prior_first, prior_rest, prior_coefficient
});

impl<S: Scalar> LatticeConfig<S> {
    /// Constants from:
    /// * `scale`: factor from the signal to about +-0.5 (keeps the sums of squares in range);
    /// * `window`: effective memory, in samples (> 1);
    /// * `prior`: weight of the prior on the first coefficient, in (signal unit)^2 samples;
    /// * `prior_coefficient`: first coefficient with no experience, in [0, 1];
    /// * `regularisation`: weight that pulls the later stages to zero, in (signal unit)^2 samples.
    #[must_use]
    #[inline(never)]
    pub fn new(
        scale: f32,
        window: f32,
        prior: f32,
        prior_coefficient: f32,
        regularisation: f32,
    ) -> Self {
        Self {
            scale: S::of_parameter(scale),
            leak: S::of_parameter(1.0 - 1.0 / window),
            prior_first: S::of_parameter(prior * scale * scale),
            prior_rest: S::of_parameter(regularisation * scale * scale),
            prior_coefficient: S::of_parameter(prior_coefficient),
        }
    }
}

/// State of the adaptive lattice: order `P`, sampling interval `M` steps.
#[derive(Clone, Copy, Debug)]
#[repr(C)]
pub struct Lattice<S, const P: usize, const M: usize> {
    recent: [S; P],
    /// Place in the interval. Were it struck, what is learnt would belong to other times.
    phase: Mirrored,
    forward: S,
    backward: S,
    /// The two added up.
    handed: S,
    building: [S; P],
    stages: [Stage<S>; P],
    /// Past values of each phase of the interval, newest first.
    past: [[S; P]; M],
}

plain!([S: Plain, const P: usize, const M: usize] Lattice<S, P, M> {
    recent, phase, forward, backward, handed, building, stages, past
});

/// What one stage has learnt. It fades over seconds, so that a struck word would be felt for as long.
#[derive(Clone, Copy, Debug)]
#[repr(C)]
struct Stage<S> {
    delayed: S,
    cross: S,
    power: S,
    /// The three added up: tells whether one of them was struck.
    sum: S,
}

plain!([S: Plain] Stage<S> { delayed, cross, power, sum });

impl<S: Scalar> Stage<S> {
    const NOTHING: Self = Self {
        delayed: S::ZERO,
        cross: S::ZERO,
        power: S::ZERO,
        sum: S::ZERO,
    };

    #[inline(always)]
    fn new(delayed: S, cross: S, power: S) -> Self {
        Self {
            delayed,
            cross,
            power,
            sum: delayed + cross + power,
        }
    }

    /// Whether all words are as they were left, as also what was handed on is, with this `change`.
    #[inline(always)]
    fn is_sound(&self, change: S) -> bool {
        let change = change.abs() + (self.delayed + self.cross + self.power - self.sum).abs();
        change.is_within(0.0)
    }
}

/// What a step of a [`Lattice`] did.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LatticeWork {
    /// One stage.
    Stage,
    /// One stage, of which a word was not as it had been left: it begins anew.
    Struck,
    /// All stages are done: the coefficients are new.
    Fresh,
    /// Nothing but to store the value.
    Rest,
}

impl<S: Scalar, const P: usize, const M: usize> Default for Lattice<S, P, M> {
    fn default() -> Self {
        const { assert!(P >= 1 && M > P) };
        Self {
            past: [[S::ZERO; P]; M],
            recent: [S::ZERO; P],
            phase: Mirrored::new(0),
            forward: S::ZERO,
            backward: S::ZERO,
            handed: S::ZERO,
            building: [S::ZERO; P],
            stages: [Stage::NOTHING; P],
        }
    }
}

impl<S: Scalar, const P: usize, const M: usize> Lattice<S, P, M> {
    /// Takes the newest value of the signal; called every step.
    #[inline]
    pub fn step(&mut self, config: &LatticeConfig<S>, x: S) -> LatticeWork {
        let scaled = config.scale * x;
        let phase = usize::from(self.phase.value());
        if let Some(same_phase) = self.past.get_mut(phase) {
            // Shifted in registers and stored twice: a copy in memory costs a call.
            let mut newest_first = *same_phase;
            push_front(&mut newest_first, scaled);
            *same_phase = newest_first;
            self.recent = newest_first;
        }
        if phase == 0 {
            self.hand_on(scaled, scaled);
        }
        let work = if phase < P {
            self.work_stage(config, phase)
        } else if phase == P {
            LatticeWork::Fresh
        } else {
            LatticeWork::Rest
        };
        if self.phase.changed() != 0 {
            self.phase = Mirrored::new(0);
            return LatticeWork::Struck;
        }
        let next = if phase >= M - 1 { 0 } else { phase + 1 };
        self.phase = Mirrored::new(next as u16);
        work
    }

    /// The coefficients `a1 ... aP`; whole from [`LatticeWork::Fresh`] until the next stage is worked.
    #[must_use]
    pub const fn coefficients(&self) -> &[S; P] {
        &self.building
    }

    fn work_stage(&mut self, config: &LatticeConfig<S>, m: usize) -> LatticeWork {
        let Some(stage) = self.stages.get_mut(m) else {
            return LatticeWork::Stage;
        };
        let handed = self.forward + self.backward;
        let sound = stage.is_sound(handed - self.handed);
        if !sound {
            *stage = Stage::NOTHING;
        }
        let (f, b) = (self.forward, stage.delayed);
        let product = f * b;
        let cross = config.leak * stage.cross + product + product;
        let power = config.leak * stage.power + f * f + b * b;
        *stage = Stage::new(self.backward, cross, power);
        let (extra, toward) = if m == 0 {
            (
                config.prior_first,
                config.prior_first * config.prior_coefficient,
            )
        } else {
            (config.prior_rest, S::ZERO)
        };
        let edge = S::from_q24(16_760_000); // just below one
        let k = (cross + toward).div(power + extra).limit(-edge, edge);
        // Unrolled for each number of coefficients up to four.
        match m {
            0 => {}
            1 => self.reflect::<1>(k),
            2 => self.reflect::<2>(k),
            3 => self.reflect::<3>(k),
            4 => self.reflect::<4>(k),
            _ => self.reflect_more(k, m),
        }
        if let Some(slot) = self.building.get_mut(m) {
            *slot = k;
        }
        self.hand_on(f - k * b, b - k * f);
        if sound {
            LatticeWork::Stage
        } else {
            LatticeWork::Struck
        }
    }

    #[inline(always)]
    fn hand_on(&mut self, forward: S, backward: S) {
        self.forward = forward;
        self.backward = backward;
        self.handed = forward + backward;
    }

    /// The first `N` coefficients with one more reflection coefficient.
    #[inline(always)]
    fn reflect<const N: usize>(&mut self, k: S) {
        if let Some(first) = self.building.first_chunk_mut::<N>() {
            let old = *first;
            for (slot, mirror) in first.iter_mut().zip(old.iter().rev()) {
                *slot = *slot - k * *mirror;
            }
        }
    }

    /// The same for the first `n`.
    fn reflect_more(&mut self, k: S, n: usize) {
        let old = self.building;
        let mirrored = old.iter().take(n).rev();
        for (slot, mirror) in self.building.iter_mut().zip(mirrored) {
            *slot = *slot - k * *mirror;
        }
    }

    /// The newest value and those one, two ... sampling intervals before it, scaled.
    #[must_use]
    pub const fn recent(&self) -> &[S; P] {
        &self.recent
    }
}
