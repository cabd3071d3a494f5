//! Vertical motion of the floor from its sampled acceleration.
//!
//! The floor is *defined* by its acceleration at the control rate, piecewise linear between
//! samples. Velocity and displacement are the exact integrals of that, from rest at zero.

/// Acceleration, velocity and displacement of the floor at one instant, upward positive.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct FloorState {
    /// Vertical acceleration, m/s2.
    pub accel_mps2: f64,
    /// Vertical velocity, m/s.
    pub velocity_mps: f64,
    /// Vertical displacement, m.
    pub displacement_m: f64,
}

impl FloorState {
    /// The state at `fraction` (0 to 1) of an interval of `interval_s` that starts here and ends
    /// with `accel_end_mps2`, the acceleration running linearly in between.
    #[must_use]
    #[inline]
    pub fn after(&self, accel_end_mps2: f64, interval_s: f64, fraction: f64) -> Self {
        let t = fraction * interval_s;
        let change = (accel_end_mps2 - self.accel_mps2) * fraction;
        Self {
            accel_mps2: self.accel_mps2 + change,
            velocity_mps: self.velocity_mps + t * (self.accel_mps2 + 0.5 * change),
            displacement_m: self.displacement_m
                + t * (self.velocity_mps + t * (0.5 * self.accel_mps2 + change / 6.0)),
        }
    }
}

/// Integrates the samples of a floor, interval by interval.
#[derive(Debug, Clone)]
pub struct FloorMotion {
    interval_s: f64,
    start: FloorState,
    accel_end_mps2: f64,
}

impl FloorMotion {
    /// Starts at rest, at zero displacement, in the interval between the first two samples.
    #[must_use]
    pub fn new(sample_rate_hz: f64, first_accel_mps2: f64, second_accel_mps2: f64) -> Self {
        Self {
            interval_s: 1.0 / sample_rate_hz,
            start: FloorState {
                accel_mps2: first_accel_mps2,
                ..FloorState::default()
            },
            accel_end_mps2: second_accel_mps2,
        }
    }

    /// The state at the sample that starts the present interval.
    #[must_use]
    pub fn start(&self) -> FloorState {
        self.start
    }

    /// The state at `fraction` (0 to 1) within the present interval.
    #[must_use]
    #[inline]
    pub fn at(&self, fraction: f64) -> FloorState {
        self.start
            .after(self.accel_end_mps2, self.interval_s, fraction)
    }

    /// Moves on to the next interval, which ends with `next_accel_mps2`.
    #[inline]
    pub fn advance(&mut self, next_accel_mps2: f64) {
        self.start = self.at(1.0);
        // The sum inside `at` may differ from the sample in its last bit.
        self.start.accel_mps2 = self.accel_end_mps2;
        self.accel_end_mps2 = next_accel_mps2;
    }
}

/// The floor's acceleration at both ends of period `k` of `samples`, one a period from time 0 on, with the bits that
/// [`FloorMotion`] gives a ride.
///
/// # Panics
/// Without a sample after `k`.
pub(crate) fn period_ends(samples: &[f64], k: usize) -> (f64, f64) {
    let (now, next) = (samples[k], samples[k + 1]);
    (now, now + (next - now))
}
