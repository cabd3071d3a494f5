//! What a pass over a long record works with: the floor's samples ahead, the grid of knots, the seat joined from windows.

use crate::exposure::ExposureMeter;
use crate::floor::{FloorSource, FloorState};
use std::collections::VecDeque;

/// A floor's samples from a place on.
pub(super) struct Stream {
    source: Box<dyn FloorSource>,
    samples: VecDeque<f64>,
}

impl Stream {
    pub(super) fn new(source: Box<dyn FloorSource>) -> Self {
        Self {
            source,
            samples: VecDeque::new(),
        }
    }

    /// The next `count` samples.
    pub(super) fn ahead(&mut self, count: usize) -> &[f64] {
        while self.samples.len() < count {
            self.samples.push_back(self.source.next_accel());
        }
        &self.samples.make_contiguous()[..count]
    }

    pub(super) fn drop(&mut self, count: usize) {
        self.samples.drain(..count);
    }
}

/// Knots and travel checks on the grid of the samples.
pub(super) struct Grid {
    pub(super) sample_s: f64,
    pub(super) knot_samples: usize,
    pub(super) checks: usize,
}

impl Grid {
    /// Acceleration of the seat against the floor that is reckoned with between checks, m/s^2.
    const RELATIVE_MPS2: f64 = 20.0;
    /// How far the travel may then be over between checks, share of the limit.
    const OVER: f64 = 0.002;
    /// Least and greatest time between checks, s.
    const CHECK_S: (f64, f64) = (0.001, 0.005);

    pub(super) fn new(rate_hz: f64, knot_s: f64, travel_m: f64) -> Self {
        let knot_samples = ((knot_s * rate_hz).round() as usize).max(1);
        // A parabola between two checks rises by a d^2 / 8.
        let check_s = (8.0 * Self::OVER * travel_m / Self::RELATIVE_MPS2).sqrt();
        let check_s = check_s.clamp(Self::CHECK_S.0, Self::CHECK_S.1);
        let wanted = ((knot_s / check_s - 1.0e-9).ceil() as usize).max(1);
        // The smallest number of checks that divides the samples and is no coarser.
        let checks = (wanted..=knot_samples)
            .find(|c| knot_samples.is_multiple_of(*c))
            .unwrap_or(knot_samples);
        Self {
            sample_s: 1.0 / rate_hz,
            knot_samples,
            checks,
        }
    }

    /// Whole knots that cover a time, in samples.
    pub(super) fn samples(&self, seconds: f64) -> usize {
        let knot_s = self.sample_s * self.knot_samples as f64;
        (seconds / knot_s).ceil() as usize * self.knot_samples
    }

    /// Samples that a window over `count` samples needs: to the knot at or after the last of them.
    pub(super) fn padded(&self, count: usize) -> usize {
        count.saturating_sub(1).div_ceil(self.knot_samples).max(1) * self.knot_samples + 1
    }
}

/// Largest distance of the floor from where it stood with `state`, m, over `samples` samples.
pub(super) fn excursion(mut state: FloorState, floor: &[f64], sample_s: f64) -> f64 {
    let mut largest = state.displacement_m.abs();
    for &accel in &floor[1..] {
        state = state.after(accel, sample_s, 1.0);
        largest = largest.max(state.displacement_m.abs());
    }
    largest
}

/// Joins the kept parts of windows and reads their figures.
pub(super) struct Seat {
    pub(super) floor_meter: ExposureMeter,
    pub(super) seat_meter: ExposureMeter,
    pub(super) sample_s: f64,
    pub(super) travel_m: f64,
    pub(super) rate_mps: f64,
    pub(super) travel_peak_m: f64,
    pub(super) weighted_squares: f64,
}

impl Seat {
    /// Takes `count` samples of a motion; the acceleration runs linearly between its knots.
    pub(super) fn push(&mut self, grid: &Grid, knots: &[f64], floor: &[f64], count: usize) {
        let m = grid.knot_samples;
        let at = |k: usize| {
            let (i, share) = (k / m, (k % m) as f64 / m as f64);
            let end = knots.get(i + 1).copied().unwrap_or(knots[i]);
            knots[i] + share * (end - knots[i])
        };
        let h = self.sample_s;
        for k in 0..count {
            self.floor_meter.push(floor[k]);
            self.seat_meter.push(at(k));
            self.travel_peak_m = self.travel_peak_m.max(self.travel_m.abs());
            let (start, end) = (at(k) - floor[k], at(k + 1) - floor[k + 1]);
            self.travel_m += h * self.rate_mps + h * h * (start / 3.0 + end / 6.0);
            self.rate_mps += 0.5 * h * (start + end);
        }
    }
}
