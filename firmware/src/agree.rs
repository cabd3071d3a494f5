//! Do sensors and motor agree? What is known twice is compared through the model.
//!
//! | known twice | residual | fault |
//! |---|---|---|
//! | travel, by its sensor and by both accelerometers | the observer's innovation | [`Fault::CrossCheck`]; [`Fault::Travel`] when it has jumped as no accelerometer makes it |
//! | current, by its sensor and by its commands | distance from all of the last commands | [`Fault::Current`] |
//! | force, by its command and by the seat accelerometer | change of the disturbance estimate, beside what a wrongly told body makes of the seat's acceleration; while the current disagrees also what the seat's acceleration misses | [`Fault::Force`] |
//!
//! The first bound comes from the noise figures of the sensors, a stated rate of false alarms and
//! what scale errors make of the floor's acceleration (the bench works it out); the other two are
//! above what a sound machine and its occupant do. A residual of theirs that is beyond its bound makes a
//! bad sample, which [`crate::vet`] counts with all others in the next step. The innovation is counted here: it keeps the
//! rate of false alarms with two in a row, and takes three, for a single wrong reading of travel makes two.

use crate::check::{BuildError, POSITIVE, hold, range, rules};
use crate::parameters::nearest_whole;
use crate::vet::{Fault, Faults, when_negative};
use shared_math::{Plain, Scalar, Turn, plain, q24_from_f32};

/// Bounds of the residuals.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
#[repr(C)]
pub struct Parameters {
    /// Travel measured less travel predicted: what noise alone never makes, m. In a rig 0 or absent: worked out.
    #[cfg_attr(feature = "serde", serde(default))]
    pub travel_noise_m: f32,
    /// What scale errors add to it for each m/s^2 of the latest peak of floor and seat, m/(m/s^2), below 0.001.
    /// In a rig likewise.
    #[cfg_attr(feature = "serde", serde(default))]
    pub travel_scale_s2: f32,
    /// The same with an accelerometer lost, in place of both, m.
    pub travel_lost_m: f32,
    /// How far the current may lie outside all of its last commands, A, below 128.
    pub current_a: f32,
    /// Change of load within `STATIC_FORCE_LAG_S` that an occupant can make once they have been weighed, N.
    pub load_change_n: f32,
    /// The same while they are being weighed, beside what has been weighed so far, N: the heaviest occupant's weight.
    pub load_n: f32,
    /// What is added to either for each m/s^2 of the seat's latest peak: the mass that the law may take for sprung
    /// though it is rigid, kg.
    pub load_mass_kg: f32,
    /// Force by which the seat's acceleration may fall short of the commands while the current disagrees with them, N.
    pub loss_n: f32,
    /// Travel beyond which a stop may carry the load, m.
    pub free_travel_m: f32,
    /// Load and current are not judged for this long after that, s, 0 to 1.
    pub free_after_s: f32,
}

plain!([] Parameters {
    travel_noise_m,
    travel_scale_s2,
    travel_lost_m,
    current_a,
    load_change_n,
    load_n,
    load_mass_kg,
    loss_n,
    free_travel_m,
    free_after_s
});

/// Immutable constants.
#[derive(Clone, Copy, Debug)]
#[repr(C)]
pub struct Config<S> {
    travel_noise: S,
    travel_scale: S,
    travel_lost: S,
    /// Counts of the current sensor.
    current: i32,
    load_change: S,
    load: S,
    load_mass: S,
    loss: S,
    /// Count of 2^-24 m.
    free_travel: u32,
    /// Even steps.
    free_after: u32,
}

plain!([S: Plain] Config<S> {
    travel_noise, travel_scale, travel_lost, current, load_change, load, load_mass, loss,
    free_travel, free_after
});

impl Parameters {
    #[inline(never)]
    pub(crate) fn check(&self) -> Result<(), BuildError> {
        hold(
            self,
            rules!["agree":
                travel_noise_m: range(1.0e-6, 0.1, "0.000001 to 0.1 m"),
                travel_scale_s2: range(0.0, 0.001, "0 to 0.001 m/(m/s2)"),
                travel_lost_m: range(1.0e-6, 0.1, "0.000001 to 0.1 m"),
                current_a: range(0.01, 127.0, "0.01 to 127 A"),
                load_change_n: POSITIVE,
                load_n: POSITIVE,
                load_mass_kg: range(0.0, 1000.0, "0 to 1000 kg"),
                loss_n: POSITIVE,
                free_travel_m: range(0.001, 1.0, "0.001 to 1 m"),
                free_after_s: range(0.0, 1.0, "0 to 1 s"),
            ],
        )
    }

    /// Checks the bounds and makes the configuration. `per_count`: the current sensor's scale, A;
    /// `step_s`: the control period, s.
    ///
    /// # Errors
    /// Names the first field that cannot be used.
    pub fn build<S: Scalar>(&self, per_count: f32, step_s: f32) -> Result<Config<S>, BuildError> {
        self.check()?;
        Ok(self.config(per_count, step_s))
    }

    /// The configuration of parameters that have been checked.
    #[inline(never)]
    pub(crate) fn config<S: Scalar>(&self, per_count: f32, step_s: f32) -> Config<S> {
        let kilo = |x: f32| S::of_parameter(x * 1.0e-3);
        Config {
            travel_noise: S::of_parameter(self.travel_noise_m),
            travel_scale: S::of_parameter(self.travel_scale_s2),
            travel_lost: S::of_parameter(self.travel_lost_m),
            current: nearest_whole(self.current_a / per_count.abs()) as i32,
            load_change: kilo(self.load_change_n),
            load: kilo(self.load_n),
            load_mass: kilo(self.load_mass_kg),
            loss: kilo(self.loss_n),
            free_travel: q24_from_f32(self.free_travel_m).unsigned_abs(),
            free_after: nearest_whole(0.5 * self.free_after_s / step_s),
        }
    }
}

impl<S: Scalar> Config<S> {
    /// Largest innovation of travel that is believed, m, after a latest peak of the accelerations of floor and seat (m/s^2).
    #[inline(always)]
    #[must_use]
    pub fn travel_bound(&self, shaken: S) -> S {
        self.travel_noise + self.travel_scale * shaken
    }

    /// The same with a sensor of the motion lost: none is believed without travel.
    #[must_use]
    pub fn bound_without(&self, lost: Faults) -> S {
        if lost.has(Fault::Travel) {
            S::ZERO
        } else {
            self.travel_lost
        }
    }

    /// For when the innovation (m) has been beyond its bound for long enough: whether travel's reading has jumped. If not,
    /// nobody knows which of the three sensors is wrong.
    #[must_use]
    pub fn has_jumped(innovation: S, travel_bound: S) -> bool {
        innovation.abs().to_q24() >> JUMP >= travel_bound.to_q24()
    }

    /// For when travel's sensor is lost: whether an accelerometer is too, for their wires are swapped. Its counts, read as
    /// travel (`as_travel`, m), are within the bound of what travel is expected to be, or the seat's acceleration misses force
    /// (`shortage`, kN).
    #[must_use]
    pub fn is_swapped(&self, as_travel: [S; 2], expected: S, travel_bound: S, shortage: S) -> bool {
        let is_near = |x: S| (travel_bound - (x - expected).abs()).sign() >= 0;
        as_travel.into_iter().any(is_near) || self.judge_motor(shortage) != 0
    }

    /// For when command and reading of the current disagree: the seat's acceleration tells which of motor and sensor is
    /// wrong. The bit of [`Fault::Force`] when it misses more force (`shortage`, kN) than a sound motor leaves away.
    #[must_use]
    pub fn judge_motor(&self, shortage: S) -> u16 {
        when_negative((self.loss - shortage.abs()).sign(), Fault::Force)
    }
}

/// What the comparison takes.
#[derive(Clone, Copy, Debug)]
pub struct Input<S> {
    /// Current, counts of its sensor.
    pub current: i16,
    /// Current command of this step, in the same counts.
    pub command: i16,
    /// Whether the motor is driven in this step, and was before.
    pub driven: bool,
    /// Whether the occupant has been weighed: then it is known what the motor carries.
    pub weighed: bool,
    /// Disturbance estimate, kN.
    pub disturbance: S,
    /// Its slow part, kN: what has been weighed so far until the weighing ends.
    pub static_force: S,
    /// Seat acceleration, m/s^2.
    pub seat_accel: S,
    /// Travel, count of 2^-24 m.
    pub travel: i32,
    /// The current is looked at in even steps, the force in odd ones.
    pub turn: Turn,
}

/// A peak of the seat's acceleration fades by a part of `2^FADE` in each odd step: 32 ms at 1 kHz, five times the lag
/// of the disturbance estimate.
const FADE: u32 = 4;

/// Steps in a row with the innovation beyond its bound that make a fault.
pub(crate) const IN_A_ROW: u32 = 3;
/// A bit for each of them.
const ALL_OF_THEM: u32 = (1 << IN_A_ROW) - 1;
/// An innovation of its bound times two to this power within these steps is no accelerometer's: travel's reading has jumped. It
/// takes an error of 14 m/s^2 that begins at once to come to 225 um in the third step beyond a bound of 56 um.
const JUMP: u32 = 2;
/// The motor waits no longer than this many steps on end: what lasts without growing beyond the bound is no reason to stand still.
const WAIT: u32 = 16;

/// What is remembered.
#[derive(Clone, Copy, Debug, Default)]
#[repr(C)]
pub struct State {
    /// The two commands since the current was looked at, the newest first, counts.
    commands: [i32; 2],
    /// The higher and the lower of the two before, counts.
    before: [i32; 2],
    /// Even steps until load and current are judged again.
    carried: u32,
    /// Latest peak of the seat's acceleration, count of 2^-24 m/s^2: it fades.
    peak: i32,
    /// What was last found of current and force.
    found: u32,
    /// In which of the last steps the innovation was beyond its bound, the newest lowest.
    beyond: u32,
    /// In which of the last steps the innovation was beyond half of its bound, the newest lowest.
    uneasy: u32,
}

plain!([] State { commands, before, carried, peak, found, beyond, uneasy });

impl State {
    /// One step. Returns the bits of the faults whose residual is beyond its bound, that of [`Fault::CrossCheck`] when it was so
    /// for long enough. Those of current and travel want a closer
    /// look: [`Config::judge_motor`], [`Config::has_jumped`].
    #[inline(always)]
    pub fn step<S: Scalar>(&mut self, config: &Config<S>, input: &Input<S>) -> u16 {
        let [a, b] = self.commands;
        // In a stop neither load nor rate is what the law takes it for.
        let free = if self.carried == 0 { -1 } else { 0 };
        self.found = match input.turn {
            Turn::Even => {
                self.carried = if input.travel.unsigned_abs() > config.free_travel {
                    config.free_after
                } else {
                    self.carried.saturating_sub(1)
                };
                let newer = [most(a, b), least(a, b)];
                let [high, low] = [
                    most(newer[0], self.before[0]),
                    least(newer[1], self.before[1]),
                ];
                self.before = newer;
                let current = i32::from(input.current);
                let above = config.current.saturating_add(current).saturating_sub(low);
                let below = config.current.saturating_add(high).saturating_sub(current);
                let room = (above | below) & free;
                self.found & !(Fault::Current as u32)
                    | u32::from(when_negative(room, Fault::Current))
            }
            Turn::Odd => {
                let bound = if input.weighed {
                    config.load_change
                } else {
                    config.load
                };
                let faded = self.peak.wrapping_sub(self.peak >> FADE);
                self.peak = most(input.seat_accel.abs().to_q24(), faded);
                let bound = bound + config.load_mass * S::from_q24(self.peak);
                let room = (bound - (input.disturbance - input.static_force).abs()).sign();
                self.found & !(Fault::Force as u32)
                    | u32::from(when_negative(room & free, Fault::Force))
            }
        };
        self.commands = [i32::from(input.command), a];
        let crossed = if self.crosses() {
            Fault::CrossCheck as u16
        } else {
            0
        };
        let driven = if input.driven {
            self.found as u16 & (Fault::Current as u16 | Fault::Force as u16)
        } else {
            0
        };
        crossed | driven
    }
}

impl State {
    /// Compares travel with what the accelerometers say: the `innovation` (m) with its `travel_bound` (m). Returns whether it is
    /// beyond half of that, and was not yet sixteen steps ago: then the motor had better keep its current. An accelerometer's
    /// error moves travel with the square of time, and what the law does with it grows faster still; from 0.7 of the time until
    /// it is found nothing is added to that. In sound rides it is one step of 1500.
    #[inline(always)]
    pub fn compare_travel<S: Scalar>(&mut self, innovation: S, travel_bound: S) -> bool {
        let size = innovation.abs();
        let among = |steps: u32, size: S| steps << 1 | ((travel_bound - size).sign() as u32) >> 31;
        self.beyond = among(self.beyond, size);
        self.uneasy = among(self.uneasy, size + size);
        self.uneasy & !(self.uneasy >> WAIT) & 1 != 0
    }

    /// Whether the innovation was beyond its bound in the last three steps.
    #[inline(always)]
    #[must_use]
    pub const fn crosses(&self) -> bool {
        self.beyond & ALL_OF_THEM == ALL_OF_THEM
    }

    /// Forgets which innovations were beyond their bound: travel is expected where it is read again.
    #[inline(always)]
    pub const fn forget_travel(&mut self) {
        self.beyond = 0;
    }
}

/// The larger of two counts.
#[inline(always)]
const fn most(a: i32, b: i32) -> i32 {
    if a > b { a } else { b }
}

/// The smaller of two counts.
#[inline(always)]
const fn least(a: i32, b: i32) -> i32 {
    if a < b { a } else { b }
}
