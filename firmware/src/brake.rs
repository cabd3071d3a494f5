//! How strongly the unpowered motor brakes the seat.
//!
//! In every mode that does not drive, the windings are joined through a resistor: a soft damper, like
//! that of a seat without a motor. A transistor across the resistor, pulsed, bridges it by the share that
//! is worked out here, up to windings shorted. It needs no supply. Three things ask for more, and the
//! largest has its way:
//!
//! - a fast seat, as the braking current itself shows: that holds whichever of the other sensors has failed;
//! - an end that is near, while all sensors are trusted: what the arrest would brake with;
//! - a load that the motor has just dropped and that the spring does not carry.
//!
//! The share moves slowly beside the winding's own time constant and the board's delays, so that the current tells
//! the rate all the time.

use crate::check::{BuildError, hold, range, rules};
use crate::limit;
use shared_math::{Plain, Scalar, plain, seldom_product};

/// The resistor, and how the share rises.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
#[repr(C)]
pub struct Parameters {
    /// Brake resistor, ohm, up to 100.
    pub resistor_ohm: f32,
    /// Travel rate from which it is bridged in part, m/s ...
    pub rate_from_mps: f32,
    /// ... and at which all of it is, m/s.
    pub rate_full_mps: f32,
    /// Deceleration toward an end, wanted by the arrest, at which all of it is bridged, m/s^2.
    pub full_mps2: f32,
    /// Time in which the share can go from none to all, s, 0.01 to 1.
    pub slew_s: f32,
    /// Load that the motor carried, from which it is bridged in part, N ...
    pub load_from_n: f32,
    /// ... and at which all of it is, N.
    pub load_full_n: f32,
}

plain!([] Parameters {
    resistor_ohm,
    rate_from_mps,
    rate_full_mps,
    full_mps2,
    slew_s,
    load_from_n,
    load_full_n
});

/// Immutable constants.
#[derive(Clone, Copy, Debug)]
#[repr(C)]
pub struct Config<S> {
    /// Winding and resistor by the force constant, and the resistor alone: travel rate for 1 A, m/s.
    rate: S,
    bridged: S,
    rate_from: S,
    per_rate: S,
    per_decel: S,
    load_from: S,
    per_load: S,
    slew: S,
}

plain!([S: Plain] Config<S> {
    rate, bridged, rate_from, per_rate, per_decel, load_from, per_load, slew
});

impl Parameters {
    #[inline(never)]
    pub(crate) fn check(&self) -> Result<(), BuildError> {
        hold(
            self,
            rules!["brake":
                slew_s: range(0.01, 1.0, "0.01 to 1 s"),
                resistor_ohm: range(0.0, 100.0, "0 to 100 ohm"),
                rate_from_mps: range(0.0, 10.0, "0 to 10 m/s"),
                rate_full_mps from rate_from_mps: range(0.01, 20.0, "0.01 m/s above rate_from_mps to 20 m/s"),
                full_mps2: range(0.1, 100.0, "0.1 to 100 m/s2"),
                load_from_n: range(0.0, 10_000.0, "0 to 10000 N"),
                load_full_n from load_from_n: range(10.0, 20_000.0, "10 N above load_from_n to 20000 N"),
            ],
        )
    }

    /// Checks the parameters and makes the configuration, for a `motor` as the law knows it and a control
    /// period of `step_s`, s.
    ///
    /// # Errors
    /// Names the first field that cannot be used.
    pub fn build<S: Scalar>(
        &self,
        motor: &limit::Parameters,
        step_s: f32,
    ) -> Result<Config<S>, BuildError> {
        self.check()?;
        Ok(self.config(motor, step_s))
    }

    /// The configuration of parameters that have been checked.
    #[inline(never)]
    pub(crate) fn config<S: Scalar>(&self, motor: &limit::Parameters, step_s: f32) -> Config<S> {
        let constant = motor.force_constant_npa;
        Config {
            rate: S::of_parameter((motor.resistance_20c_ohm + self.resistor_ohm) / constant),
            bridged: S::of_parameter(self.resistor_ohm / constant),
            rate_from: S::of_parameter(self.rate_from_mps),
            per_rate: S::of_parameter(1.0 / (self.rate_full_mps - self.rate_from_mps)),
            per_decel: S::of_parameter(1.0 / self.full_mps2),
            load_from: S::of_parameter(self.load_from_n * 1.0e-3),
            slew: S::of_parameter(step_s / self.slew_s),
            per_load: S::of_parameter(1.0e3 / (self.load_full_n - self.load_from_n)),
        }
    }
}

/// What is known of the seat.
#[derive(Clone, Copy, Debug)]
pub struct Input<S> {
    /// Acceleration relative to the floor that is permitted toward the end which the seat moves to,
    /// m/s^2, negative to brake.
    pub closing: S,
    /// No sensor is in doubt.
    pub trusted: bool,
    /// Braking current, A.
    pub current: S,
    /// Share of the last step, 0 to 1.
    pub last: S,
    /// What the motor carried of late, kN.
    pub load: S,
}

impl<S: Scalar> Config<S> {
    /// Share of the resistor that is bridged, 0 to 1, also for numbers that are not finite.
    #[must_use]
    pub fn share(&self, input: &Input<S>) -> S {
        let share = |x: S| x.limit(S::ZERO, S::ONE);
        let last = share(input.last);
        let constant = self.rate - seldom_product(self.bridged, last);
        let rate = seldom_product(input.current.abs(), constant);
        let fast = share(seldom_product(rate - self.rate_from, self.per_rate));
        let near = if input.trusted {
            share(seldom_product(-input.closing, self.per_decel))
        } else {
            S::ZERO
        };
        let dropped = share(seldom_product(
            input.load.abs() - self.load_from,
            self.per_load,
        ));
        fast.max(near)
            .max(dropped)
            .limit(last - self.slew, last + self.slew)
    }
}
