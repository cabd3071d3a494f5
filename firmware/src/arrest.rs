//! Stage 5: the soft end-of-travel deceleration, a clamp on seat acceleration.
//!
//! Toward either end the seat may close only at a speed from which it can be
//! brought to rest in the distance that is left. With closing speed `v`,
//! distance `d` to the end and braking deceleration `A`, that speed is
//! `V(d) = sqrt(vc^2 + 2 A d)`, `vc` being the speed at which a stop may be
//! touched. The acceleration relative to the floor is then kept at or below
//! `g (V - v) - A v / V`: with equality, `v` approaches `V` exponentially at
//! rate `g` and follows it down. Both ends are mirror images.
//!
//! The state is first carried to the instant at which the force will act, and
//! the limits move no faster than a stated jerk.

use crate::check::{BuildError, positive, within};
use crate::estimate;
use crate::parameters::Timing;
use shared_math::{Delay, Scalar};

/// Shape of the deceleration.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
pub struct Parameters {
    /// Travel at which the seat is at rest, either side, m.
    pub rest_m: f32,
    /// Braking deceleration relative to the floor, m/s^2.
    pub braking_mps2: f32,
    /// Rate at which the closing speed approaches the profile, 1/s.
    pub approach_ps: f32,
    /// Speed at which a stop may be touched, m/s.
    pub touch_mps: f32,
    /// Largest change of the limits, m/s^3.
    pub jerk_mps3: f32,
    /// Largest acceleration of the clamp, m/s^2, up to 60.
    pub accel_max_mps2: f32,
    /// Floor acceleration up to which the clamp follows the floor, m/s^2. What
    /// exceeds it is short on real ground; following it would be harsher
    /// than the little overspeed that it causes.
    pub floor_accel_max_mps2: f32,
}

/// Steps of the seat's own acceleration that are on their way to the force.
const PENDING: usize = 2;

/// Immutable constants.
#[derive(Clone, Copy, Debug)]
pub struct Config<S> {
    rest: S,
    two_braking: S,
    braking: S,
    approach: S,
    touch_squared: S,
    jerk_step: S,
    accel_max: S,
    floor_max: S,
    latency: S,
    half_latency_squared: S,
}

impl Parameters {
    /// Checks the parameters and makes the configuration.
    ///
    /// # Errors
    /// Names the first field that cannot be used.
    pub fn build<S: Scalar>(&self, timing: &Timing) -> Result<Config<S>, BuildError> {
        within("arrest.rest_m", self.rest_m, 0.005, 1.0, "0.005 to 1 m")?;
        within(
            "arrest.braking_mps2",
            self.braking_mps2,
            1.0,
            50.0,
            "1 to 50 m/s2",
        )?;
        within(
            "arrest.approach_ps",
            self.approach_ps,
            1.0,
            Scalar::min(120.0_f32, 0.2 / timing.step_s),
            "1 to 120 1/s (what fixed point holds) and at most 0.2 / step_s (faster is unstable)",
        )?;
        within(
            "arrest.touch_mps",
            self.touch_mps,
            0.01,
            0.5,
            "0.01 to 0.5 m/s",
        )?;
        positive("arrest.jerk_mps3", self.jerk_mps3)?;
        within(
            "arrest.accel_max_mps2",
            self.accel_max_mps2,
            1.0,
            60.0,
            "1 to 60 m/s2: the seated body's motion must stay within fixed point",
        )?;
        within(
            "arrest.floor_accel_max_mps2",
            self.floor_accel_max_mps2,
            0.0,
            100.0,
            "0 to 100 m/s2",
        )?;
        Ok(Config {
            rest: S::from_f32(self.rest_m),
            two_braking: S::from_f32(2.0 * self.braking_mps2),
            braking: S::from_f32(self.braking_mps2),
            approach: S::from_f32(self.approach_ps),
            touch_squared: S::from_f32(self.touch_mps * self.touch_mps),
            jerk_step: S::from_f32(self.jerk_mps3 * timing.step_s),
            accel_max: S::from_f32(self.accel_max_mps2),
            floor_max: S::from_f32(self.floor_accel_max_mps2),
            latency: S::from_f32(timing.latency_s),
            half_latency_squared: S::from_f32(0.5 * timing.latency_s * timing.latency_s),
        })
    }
}

/// What is kept from step to step.
#[derive(Clone, Copy, Debug)]
pub struct State<S> {
    pending: Delay<S, PENDING>,
    upper: S,
    lower: S,
}

impl<S: Scalar> State<S> {
    /// At rest, with both limits wide open.
    #[must_use]
    pub fn new(config: &Config<S>) -> Self {
        Self {
            pending: Delay::default(),
            upper: config.accel_max,
            lower: -config.accel_max,
        }
    }

    /// Permitted seat acceleration, m/s^2, nearest to `wanted`.
    pub fn step(&mut self, config: &Config<S>, motion: &estimate::Output<S>, wanted: S) -> S {
        let half = S::from_q24(1 << 23);
        let relative = self.pending.sum() * half - motion.floor_accel;
        let rate = motion.travel_rate + relative * config.latency;
        let travel = motion.travel
            + motion.travel_rate * config.latency
            + relative * config.half_latency_squared;
        let floor = motion
            .floor_accel
            .limit(-config.floor_max, config.floor_max);
        let upper = floor + config.closing_limit(config.rest - travel, rate);
        let lower = floor - config.closing_limit(config.rest + travel, -rate);
        self.upper = config.approach_limit(self.upper, upper);
        self.lower = config.approach_limit(self.lower, lower);
        let permitted = wanted.limit(self.lower, self.upper);
        let _ = self.pending.step(permitted);
        permitted
    }

    /// The limits now in force, lower and upper, m/s^2.
    #[must_use]
    pub const fn limits(&self) -> (S, S) {
        (self.lower, self.upper)
    }
}

impl<S: Scalar> Config<S> {
    /// Largest acceleration toward an end, relative to the floor, m/s^2.
    #[inline(always)]
    fn closing_limit(&self, distance: S, speed: S) -> S {
        let profile = (self.touch_squared + self.two_braking * distance.max(S::ZERO)).sqrt();
        self.approach * (profile - speed) - (self.braking * speed).div(profile)
    }

    #[inline(always)]
    fn approach_limit(&self, last: S, next: S) -> S {
        (last + (next - last).limit(-self.jerk_step, self.jerk_step))
            .limit(-self.accel_max, self.accel_max)
    }
}
