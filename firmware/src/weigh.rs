//! Supported mass and spring preload, from the balance of forces.
//!
//! With the seat off its stops, `mass (seat acceleration + gravity)` equals
//! actuator force + preload - spring * travel - friction. While somebody is
//! seated and the height adjuster rests, what is left over is laid to the mass. While
//! the adjuster moves, or the seat is empty and its mass known, it is laid to the preload.
//! Friction has a known sign only while the seat moves, and a seated body sways where
//! the seat is shaken, so the balance is read only while the seat moves and is shaken little.
//!
//! An occupant whom the height adjuster has lifted off the lower stop weighs what preload and brake carry, by the
//! adjuster's rate. In Rise they are weighed first, within a few tenths of a second, and the adjuster waits: while it moves,
//! mass and preload cannot be told apart.
//! Units: tonnes, kilonewtons.

use crate::check::{BuildError, POSITIVE, hold, range, rules};
use crate::parameters::nearest_whole;
use shared_math::{Flag, Plain, Scalar, plain};

/// Masses, preload and how fast they are learnt.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
#[repr(C)]
pub struct Parameters {
    /// Moving mass of the empty seat, kg.
    pub empty_mass_kg: f32,
    /// Largest supported mass, seat included, kg.
    pub mass_max_kg: f32,
    /// Preload of the support spring after reset: carries the empty seat at mid travel, N.
    pub preload_n: f32,
    /// Largest preload, N.
    pub preload_max_n: f32,
    /// Rate of the height adjuster, N/s.
    pub level_rate_nps: f32,
    /// Travel beyond which the stops may carry load, m.
    pub free_travel_m: f32,
    /// Travel rate from which the sign of friction is trusted, m/s.
    pub moving_mps: f32,
    /// Seat acceleration beyond which a body sways too much to be weighed, m/s^2.
    pub calm_mps2: f32,
    /// How long an occupant who has sat down is weighed, before the height adjuster may move, s: readings while the
    /// seat stands still, is shaken or is in a stop do not count.
    pub first_s: f32,
    /// Time constant of learning later on, s.
    pub slow_s: f32,
    /// Time constant of the preload estimate, s.
    pub preload_s: f32,
    /// How long the preload is learnt on after the height adjuster has stopped, s.
    pub preload_settle_s: f32,
}

plain!([] Parameters {
    empty_mass_kg,
    mass_max_kg,
    preload_n,
    preload_max_n,
    level_rate_nps,
    free_travel_m,
    moving_mps,
    calm_mps2,
    first_s,
    slow_s,
    preload_s,
    preload_settle_s
});

/// Immutable constants.
#[derive(Clone, Copy, Debug)]
#[repr(C)]
pub struct Config<S> {
    empty_mass: S,
    mass_max: S,
    preload: S,
    preload_max: S,
    level_step: S,
    free_travel: S,
    per_moving: S,
    calm: S,
    known: S,
    preload_gain: S,
    settle_steps: u32,
    sits_steps: u32,
    slow: S,
    gravity: S,
    per_gravity: S,
}

plain!([S: Plain] Config<S> {
    empty_mass, mass_max, preload, preload_max, level_step, free_travel, per_moving, calm, known, preload_gain,
    settle_steps, sits_steps, slow, gravity, per_gravity
});

const GRAVITY_MPS2: f32 = 9.806_65;
/// Gain of the first readings, count of 2^-24: an eighth.
const FIRST: i32 = 1 << 21;
/// How much a reading of a shaken seat counts, count of 2^-24: an eighth.
const SHAKEN: i32 = 1 << 21;
/// While readings are above the mean by more than this, count of 2^-24 kN, the occupant is still sitting down, and each
/// counts as much as the one before: 15 N.
const GROWS: i32 = 251_658;
/// But not for longer than this, s: on rough ground readings are off for ever.
const SITS_S: f32 = 1.5;

impl Parameters {
    #[inline(never)]
    pub(crate) fn check(&self) -> Result<(), BuildError> {
        hold(
            self,
            rules!["weigh":
                empty_mass_kg: POSITIVE,
                mass_max_kg from empty_mass_kg: range(0.0, 1000.0, "from the empty seat's mass to 1000 kg"),
                preload_max_n: range(0.0, 20_000.0, "0 to 20000 N"),
                preload_n to preload_max_n: range(0.0, 0.0, "0 to preload_max_n"),
                level_rate_nps: POSITIVE,
                free_travel_m: POSITIVE,
                moving_mps: range(0.001, 1.0, "0.001 to 1 m/s"),
                calm_mps2: range(0.1, 100.0, "0.1 to 100 m/s2"),
                first_s: range(0.05, 10.0, "0.05 to 10 s"),
                slow_s from first_s: range(0.0, 1000.0, "from first_s to 1000 s"),
                preload_s: range(0.01, 100.0, "0.01 to 100 s"),
                preload_settle_s: range(0.0, 16.0, "0 to 16 s"),
            ],
        )
    }

    /// Checks the parameters and makes the configuration for a step every `dt` seconds.
    ///
    /// # Errors
    /// Names the first field that cannot be used.
    pub fn build<S: Scalar>(&self, dt: f32) -> Result<Config<S>, BuildError> {
        self.check()?;
        Ok(self.config(dt))
    }

    /// The configuration of parameters that have been checked.
    #[inline(never)]
    pub(crate) fn config<S: Scalar>(&self, dt: f32) -> Config<S> {
        Config {
            empty_mass: S::of_parameter(self.empty_mass_kg * 1.0e-3),
            mass_max: S::of_parameter(self.mass_max_kg * 1.0e-3),
            preload: S::of_parameter(self.preload_n * 1.0e-3),
            preload_max: S::of_parameter(self.preload_max_n * 1.0e-3),
            level_step: S::of_parameter(self.level_rate_nps * 1.0e-3 * dt),
            free_travel: S::of_parameter(self.free_travel_m),
            per_moving: S::of_parameter(1.0 / self.moving_mps),
            calm: S::of_parameter(self.calm_mps2),
            known: S::of_parameter(dt / self.first_s),
            preload_gain: S::of_parameter(dt / self.preload_s),
            settle_steps: nearest_whole(self.preload_settle_s / dt),
            sits_steps: nearest_whole(SITS_S / dt),
            slow: S::of_parameter(dt / self.slow_s),
            gravity: S::of_parameter(GRAVITY_MPS2),
            per_gravity: S::of_parameter(1.0 / GRAVITY_MPS2),
        }
    }
}

/// What the height adjuster does in one step of which it can do `step`: +1 adds, -1 takes off, 0 rests.
#[inline(always)]
pub(crate) fn adjusted<S: Scalar>(level: i8, step: S) -> S {
    match level {
        1 => step,
        -1 => -step,
        _ => S::ZERO,
    }
}

/// What the balance takes.
#[derive(Clone, Copy, Debug)]
pub struct Input<S> {
    /// Force of the actuator less spring, viscous and Coulomb forces at the seat, kN, up.
    pub force: S,
    /// Seat acceleration less bias, m/s^2.
    pub seat_accel: S,
    /// Travel, m.
    pub travel: S,
    /// Travel rate, m/s.
    pub travel_rate: S,
    /// Height adjuster: +1 adds preload, -1 takes it off, 0 rests.
    pub level: i8,
    /// Whether somebody is seated.
    pub seated: bool,
}

/// Estimates of mass and preload.
#[derive(Clone, Copy, Debug)]
#[repr(C)]
pub struct State<S> {
    mass: S,
    preload: S,
    gain: S,
    /// Steps for which the preload is learnt on, or, until the occupant has been weighed, in which they may still be sitting
    /// down.
    rest: u32,
    /// Whether the mass of who sat down last is known.
    known: Flag,
}

plain!([S: Plain] State<S> { mass, preload, gain, rest, known });

impl<S: Scalar> State<S> {
    /// Before anything is known: the empty seat.
    #[must_use]
    pub fn new(config: &Config<S>) -> Self {
        Self {
            mass: config.empty_mass,
            preload: config.preload,
            gain: S::from_q24(FIRST),
            rest: 0,
            known: Flag::new(false),
        }
    }

    /// An occupant has sat down: learn quickly again.
    pub fn begin(&mut self, config: &Config<S>) {
        self.rest = config.sits_steps;
        self.known = Flag::new(false);
        self.gain = S::from_q24(FIRST);
    }

    /// One step in which the seat is driven, so that it may be off its stops.
    pub fn step(&mut self, config: &Config<S>, input: &Input<S>) {
        let moving = (input.travel_rate.abs() * config.per_moving).min(S::ONE);
        let free = S::select_ge(config.free_travel, input.travel.abs(), moving, S::ZERO);
        let shaken = free * S::from_q24(SHAKEN);
        let weight = S::select_ge(config.calm, input.seat_accel.abs(), free, shaken);
        let left_over =
            input.force + self.preload - self.mass * (config.gravity + input.seat_accel);
        let loose = weight * left_over;
        let levelling = input.level != 0;
        self.rest = if levelling {
            config.settle_steps
        } else {
            self.rest.saturating_sub(1)
        };
        let preload = self.preload + adjusted(input.level, config.level_step);
        if levelling || !input.seated || self.known.holds() && self.rest > 0 {
            self.preload =
                (preload - config.preload_gain * loose).limit(S::ZERO, config.preload_max);
            if !input.seated {
                self.mass = config.empty_mass;
            }
        } else {
            // None is larger: memory was struck.
            let gain = self.gain.min(S::from_q24(FIRST));
            self.mass = (self.mass + gain * loose * config.per_gravity)
                .limit(config.empty_mass, config.mass_max);
            if self.rest == 0 || (loose - S::from_q24(GROWS)).sign() < 0 {
                // The mean of all that was read, as the inverse of their number falls by its square.
                self.gain = (gain - weight * gain * gain).max(config.slow);
            }
        }
    }

    /// One step in which somebody is lifted by the height adjuster (+1 adds preload, 0 rests) and the brake carries the rest, kN.
    /// Until the occupant has been weighed they are taken to weigh what both carry.
    pub fn lift(&mut self, config: &Config<S>, level: i8, carried: S) {
        self.preload = (self.preload + adjusted(level, config.level_step)).min(config.preload_max);
        if !self.known.holds() {
            self.mass = ((self.preload + carried) * config.per_gravity)
                .limit(config.empty_mass, config.mass_max);
        }
    }

    /// The mass stays as it is in the next step.
    #[inline]
    pub const fn pause(&mut self) {
        self.gain = S::ZERO;
    }

    /// Whether enough has been read since somebody sat down. Worth a look in every other step, those without [`State::step`].
    #[inline(always)]
    pub fn look_whether_known(&mut self, config: &Config<S>) {
        self.known = Flag::new((self.gain - config.known).sign() < 0);
    }

    /// Whether the mass of who sat down last was known when that was last looked at, so that the height adjuster may
    /// take their weight over.
    #[inline(always)]
    #[must_use]
    pub const fn is_known(&self) -> bool {
        self.known.holds()
    }

    /// What the motor carries at mid travel and at rest, by what has been weighed so far, kN.
    #[inline(always)]
    #[must_use]
    pub fn carried(&self, config: &Config<S>) -> S {
        self.mass * config.gravity - self.preload
    }

    /// Supported mass, seat included, t.
    #[must_use]
    pub const fn mass(&self) -> S {
        self.mass
    }

    /// Preload of the support spring, kN.
    #[must_use]
    pub const fn preload(&self) -> S {
        self.preload
    }
}
