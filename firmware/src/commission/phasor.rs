//! Lock-in: amplitude and phase of the readings at one frequency, over whole cycles.
//!
//! # The reference is a rough sine
//!
//! [`shared_math::trig::sine`] errs by up to [`shared_math::trig::SINE_ERROR`] (0.2 %). Here that does no
//! harm. The same reference multiplies every reading, so what it does to amplitude and phase
//! cancels in the ratios that are used. And the force is known from the measured current, not from
//! the commanded one: a rough command is a rough but known force. What is left are the reference's own
//! harmonics: they fold harmonics of the readings, some per cent of the fundamental, onto it at one or two
//! parts in a thousand of those.

use core::f32::consts::TAU;
use shared_math::Scalar;
use shared_math::trig::sine;

/// Readings that are locked in to: current, travel, seat and floor acceleration.
pub(super) const CHANNELS: usize = 4;

/// A complex amplitude: `re cos(w t) - im sin(w t)`.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Phasor {
    pub(super) re: f32,
    pub(super) im: f32,
}

impl Phasor {
    /// Amplitude.
    pub(super) fn size(self) -> f32 {
        Scalar::sqrt(self.re * self.re + self.im * self.im)
    }

    /// `self` with the phase taken from `other`, whose size is `size` and not zero.
    pub(super) fn relative_to(self, other: Self, size: f32) -> Self {
        let per = 1.0 / size;
        Self {
            re: (self.re * other.re + self.im * other.im) * per,
            im: (self.im * other.re - self.re * other.im) * per,
        }
    }

    pub(super) fn scaled(self, by: f32) -> Self {
        Self {
            re: self.re * by,
            im: self.im * by,
        }
    }

    /// Ahead in phase by a small angle, rad; `sin(x) = x`, `cos(x) = 1 - x^2 / 2`.
    pub(super) fn turned(self, angle: f32) -> Self {
        let (cos, sin) = (1.0 - 0.5 * angle * angle, angle);
        Self {
            re: self.re * cos - self.im * sin,
            im: self.im * cos + self.re * sin,
        }
    }

    fn add(&mut self, other: Self) {
        self.re += other.re;
        self.im += other.im;
    }
}

/// Place in a cycle of a whole number of steps.
#[derive(Clone, Copy, Debug)]
pub(super) struct Wave {
    steps: u16,
    per_step: f32,
    at: u16,
}

/// Cosine and sine of a wave at one step.
#[derive(Clone, Copy, Debug)]
pub(super) struct Beat {
    pub(super) cos: f32,
    pub(super) sin: f32,
    /// Whether this step ends a cycle.
    pub(super) ends: bool,
}

impl Wave {
    /// A wave at the beginning of its cycle of `steps`, at least one.
    pub(super) fn new(steps: u16) -> Self {
        Self {
            steps,
            per_step: 1.0 / f32::from(steps),
            at: 0,
        }
    }

    /// The beat of this step; goes on to the next.
    pub(super) fn step(&mut self) -> Beat {
        let turn = f32::from(self.at) * self.per_step;
        let quarter = turn + 0.25;
        let later = if quarter >= 1.0 {
            quarter - 1.0
        } else {
            quarter
        };
        // sin(2 pi x) = -sin(2 pi (x - 1/2)), so that the argument stays within half a turn.
        let of = |x: f32| -sine(TAU * (x - 0.5));
        let next = self.at.saturating_add(1);
        let ends = next >= self.steps;
        self.at = if ends { 0 } else { next };
        Beat {
            cos: of(later),
            sin: of(turn),
            ends,
        }
    }
}

/// Sums of one cycle, and of the cycles that count.
///
/// Two levels of sums keep the rounding of single precision small.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Lockin {
    cycle: [Phasor; CHANNELS],
    total: [Phasor; CHANNELS],
    cycles: u16,
}

impl Lockin {
    /// Takes the readings of one step.
    pub(super) fn push(&mut self, beat: Beat, values: &[f32; CHANNELS]) {
        for (sum, &x) in self.cycle.iter_mut().zip(values) {
            sum.re += x * beat.cos;
            sum.im -= x * beat.sin;
        }
    }

    /// Ends a cycle of `steps`: its amplitudes; they are added to the total when it `counts`.
    pub(super) fn end_cycle(&mut self, steps: u16, counts: bool) -> [Phasor; CHANNELS] {
        let per = 2.0 / f32::from(steps);
        let amplitudes = self.cycle.map(|sum| sum.scaled(per));
        if counts {
            for (sum, x) in self.total.iter_mut().zip(amplitudes) {
                sum.add(x);
            }
            self.cycles = self.cycles.saturating_add(1);
        }
        self.cycle = [Phasor::default(); CHANNELS];
        amplitudes
    }

    /// Mean amplitudes of the cycles that counted.
    pub(super) fn mean(&self) -> [Phasor; CHANNELS] {
        let cycles = if self.cycles == 0 { 1 } else { self.cycles };
        let per = 1.0 / f32::from(cycles);
        self.total.map(|sum| sum.scaled(per))
    }
}
