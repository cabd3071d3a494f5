//! Supported mass and spring preload, from the balance of forces.
//!
//! With the seat off its stops, `mass (seat acceleration + gravity)` equals
//! actuator force + preload - spring * travel - friction. While somebody is
//! seated and the height adjuster rests, what is left over is laid to the mass. While
//! the adjuster moves, or the seat is empty and its mass known, it is laid to the preload.
//! Friction has a known sign only while the seat moves, so the balance is
//! read only then. Units: tonnes, kilonewtons.

use crate::check::{BuildError, POSITIVE, hold, range, rules};
use crate::parameters::nearest_whole;
use shared_math::{Plain, Scalar, plain};

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
    /// Time constant of the first estimate after an occupant has sat down, s.
    pub quick_s: f32,
    /// Time constant later on, s.
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
    quick_s,
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
    quick: S,
    preload_gain: S,
    settle_steps: u32,
    slow: S,
    fade: S,
    gravity: S,
    per_gravity: S,
}

plain!([S: Plain] Config<S> {
    empty_mass, mass_max, preload, preload_max, level_step, free_travel, per_moving, quick, preload_gain,
    settle_steps, slow, fade, gravity, per_gravity
});

const GRAVITY_MPS2: f32 = 9.806_65;

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
                quick_s: range(0.01, 10.0, "0.01 to 10 s"),
                slow_s from quick_s: range(0.0, 1000.0, "from quick_s to 1000 s"),
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
            quick: S::of_parameter(dt / self.quick_s),
            preload_gain: S::of_parameter(dt / self.preload_s),
            settle_steps: nearest_whole(self.preload_settle_s / dt),
            slow: S::of_parameter(dt / self.slow_s),
            fade: S::of_parameter(dt / (6.0 * self.quick_s)),
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
    /// Whether the seat is being driven, so that it may be off its stops.
    pub driven: bool,
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
    settle: u32,
}

plain!([S: Plain] State<S> { mass, preload, gain, settle });

impl<S: Scalar> State<S> {
    /// Before anything is known: the empty seat.
    #[must_use]
    pub fn new(config: &Config<S>) -> Self {
        Self {
            mass: config.empty_mass,
            preload: config.preload,
            gain: config.quick,
            settle: 0,
        }
    }

    /// An occupant has sat down or left: learn quickly again.
    pub fn begin(&mut self, config: &Config<S>) {
        self.gain = config.quick;
    }

    /// One step.
    pub fn step(&mut self, config: &Config<S>, input: &Input<S>) {
        let free = S::select_ge(config.free_travel, input.travel.abs(), S::ONE, S::ZERO);
        let moving = (input.travel_rate.abs() * config.per_moving).min(S::ONE);
        let weight = if input.driven { free * moving } else { S::ZERO };
        let left_over =
            input.force + self.preload - self.mass * (config.gravity + input.seat_accel);
        let loose = weight * left_over;
        let levelling = input.level != 0;
        self.settle = if levelling {
            config.settle_steps
        } else {
            self.settle.saturating_sub(1)
        };
        let preload = self.preload + adjusted(input.level, config.level_step);
        if levelling || self.settle > 0 || !input.seated {
            self.preload =
                (preload - config.preload_gain * loose).limit(S::ZERO, config.preload_max);
        } else {
            // None is larger: memory was struck.
            let gain = self.gain.min(config.quick);
            self.mass = (self.mass + gain * loose * config.per_gravity)
                .limit(config.empty_mass, config.mass_max);
            self.gain = gain - config.fade * weight * (gain - config.slow);
        }
        if !input.seated {
            self.mass = self.mass + config.quick * (config.empty_mass - self.mass);
        }
    }

    /// The mass stays as it is in the next step.
    #[inline]
    pub const fn rest(&mut self) {
        self.gain = S::ZERO;
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
