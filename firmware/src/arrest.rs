//! Stage 5: the soft end-of-travel deceleration, a clamp on seat acceleration.
//!
//! Toward either end the seat may close only at a speed from which it can be
//! brought to rest in the distance that is left. With closing speed `v`,
//! distance `d` to the end and braking deceleration `A`, that speed is
//! `V(d) = W(d) - u` with `W(d) = sqrt((vc + u)^2 + 2 A d)`: `vc` is the speed at the end, `u`
//! what the seat may be faster than is foreseen. A seat that is faster by `u` all the way then
//! brakes with `A` all the way; without `u` it would have to brake the harder the nearer the end.
//! The acceleration relative to the floor is kept at or below
//! `g (V - v) - A v / W`: with equality, `v` approaches `V` exponentially at
//! rate `g` and follows it down. Both ends are mirror images.
//!
//! All this is decided for the instant at which the force will act: travel and rate are first
//! carried there with what has been permitted since and is still on its way, and so is the
//! floor's acceleration, along its slope. The decision itself ([`Config::limits`]) has no
//! memory, so that it can be proved for all states at once.
//!
//! What was foreseen is compared with what has come. The sum of the differences, which fades at
//! the rate `g`, is the speed by which the seat may exceed the profile: [`Output::astray`].

use crate::check::{BuildError, hold, range, rules, within};
use crate::estimate;
use crate::parameters::Timing;
use shared_math::{Plain, Scalar, plain};

/// Shape of the deceleration.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
#[repr(C)]
pub struct Parameters {
    /// Travel at which the seat is at rest, either side, m.
    pub rest_m: f32,
    /// Braking deceleration relative to the floor, m/s^2.
    pub braking_mps2: f32,
    /// Rate at which the closing speed approaches the profile, 1/s.
    pub approach_ps: f32,
    /// Speed of the profile at its end, m/s.
    pub touch_mps: f32,
    /// What the seat may be faster than is foreseen, m/s: the profile leaves room for it.
    pub allowance_mps: f32,
    /// Largest acceleration of the clamp, m/s^2, up to 60.
    pub accel_max_mps2: f32,
    /// Floor acceleration up to which the clamp follows the floor, m/s^2. What
    /// exceeds it is short on real ground; following it would be harsher
    /// than the little overspeed that it causes.
    pub floor_accel_max_mps2: f32,
}

plain!([] Parameters {
    rest_m,
    braking_mps2,
    approach_ps,
    touch_mps,
    allowance_mps,
    accel_max_mps2,
    floor_accel_max_mps2
});

/// Permitted accelerations that are kept because they are on their way to the force.
pub const PENDING: usize = 2;

/// Immutable constants.
#[derive(Clone, Copy, Debug)]
#[repr(C)]
pub struct Config<S> {
    rest: S,
    two_braking: S,
    braking: S,
    approach: S,
    /// (vc + u)^2.
    end_squared: S,
    approach_allowance: S,
    accel_max: S,
    floor_max: S,
    step: S,
    /// From now to the instant at which this step's force begins to act, s.
    ahead: S,
    half_ahead: S,
    /// How long each pending acceleration acts until then, newest first, s.
    pending: [S; PENDING],
    /// From now to the middle of the time in which this step's force acts, steps.
    floor_ahead: S,
    /// Share of the differences from what was foreseen that is kept in one step.
    keep: S,
}

plain!([S: Plain] Config<S> {
    rest, two_braking, braking, approach, end_squared, approach_allowance, accel_max, floor_max, step,
    ahead, half_ahead, pending, floor_ahead, keep
});

impl Parameters {
    #[inline(never)]
    pub(crate) fn check(&self, timing: &Timing) -> Result<(), BuildError> {
        hold(
            self,
            rules!["arrest":
                rest_m: range(0.005, 1.0, "0.005 to 1 m"),
                braking_mps2: range(1.0, 50.0, "1 to 50 m/s2"),
            ],
        )?;
        within(
            "arrest.approach_ps",
            self.approach_ps,
            1.0,
            Scalar::min(120.0_f32, 0.2 / timing.step_s),
            "1 to 120 1/s (what fixed point holds) and at most 0.2 / step_s (faster is unstable)",
        )?;
        hold(
            self,
            rules!["arrest":
                touch_mps: range(0.01, 0.5, "0.01 to 0.5 m/s"),
                allowance_mps: range(0.0, 0.5, "0 to 0.5 m/s"),
                accel_max_mps2: range(1.0, 60.0, "1 to 60 m/s2: the seated body's motion must stay within fixed point"),
                floor_accel_max_mps2: range(0.0, 100.0, "0 to 100 m/s2"),
            ],
        )
    }

    /// Checks the parameters and makes the configuration.
    ///
    /// # Errors
    /// Names the first field that cannot be used.
    pub fn build<S: Scalar>(&self, timing: &Timing) -> Result<Config<S>, BuildError> {
        self.check(timing)?;
        Ok(self.config(timing))
    }

    /// The configuration of parameters that have been checked.
    #[inline(never)]
    pub(crate) fn config<S: Scalar>(&self, timing: &Timing) -> Config<S> {
        // The force of a step acts for one period, in the middle of which the latency ends.
        let ahead_s = Scalar::max(timing.latency_s - 0.5 * timing.step_s, 0.0_f32);
        let newest_s = Scalar::min(ahead_s, timing.step_s);
        Config {
            rest: S::of_parameter(self.rest_m),
            two_braking: S::of_parameter(2.0 * self.braking_mps2),
            braking: S::of_parameter(self.braking_mps2),
            approach: S::of_parameter(self.approach_ps),
            end_squared: S::of_parameter(
                (self.touch_mps + self.allowance_mps) * (self.touch_mps + self.allowance_mps),
            ),
            approach_allowance: S::of_parameter(self.approach_ps * self.allowance_mps),
            accel_max: S::of_parameter(self.accel_max_mps2),
            floor_max: S::of_parameter(self.floor_accel_max_mps2),
            step: S::of_parameter(timing.step_s),
            ahead: S::of_parameter(ahead_s),
            half_ahead: S::of_parameter(0.5 * ahead_s),
            // Older ones than are kept count as the oldest kept.
            pending: [
                S::of_parameter(newest_s),
                S::of_parameter(ahead_s - newest_s),
            ],
            floor_ahead: S::of_parameter(timing.latency_s / timing.step_s),
            keep: S::of_parameter(1.0 - self.approach_ps * timing.step_s),
        }
    }
}

/// State of travel and floor when this step's force begins to act.
#[derive(Clone, Copy, Debug)]
pub struct Ahead<S> {
    /// Travel, m.
    pub travel: S,
    /// Travel rate, m/s.
    pub travel_rate: S,
    /// Floor acceleration while the force acts, kept within what the clamp follows, m/s^2.
    pub floor_accel: S,
}

/// What the stage gives.
#[derive(Clone, Copy, Debug)]
pub struct Output<S> {
    /// Permitted seat acceleration, m/s^2.
    pub permitted: S,
    /// Lowest acceleration that would be permitted, m/s^2.
    pub lower: S,
    /// Highest, m/s^2.
    pub upper: S,
    /// What was foreseen.
    pub ahead: Ahead<S>,
    /// Travel rate by which the seat has lately gone astray from what was foreseen, m/s: the
    /// sum of the differences, fading at `approach_ps`.
    pub astray: S,
}

impl<S: Scalar> Output<S> {
    /// Acceleration relative to the floor that is permitted toward the end which the seat is moving to,
    /// m/s^2; negative to brake.
    #[inline(always)]
    #[must_use]
    pub fn closing(&self) -> S {
        let floor = self.ahead.floor_accel;
        let (up, down) = (self.upper - floor, floor - self.lower);
        S::select_ge(self.ahead.travel_rate, S::ZERO, up, down)
    }
}

impl<S: Copy> Output<S> {
    /// The same with every number converted.
    #[must_use]
    pub fn map<T>(&self, f: impl Fn(S) -> T + Copy) -> Output<T> {
        Output {
            permitted: f(self.permitted),
            lower: f(self.lower),
            upper: f(self.upper),
            ahead: Ahead {
                travel: f(self.ahead.travel),
                travel_rate: f(self.ahead.travel_rate),
                floor_accel: f(self.ahead.floor_accel),
            },
            astray: f(self.astray),
        }
    }
}

/// What is kept from step to step.
#[derive(Clone, Copy, Debug)]
#[repr(C)]
pub struct State<S> {
    pending: [S; PENDING],
    floor_accel: S,
    foreseen_rate: S,
    astray: S,
}

plain!([S: Plain] State<S> { pending, floor_accel, foreseen_rate, astray });

impl<S: Scalar> Default for State<S> {
    fn default() -> Self {
        Self {
            pending: [S::ZERO; PENDING],
            floor_accel: S::ZERO,
            foreseen_rate: S::ZERO,
            astray: S::ZERO,
        }
    }
}

impl<S: Scalar> State<S> {
    /// [`Output::astray`] of the last step, m/s.
    #[must_use]
    pub const fn astray(&self) -> S {
        self.astray
    }

    /// Permitted seat acceleration nearest to `wanted`, m/s^2.
    pub fn step(
        &mut self,
        config: &Config<S>,
        motion: &estimate::Output<S>,
        wanted: S,
    ) -> Output<S> {
        let ahead = config.foresee(motion, &self.pending, self.floor_accel);
        let difference = ahead.travel_rate - self.foreseen_rate;
        self.astray = config.keep * self.astray + difference;

        let (lower, upper) = config.limits(&ahead);
        let permitted = wanted.limit(lower, upper);
        self.foreseen_rate = ahead.travel_rate + config.step * (permitted - ahead.floor_accel);
        let [newest, _] = self.pending;
        self.pending = [permitted, newest];
        self.floor_accel = motion.floor_accel;
        Output {
            permitted,
            lower,
            upper,
            ahead,
            astray: self.astray,
        }
    }
}

impl<S: Scalar> Config<S> {
    /// Carries travel, travel rate (m, m/s) and floor acceleration (m/s^2) to the instant at
    /// which this step's force begins to act. `pending`: what was permitted in the last steps,
    /// newest first, m/s^2; `last_floor_accel`: floor acceleration of the last step, m/s^2.
    #[inline(always)]
    #[must_use]
    pub fn foresee(
        &self,
        motion: &estimate::Output<S>,
        pending: &[S; PENDING],
        last_floor_accel: S,
    ) -> Ahead<S> {
        let floor = motion.floor_accel;
        let [newest, older] = *pending;
        let given = self.pending[0] * newest + self.pending[1] * older;
        let travel_rate = motion.travel_rate + (given - self.ahead * floor);
        Ahead {
            travel: motion.travel + self.half_ahead * (motion.travel_rate + travel_rate),
            travel_rate,
            floor_accel: (floor + self.floor_ahead * (floor - last_floor_accel))
                .limit(-self.floor_max, self.floor_max),
        }
    }

    /// Lowest and highest acceleration that may be permitted, m/s^2.
    #[inline(always)]
    #[must_use]
    pub fn limits(&self, ahead: &Ahead<S>) -> (S, S) {
        let most = self.accel_max;
        let up = self.closing_limit(self.rest - ahead.travel, ahead.travel_rate);
        let down = self.closing_limit(self.rest + ahead.travel, -ahead.travel_rate);
        (
            (ahead.floor_accel - down).limit(-most, most),
            (ahead.floor_accel + up).limit(-most, most),
        )
    }

    /// Braking deceleration of the profile relative to the floor, m/s^2.
    #[must_use]
    pub const fn braking(&self) -> S {
        self.braking
    }

    /// Largest acceleration toward an end, relative to the floor, m/s^2, at a `distance` from it (m)
    /// and a closing `speed` (m/s).
    #[inline(always)]
    #[must_use]
    pub fn closing_limit(&self, distance: S, speed: S) -> S {
        let root = (self.end_squared + self.two_braking * distance.max(S::ZERO)).sqrt();
        // A seat that moves away need not be braked, nor may it be driven back the harder for it.
        let closing = speed.max(S::ZERO);
        self.approach * (root - speed)
            - self.approach_allowance
            - (self.braking * closing).div(root)
    }
}
