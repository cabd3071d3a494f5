//! Closing speed against distance to the stop, both ends folded together.
//!
//! Every sample moves toward one of the two ends; its distance and speed are
//! counted toward that end. Kept are the greatest closing speed at every
//! distance and a thinned cloud of points, both of fixed size.

/// Width of a distance bin as a share of the travel to one side.
const BIN_SHARE: f64 = 1.0 / 90.0;
/// Bins: from a quarter of the travel behind the stop face to the far stop and a quarter beyond.
const BINS: usize = 225;
/// Bins that lie behind the stop face.
const BEHIND: f64 = 22.5;
/// Largest number of points in the cloud.
const CLOUD: usize = 900;

/// Collects one seat's phase plane.
#[derive(Clone, Debug)]
pub(super) struct Phase {
    end_m: f64,
    per_bin: f64,
    fastest: Vec<f64>,
    last_bin: usize,
    last_up: bool,
    cloud: Vec<(f64, f64)>,
    stride: u64,
    countdown: u64,
    chance: u64,
}

impl Phase {
    /// `end_m`: travel from the middle to a stop face, m.
    pub(super) fn new(end_m: f64) -> Self {
        Self {
            end_m,
            per_bin: 1.0 / (end_m * BIN_SHARE),
            fastest: vec![-1.0; BINS],
            last_bin: 0,
            last_up: false,
            cloud: Vec::with_capacity(CLOUD),
            stride: 1,
            countdown: 0,
            chance: 0x9E37_79B9_7F4A_7C15,
        }
    }

    /// Takes travel, m, and travel rate, m/s.
    #[inline]
    pub(super) fn push(&mut self, travel: f64, rate: f64) {
        let speed = rate.abs();
        let up = rate >= 0.0;
        let distance = self.end_m - if up { travel } else { -travel };
        let bin = (distance * self.per_bin + BEHIND).clamp(0.0, (BINS - 1) as f64) as usize;
        // Distances between two samples were met as well. Approaching, the bin falls.
        let from = if up == self.last_up && self.last_bin > bin {
            self.last_bin - 1
        } else {
            bin
        };
        for fastest in &mut self.fastest[bin..=from] {
            *fastest = fastest.max(speed);
        }
        (self.last_bin, self.last_up) = (bin, up);
        if self.countdown == 0 {
            self.keep(distance, speed);
        } else {
            self.countdown -= 1;
        }
    }

    /// One point out of a stride, at a place in it that no steady floor can keep in step with.
    #[cold]
    fn keep(&mut self, distance: f64, speed: f64) {
        self.cloud.push((distance, speed));
        if self.cloud.len() == CLOUD {
            let mut index = 0;
            self.cloud.retain(|_| {
                index += 1;
                index % 2 == 0
            });
            self.stride *= 2;
        }
        // The xorshift generator of Marsaglia (2003).
        self.chance ^= self.chance << 13;
        self.chance ^= self.chance >> 7;
        self.chance ^= self.chance << 17;
        self.countdown = self.stride / 2 + self.chance % self.stride;
    }

    /// Points (distance to the stop face in m, closing speed in m/s).
    pub(super) fn cloud(&self) -> &[(f64, f64)] {
        &self.cloud
    }

    /// The greatest closing speed at every distance that was met.
    pub(super) fn boundary(&self) -> Vec<(f64, f64)> {
        self.fastest
            .iter()
            .enumerate()
            .filter(|(_, speed)| **speed >= 0.0)
            .map(|(bin, &speed)| ((bin as f64 + 0.5 - BEHIND) / self.per_bin, speed))
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_ends_fold_together_and_the_fastest_survives() {
        let mut phase = Phase::new(0.045);
        for i in 0..100_000_i32 {
            let x = f64::from(i) * 0.001;
            phase.push(0.01 * x.sin(), 0.01 * x.cos());
        }
        phase.push(0.03, 0.7); // upward: 15 mm left
        phase.push(-0.02, -0.9); // downward: 25 mm left
        phase.push(-0.02, 0.8); // upward from below: 65 mm left
        let at = |distance: f64| {
            phase
                .boundary()
                .into_iter()
                .find(|p| (p.0 - distance).abs() < 0.000_26)
                .map(|p| p.1)
        };
        assert_eq!(at(0.015), Some(0.7));
        assert_eq!(at(0.025), Some(0.9));
        assert_eq!(at(0.065), Some(0.8));
        assert!(phase.cloud().len() < CLOUD && phase.cloud().len() > CLOUD / 4);
    }
}
