//! Floors of bounded acceleration and jerk.
//!
//! The acceleration is linear between knots that lie 2 D / J apart (D: largest acceleration, J:
//! largest jerk), rounded up to whole control periods: whatever the knots within +-D, the jerk
//! stays within J. Mean and first moment are taken off, so that the floor ends at rest and where it
//! began: nothing below about one over the length of the searched part is left, as on ground that
//! comes back. The rest is made smaller when a knot would pass D.

use crate::floor::recording::Recording;
use crate::floor::{FloorError, FloorSource, RecordingOptions};

/// The bounds of a floor and its length.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bounds {
    /// Largest acceleration, m/s^2.
    pub accel_mps2: f64,
    /// Largest jerk, m/s^3.
    pub jerk_mps3: f64,
    /// Length of the searched part, s.
    pub searched_s: f64,
    /// Start before it, the same for all floors, s.
    pub start_s: f64,
}

/// Knots stay within this share of the largest acceleration, so that neither they nor the jerk between
/// them pass a bound by rounding.
const WITHIN: f64 = 1.0 - 1.0e-6;

/// After the searched part the floor stands still, so that what it threw comes down, s.
pub const AFTER_S: f64 = 0.5;

/// Acceleration of the start: two sines, invented, enough to break the seat away so that the mass is found, m/s^2 and Hz.
const SHAKE: [(f64, f64); 2] = [(1.1, 1.7), (0.9, 2.9)];
/// The shake fades in and out over this, s.
const FADE_S: f64 = 1.0;

/// Even knots of a floor's acceleration, from time 0.
#[derive(Clone, Debug, PartialEq)]
pub struct Knots {
    /// Distance, control periods.
    pub periods: usize,
    /// Distance, s.
    pub spacing_s: f64,
    /// Acceleration, m/s^2.
    pub accel_mps2: Vec<f64>,
    /// Where the searched part begins.
    pub searched_from: usize,
}

/// A trapezoid wave of the largest acceleration, its slopes at the largest jerk.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Wave {
    /// Half a period, knots.
    pub half: usize,
    /// Half periods.
    pub halves: usize,
    /// It begins in the middle of a half period, and so ends in one: a floor that comes back to where it was.
    pub quarter: bool,
    /// It begins downward.
    pub falls: bool,
}

impl Wave {
    /// Its knots.
    #[must_use]
    pub const fn knots(&self) -> usize {
        self.half * self.halves
    }

    /// Its sign at each knot.
    fn signs(&self) -> impl Iterator<Item = f64> {
        let Self {
            half,
            quarter,
            falls,
            ..
        } = *self;
        (0..self.knots()).map(move |n| {
            let place = if quarter { n + half / 2 } else { n };
            if (place / half % 2 == 1) == falls {
                1.0
            } else {
                -1.0
            }
        })
    }
}

impl Bounds {
    /// Control periods between knots.
    #[must_use]
    pub fn periods(&self, step_s: f64) -> usize {
        ((2.0 * self.accel_mps2 / self.jerk_mps3 / step_s) - 1e-9)
            .ceil()
            .max(1.0) as usize
    }

    /// Knots that are searched: those between the two ends of the searched part, which are zero.
    #[must_use]
    pub fn genes(&self, step_s: f64) -> usize {
        let spacing = self.periods(step_s) as f64 * step_s;
        ((self.searched_s / spacing).round() as usize).max(4) - 1
    }

    /// The floor of a genome, in parts of D. With `shaken` the start is no standstill.
    #[must_use]
    pub fn knots(&self, genome: &[f64], shaken: bool, step_s: f64) -> Knots {
        self.after_start(&self.at_rest(genome)[1..], shaken, step_s)
    }

    /// The floor of a wave. Without `quarter` it ends elsewhere than it began.
    #[must_use]
    pub fn wave(&self, wave: &Wave, shaken: bool, step_s: f64) -> Knots {
        let most = WITHIN * self.accel_mps2;
        let mut searched: Vec<f64> = wave.signs().map(|sign| sign * most).collect();
        searched.push(0.0);
        self.after_start(&searched, shaken, step_s)
    }

    /// A start, the searched knots and the standstill after them.
    fn after_start(&self, searched: &[f64], shaken: bool, step_s: f64) -> Knots {
        let periods = self.periods(step_s);
        let spacing_s = periods as f64 * step_s;
        let before = (self.start_s / spacing_s).ceil() as usize;
        let after = (AFTER_S / spacing_s).ceil() as usize;
        let mut accel_mps2: Vec<f64> = vec![0.0; before + 1];
        if shaken {
            let start: Vec<f64> = (0..=before)
                .map(|n| shake(n as f64 * spacing_s, self.start_s) / self.accel_mps2)
                .collect();
            accel_mps2 = self.at_rest(&start[1..before]);
        }
        accel_mps2.extend(searched);
        accel_mps2.resize(accel_mps2.len() + after, 0.0);
        // As many digits as the file holds, so that the file is this very floor.
        for accel in &mut accel_mps2 {
            *accel = (*accel * 1e6).round() / 1e6;
        }
        Knots {
            periods,
            spacing_s,
            accel_mps2,
            searched_from: before,
        }
    }

    /// A zero knot, the genome's knots without mean and first moment, within D; and a zero knot.
    fn at_rest(&self, genome: &[f64]) -> Vec<f64> {
        let count = genome.len() as f64;
        let bounded: Vec<f64> = genome.iter().map(|x| x / x.abs().max(1.0)).collect();
        let middle = 0.5 * (count - 1.0);
        let mean = bounded.iter().sum::<f64>() / count;
        let arm = |n: usize| n as f64 - middle;
        let moment: f64 = bounded.iter().enumerate().map(|(n, a)| arm(n) * a).sum();
        let inertia: f64 = (0..genome.len()).map(|n| arm(n) * arm(n)).sum();
        let slope = moment / inertia.max(1.0);
        let rest: Vec<f64> = bounded
            .iter()
            .enumerate()
            .map(|(n, a)| a - mean - slope * arm(n))
            .collect();
        let most = rest.iter().fold(1.0_f64, |most, a| most.max(a.abs()));
        let scale = WITHIN * self.accel_mps2 / most;
        let inner = rest.into_iter().map(|a| a * scale);
        core::iter::once(0.0).chain(inner).chain([0.0]).collect()
    }
}

fn shake(time: f64, length: f64) -> f64 {
    let fade = (time / FADE_S)
        .min((length - time) / FADE_S)
        .clamp(0.0, 1.0);
    let sum: f64 = SHAKE
        .iter()
        .map(|(accel, hz)| accel * (core::f64::consts::TAU * hz * time).sin())
        .sum();
    fade * sum
}

impl Knots {
    /// How a ride reads the recording: as it is.
    #[must_use]
    pub fn reading() -> RecordingOptions {
        RecordingOptions {
            fade_s: 0.0,
            high_pass_hz: 0.0,
            keep_mean: true,
            ..RecordingOptions::default()
        }
    }

    /// The samples of every control period and one more, bit for bit as a ride reads them from the file.
    ///
    /// # Errors
    /// When the control rate is not one that a recording can be put on.
    pub fn samples(&self, step_s: f64) -> Result<Vec<f64>, FloorError> {
        let rounded = |n: usize| {
            format!("{:.6}", n as f64 * self.spacing_s)
                .parse()
                .unwrap_or(0.0)
        };
        let stamps: Vec<f64> = (0..self.accel_mps2.len()).map(rounded).collect();
        let accel = self.accel_mps2.clone();
        let mut source = Recording::of(
            &stamps,
            accel,
            &Self::reading(),
            1.0,
            1.0 / step_s,
            "a floor",
        )?;
        Ok((0..=self.length()).map(|_| source.next_accel()).collect())
    }

    /// Control periods from the first knot to the last.
    #[must_use]
    pub fn length(&self) -> usize {
        (self.accel_mps2.len() - 1) * self.periods
    }

    /// The recording: time and acceleration at the knots.
    #[must_use]
    pub fn csv(&self, remark: &str) -> String {
        let mut text = format!("# {remark}\ntime_s,accel_mps2\n");
        for (n, accel) in self.accel_mps2.iter().enumerate() {
            text += &format!("{:.6},{accel:.6}\n", n as f64 * self.spacing_s);
        }
        text
    }
}
