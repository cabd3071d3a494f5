//! What the commissioning test does and by what it judges.

use crate::check::{BuildError, POSITIVE, Range, hold, range, require, rules};
use crate::parameters::Timing;
use shared_math::plain;

/// Test motion, bounds and tolerances.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
#[repr(C)]
pub struct Parameters {
    /// Length of the rest check, s, 1 to 10.
    pub rest_s: f32,
    /// Lower test frequency, Hz, 1 to 20.
    pub low_hz: f32,
    /// Travel amplitude at the lower frequency, m.
    pub low_travel_m: f32,
    /// Upper test frequency, Hz, at least 1.2 times the lower, at most 20.
    pub high_hz: f32,
    /// Smaller travel amplitude at the upper frequency, m.
    pub small_travel_m: f32,
    /// Larger travel amplitude at the upper frequency, m.
    pub large_travel_m: f32,
    /// Frequency of the slow motion that weighs the current against the spring, Hz, 0.1 to 2.
    pub slow_hz: f32,
    /// Its travel amplitude, m.
    pub slow_travel_m: f32,
    /// How much later the current reading is than the force it stands for, beyond the lag of the travel reading,
    /// s, 0 to 0.005. Friction depends on it: a tenth of a millisecond is two to three per cent of the viscous part of the default
    /// rig. A first-order current loop of time constant `tau`, sampled at the end of every hold of `T`, is late by
    /// `T / (1 - exp(-T / tau)) - T / 2 - tau`.
    pub current_lag_s: f32,
    /// Largest force that is commanded, by the told force constant, N.
    pub force_max_n: f32,
    /// Travel beyond which the test is given up, m.
    pub travel_max_m: f32,
    /// Farthest from mid travel that the seat may rest at the start, m.
    pub rest_travel_max_m: f32,
    /// Largest floor acceleration of a machine that stands still, m/s^2: r.m.s. of the rest check, and of a tenth
    /// of a second while the seat moves.
    pub floor_rms_max_mps2: f32,
    /// Least correlation of the accelerometers at rest that tells the floor's polarity, 0.1 to 0.9.
    pub correlation_min: f32,
    /// Largest bias of an accelerometer, m/s^2.
    pub accel_bias_max_mps2: f32,
    /// Largest bias of the current sensor, A.
    pub current_bias_max_a: f32,
    /// Tolerance of the force constant, share of the told one.
    pub force_tolerance: f32,
    /// Tolerance of the moving mass, share of the told one.
    pub mass_tolerance: f32,
    /// Tolerance of the viscous friction, share of the told one.
    pub viscous_tolerance: f32,
    /// Tolerance of the dry friction, share of the told one.
    pub coulomb_tolerance: f32,
    /// Tolerance of sensor against sensor, share.
    pub gain_tolerance: f32,
    /// Largest residual of the fit, share of the force.
    pub residual_max: f32,
}

plain!([] Parameters {
    rest_s,
    low_hz,
    low_travel_m,
    high_hz,
    small_travel_m,
    large_travel_m,
    slow_hz,
    slow_travel_m,
    current_lag_s,
    force_max_n,
    travel_max_m,
    rest_travel_max_m,
    floor_rms_max_mps2,
    correlation_min,
    accel_bias_max_mps2,
    current_bias_max_a,
    force_tolerance,
    mass_tolerance,
    viscous_tolerance,
    coulomb_tolerance,
    gain_tolerance,
    residual_max
});

/// The test motion in steps, and the rest as told.
#[derive(Clone, Copy, Debug)]
pub struct Config {
    pub(super) rest_steps: u16,
    pub(super) low_steps: u16,
    pub(super) high_steps: u16,
    pub(super) slow_steps: u16,
    pub(super) told: Parameters,
}

impl Parameters {
    /// Checks the parameters and makes the configuration.
    ///
    /// # Errors
    /// Names the first field that cannot be used.
    pub fn build(&self, timing: &Timing) -> Result<Config, BuildError> {
        timing.check()?;
        hold(
            self,
            rules!["commission":
                rest_s: range(1.0, 10.0, "1 to 10 s"),
                low_hz: range(1.0, 20.0, "1 to 20 Hz"),
                high_hz: range(1.0, 20.0, "1 to 20 Hz"),
            ],
        )?;
        require(
            self.high_hz >= 1.2 * self.low_hz,
            "commission.high_hz",
            self.high_hz,
            "at least 1.2 times commission.low_hz",
        )?;
        require(
            self.high_hz * timing.step_s <= 0.04,
            "commission.high_hz",
            self.high_hz,
            "a cycle of at least 25 control periods",
        )?;
        hold(
            self,
            rules!["commission":
                slow_hz: range(0.1, 2.0, "0.1 to 2 Hz"),
            ],
        )?;
        require(
            4.0 * self.slow_hz <= self.high_hz,
            "commission.slow_hz",
            self.slow_hz,
            "at most a quarter of commission.high_hz",
        )?;
        self.check_bounds()?;
        self.check_tolerances()?;
        let steps = |hz: f32| libm::roundf(1.0 / (hz * timing.step_s)) as u16;
        let high_steps = steps(self.high_hz);
        // Whole cycles of both, or the fast motion would leak into the slow one.
        let in_slow = libm::roundf(self.high_hz / self.slow_hz) as u16;
        Ok(Config {
            rest_steps: libm::roundf(self.rest_s / timing.step_s) as u16,
            low_steps: steps(self.low_hz),
            high_steps,
            slow_steps: high_steps.saturating_mul(in_slow),
            told: *self,
        })
    }

    fn check_bounds(&self) -> Result<(), BuildError> {
        hold(
            self,
            rules!["commission":
                low_travel_m: POSITIVE,
                small_travel_m: POSITIVE,
                large_travel_m: POSITIVE,
            ],
        )?;
        require(
            self.large_travel_m >= 1.2 * self.small_travel_m,
            "commission.large_travel_m",
            self.large_travel_m,
            "at least 1.2 times commission.small_travel_m",
        )?;
        hold(
            self,
            rules!["commission":
                slow_travel_m: POSITIVE,
                current_lag_s: range(0.0, 0.005, "0 to 0.005 s"),
                force_max_n: POSITIVE,
                travel_max_m: POSITIVE,
                rest_travel_max_m: POSITIVE,
            ],
        )?;
        let both = self.small_travel_m + self.slow_travel_m;
        let tones = [self.low_travel_m, self.large_travel_m, both];
        require(
            tones
                .iter()
                .all(|m| m + self.rest_travel_max_m < self.travel_max_m),
            "commission.travel_max_m",
            self.travel_max_m,
            "above commission.rest_travel_max_m and every test motion together",
        )?;
        hold(
            self,
            rules!["commission":
                travel_max_m: range(0.0, 1.0, "at most 1 m"),
                force_max_n: range(1.0, 1.0e5, "1 to 100000 N"),
            ],
        )
    }

    fn check_tolerances(&self) -> Result<(), BuildError> {
        const SHARE: Range = range(0.0, 0.9, "above zero, at most 0.9");
        hold(
            self,
            rules!["commission":
                floor_rms_max_mps2: POSITIVE,
                floor_rms_max_mps2: range(0.0, 2.0, "above zero, at most 2 m/s^2"),
                correlation_min: range(0.1, 0.9, "0.1 to 0.9"),
                accel_bias_max_mps2: POSITIVE,
                current_bias_max_a: POSITIVE,
                force_tolerance: POSITIVE,
                force_tolerance: SHARE,
                mass_tolerance: POSITIVE,
                mass_tolerance: SHARE,
                viscous_tolerance: POSITIVE,
                viscous_tolerance: SHARE,
                coulomb_tolerance: POSITIVE,
                coulomb_tolerance: SHARE,
                gain_tolerance: POSITIVE,
                gain_tolerance: SHARE,
                residual_max: POSITIVE,
                residual_max: SHARE,
            ],
        )
    }
}
