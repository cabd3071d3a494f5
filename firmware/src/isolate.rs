//! Stage 4: the seat acceleration that isolates best within the travel.
//!
//! Two parts add up. A soft part calms the seat's own motion: a damper on the seat's
//! absolute velocity, a weak centring spring on travel and a slower integral
//! of it. The other part looks ahead: given the forecast of the floor, which
//! least acceleration keeps the seat within the usable travel over the next
//! half second? On a gentle floor the answer is none. The rougher the floor, the more
//! of it is followed: nothing is tuned to a floor or an occupant.
//!
//! After an occupant has sat down the seat rises to mid travel under a small acceleration
//! limit; `authority` then leads over to isolation.

use crate::check::{BuildError, POSITIVE, hold, range, rules, within};
use crate::estimate::{self, SAMPLE_STEPS, SAMPLES_PER_TIME, TIMES};
use crate::parameters::Timing;
use shared_math::{Horizon, HorizonConfig, Plain, Scalar, Turn, plain};

/// Gains of the isolation.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
#[repr(C)]
pub struct Parameters {
    /// Natural frequency of the soft part, Hz.
    pub centre_hz: f32,
    /// Damping ratio of the soft part.
    pub centre_damping: f32,
    /// Rate of the integral of travel, 1/s.
    pub centre_integral_ps: f32,
    /// Travel that isolation may use to either side, m.
    pub usable_m: f32,
    /// The same at the end of the forecast, m, up to `usable_m`: room for what cannot be foreseen.
    pub usable_far_m: f32,
    /// Softness of that limit, share (see [`HorizonConfig::new`]).
    pub softness: f32,
    /// Factor on the forecast change of the floor's displacement: above one it
    /// expects more of the floor than was forecast, 0.5 to 2.
    pub forecast_gain: f32,
    /// Largest wanted acceleration on a smooth floor, m/s^2, below 100.
    pub accel_max_mps2: f32,
    /// Peak of floor acceleration below which the floor counts as still, m/s^2: friction
    /// is then cancelled in part only, so that the seat breaks away softly.
    pub still_mps2: f32,
    /// Peak of floor acceleration from which the floor counts as rough, m/s^2.
    pub rough_mps2: f32,
    /// On a rough floor: rise of the largest wanted acceleration with that peak, 0 to 20.
    pub accel_per_floor: f32,
    /// On a rough floor: share by which the look-ahead's answer rises with that peak, s^2/m, 0 to 0.2.
    /// The look-ahead knows no limit of force: where it will run short, more of it has to come early.
    pub keep_per_floor: f32,
    /// Time in which the peak fades, s, 0.1 to 60.
    pub floor_memory_s: f32,
    /// How fast the wanted acceleration may grow on a floor at rest while the seat isolates wholly, m/s^3; as much again for each
    /// 2 m/s^2 of the floor's acceleration now. It falls as fast as it likes.
    pub jerk_mps3: f32,
    /// Natural frequency of the motion to mid travel, Hz.
    pub rise_hz: f32,
    /// Largest acceleration that lifts the seat to mid travel, m/s^2.
    pub rise_accel_mps2: f32,
    /// Largest acceleration that catches a seat which falls under a new load, m/s^2.
    pub catch_accel_mps2: f32,
}

plain!([] Parameters {
    centre_hz,
    centre_damping,
    centre_integral_ps,
    usable_m,
    usable_far_m,
    softness,
    forecast_gain,
    accel_max_mps2,
    still_mps2,
    rough_mps2,
    accel_per_floor,
    keep_per_floor,
    floor_memory_s,
    jerk_mps3,
    rise_hz,
    rise_accel_mps2,
    catch_accel_mps2
});

/// What the look-ahead stays below, m/s^2: twice what a shock of 30 m/s^2 asks for, four times what the travel is proved for.
const KEEP_MOST_MPS2: f32 = 64.0;
/// Time in which the latest peak of floor and seat fades, s.
pub const SHAKEN_S: f32 = 0.5;
/// For each of this of the floor's acceleration the wanted one may grow as fast again, m/s^2.
const JERK_FLOOR_MPS2: f32 = 2.0;
/// What no reading of the floor's acceleration is beyond, m/s^2.
const PEAK_MOST_MPS2: f32 = 127.9;

/// Immutable constants.
#[derive(Clone, Copy, Debug)]
#[repr(C)]
pub struct Config<S> {
    damp: S,
    centre: S,
    integral: S,
    integral_max: S,
    forecast_gain: S,
    accel_max: S,
    per_still: S,
    rough: S,
    accel_per_floor: S,
    floor_fade: S,
    shaken_fade: S,
    keep_per_floor: S,
    wanted_step: S,
    rise_damp: S,
    rise_centre: S,
    rise_accel: S,
    catch_accel: S,
    horizon: HorizonConfig<S, TIMES>,
}

plain!([S: Plain] Config<S> {
    damp, centre, integral, integral_max, forecast_gain, accel_max, per_still, rough, accel_per_floor,
    floor_fade, shaken_fade, keep_per_floor, wanted_step, rise_damp, rise_centre, rise_accel, catch_accel, horizon
});

impl Parameters {
    #[inline(never)]
    pub(crate) fn check(&self) -> Result<(), BuildError> {
        hold(
            self,
            rules!["isolate":
                centre_hz: range(0.01, 1.0, "0.01 to 1 Hz"),
                centre_damping: range(0.2, 2.0, "0.2 to 2"),
            ],
        )?;
        let omega = core::f32::consts::TAU * self.centre_hz;
        within(
            "isolate.centre_integral_ps",
            self.centre_integral_ps,
            0.0,
            self.centre_damping * omega,
            "0 to damping * 2 pi * centre_hz, so that the loop is stable",
        )?;
        hold(
            self,
            rules!["isolate":
                usable_m: range(0.005, 1.0, "0.005 to 1 m"),
                usable_far_m to usable_m: range(0.001, 0.0, "0.001 m to usable_m"),
                softness: range(0.0, 0.1, "0 to 0.1"),
                forecast_gain: range(0.5, 2.0, "0.5 to 2"),
                accel_max_mps2: range(1.0, 100.0, "1 to 100 m/s2"),
                still_mps2: range(0.05, 10.0, "0.05 to 10 m/s2"),
                rough_mps2: range(0.1, 100.0, "0.1 to 100 m/s2"),
                accel_per_floor: range(0.0, 20.0, "0 to 20"),
                keep_per_floor: range(0.0, 0.2, "0 to 0.2 s2/m"),
                floor_memory_s: range(0.1, 60.0, "0.1 to 60 s"),
                jerk_mps3: range(1.0, 10_000.0, "1 to 10000 m/s3"),
                rise_hz: range(0.1, 3.0, "0.1 to 3 Hz"),
                rise_accel_mps2: POSITIVE,
                catch_accel_mps2 from rise_accel_mps2: range(0.0, 100.0, "rise_accel_mps2 to 100 m/s2"),
            ],
        )
    }

    /// Checks the parameters and makes the configuration.
    ///
    /// # Errors
    /// Names the first field that cannot be used.
    pub fn build<S: Scalar>(&self, timing: &Timing) -> Result<Config<S>, BuildError> {
        self.check()?;
        Ok(self.config(timing))
    }

    /// The configuration of parameters that have been checked.
    #[inline(never)]
    pub(crate) fn config<S: Scalar>(&self, timing: &Timing) -> Config<S> {
        let omega = core::f32::consts::TAU * self.centre_hz;
        let rise = core::f32::consts::TAU * self.rise_hz;
        let interval = timing.step_s * (SAMPLE_STEPS * SAMPLES_PER_TIME) as f32;
        Config {
            damp: S::of_parameter(2.0 * self.centre_damping * omega),
            centre: S::of_parameter(omega * omega),
            integral: S::of_parameter(omega * omega * self.centre_integral_ps * timing.step_s),
            integral_max: S::of_parameter(omega * omega * self.usable_m),
            horizon: HorizonConfig::new(interval, self.usable_m, self.usable_far_m, self.softness),
            forecast_gain: S::of_parameter(self.forecast_gain),
            accel_max: S::of_parameter(self.accel_max_mps2),
            per_still: S::of_parameter(1.0 / self.still_mps2),
            rough: S::of_parameter(self.rough_mps2),
            accel_per_floor: S::of_parameter(self.accel_per_floor),
            keep_per_floor: S::of_parameter(self.keep_per_floor),
            wanted_step: S::of_parameter(self.jerk_mps3 * timing.step_s / JERK_FLOOR_MPS2),
            floor_fade: S::of_parameter(2.0 * timing.step_s / self.floor_memory_s),
            shaken_fade: S::of_parameter(timing.step_s / SHAKEN_S),
            rise_damp: S::of_parameter(2.0 * rise),
            rise_centre: S::of_parameter(rise * rise),
            rise_accel: S::of_parameter(self.rise_accel_mps2),
            catch_accel: S::of_parameter(self.catch_accel_mps2),
        }
    }
}

/// What is kept from step to step.
#[derive(Clone, Copy, Debug)]
#[repr(C)]
pub struct State<S> {
    horizon: Horizon<S, TIMES>,
    /// What it asked for, m/s^2.
    keep: S,
    integral: S,
    /// What was wanted last, m/s^2.
    wanted: S,
    floor_peak: S,
    shaken: S,
}

plain!([S: Plain] State<S> { horizon, keep, integral, wanted, floor_peak, shaken });

impl<S: Scalar> Default for State<S> {
    fn default() -> Self {
        Self {
            horizon: Horizon::default(),
            keep: S::ZERO,
            integral: S::ZERO,
            wanted: S::ZERO,
            floor_peak: S::ZERO,
            shaken: S::ZERO,
        }
    }
}

impl<S: Scalar> State<S> {
    /// Wanted seat acceleration, m/s^2. `authority` in [0, 1]: 0 rises to mid
    /// travel, 1 isolates.
    pub fn step(&mut self, config: &Config<S>, motion: &estimate::Output<S>, authority: S) -> S {
        let now = motion.floor_accel.abs();
        let moved = match motion.turn {
            Turn::Odd => {
                let faded = self.floor_peak - config.floor_fade * self.floor_peak;
                self.floor_peak = now.max(faded);
                now
            }
            Turn::Even => motion.seat_accel.abs(),
        };
        let faded = self.shaken - config.shaken_fade * self.shaken;
        // What is no number is forgotten.
        self.shaken = S::select_ge(faded, moved, faded, moved);
        let rough = (self.floor_peak - config.rough).max(S::ZERO);
        let boost = S::ONE + config.keep_per_floor * rough;
        let mut error = [S::ZERO; TIMES / 2];
        let times = config.horizon.times(motion.turn);
        for ((e, &ahead), tau) in error.iter_mut().zip(&motion.floor_ahead).zip(times) {
            *e = motion.travel + motion.seat_velocity * tau - config.forecast_gain * ahead;
        }
        let keep = self.horizon.step(&config.horizon, motion.turn, &error);
        self.keep = keep;
        let soft =
            config.damp * motion.seat_velocity + config.centre * motion.travel + self.integral;
        let most = config.accel_max + config.accel_per_floor * rough;
        let whole = keep * boost - soft;
        let wanted = if authority.sign() >= S::ONE.sign() {
            self.integral = (self.integral + config.integral * motion.travel)
                .limit(-config.integral_max, config.integral_max);
            let more = config.wanted_step * (now + S::from_f32(JERK_FLOOR_MPS2));
            let grown = self.wanted.abs() + more;
            // What is no number limits nothing.
            let most = S::select_ge(most, grown, grown, most);
            whole.limit(-most, most)
        } else {
            let isolate = whole.limit(-most, most);
            let damped = config.rise_damp * motion.seat_velocity;
            // What the damping takes away is no part of the lift's limit.
            let most = config.rise_accel + damped.abs();
            let lift = (-(config.rise_centre * motion.travel)).limit(-most, most);
            let rise = (lift - damped).limit(-config.catch_accel, config.catch_accel);
            rise + authority * (isolate - rise)
        };
        self.wanted = wanted;
        wanted
    }

    /// A horizon that asks for what no motion needs was struck, and would take long to forget it: it begins anew. So does a
    /// floor peak above any reading. Worth a look in every other step.
    #[inline(always)]
    pub fn look_after_memory(&mut self) {
        // One question in a sound step, not two: either that is beyond its own fails it.
        let twice = self.keep + self.keep;
        if !(twice.abs() + self.floor_peak).is_within(PEAK_MOST_MPS2) {
            self.begin_anew();
        }
    }

    #[cold]
    #[inline(never)]
    fn begin_anew(&mut self) {
        if !self.keep.is_within(KEEP_MOST_MPS2) {
            self.horizon = Horizon::default();
        }
        if !self.floor_peak.is_within(PEAK_MOST_MPS2) {
            self.floor_peak = S::ZERO;
        }
    }

    /// Latest peak of the floor's acceleration, fading, m/s^2.
    #[must_use]
    pub const fn floor_peak(&self) -> S {
        self.floor_peak
    }

    /// Latest peak of the accelerations of floor and seat, which are looked at in turn, fading within [`SHAKEN_S`], m/s^2.
    #[must_use]
    pub const fn shaken(&self) -> S {
        self.shaken
    }

    /// How far the floor is from still, 0 to 1.
    pub fn stir(&self, config: &Config<S>) -> S {
        (self.floor_peak * config.per_still).min(S::ONE)
    }
}
