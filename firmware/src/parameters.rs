//! All parameters of the firmware: one struct a stage, SI units.

use crate::check::{BuildError, hold, range, rules};
use crate::{
    agree, arrest, brake, calibrate, commission, estimate, isolate, limit, supervise, vet, weigh,
};
use shared_math::plain;

mod stored;
pub use stored::{CopyError, StoredTable, TableError, crc32};

/// When things happen.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
#[repr(C)]
pub struct Timing {
    /// Control period, s, 0.25 to 5 ms.
    pub step_s: f32,
    /// From the sampling of the sensors to the middle of the hold of the force
    /// that answers them, current loop and sensor lag included, s, 0 to 10 ms.
    pub latency_s: f32,
}

plain!([] Timing {
    step_s,
    latency_s
});

impl Timing {
    #[inline(never)]
    pub(crate) fn check(&self) -> Result<(), BuildError> {
        hold(
            self,
            rules!["timing":
                step_s: range(0.000_25, 0.005, "0.00025 to 0.005 s"),
                latency_s: range(0.0, 0.01, "0 to 0.01 s"),
            ],
        )
    }
}

/// The whole number nearest to `x`, of steps or counts; zero below zero.
#[inline(never)]
pub(crate) fn nearest_whole(x: f32) -> u32 {
    (x + 0.5) as u32
}

/// The whole parameter table.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
#[repr(C)]
pub struct Parameters {
    /// Control period and latency.
    pub timing: Timing,
    /// Sensor scales.
    pub calibrate: calibrate::Parameters,
    /// Plausibility limits of the sensors.
    pub vet: vet::Parameters,
    /// Observer gains and forecast.
    pub estimate: estimate::Parameters,
    /// Supported mass and preload.
    pub weigh: weigh::Parameters,
    /// Isolation.
    pub isolate: isolate::Parameters,
    /// End-of-travel deceleration.
    pub arrest: arrest::Parameters,
    /// Actuator limits and compensation.
    pub limit: limit::Parameters,
    /// How sensors and motor must agree.
    pub agree: agree::Parameters,
    /// Braking by the unpowered motor.
    pub brake: brake::Parameters,
    /// Modes.
    pub supervise: supervise::Parameters,
    /// Commissioning test.
    pub commission: commission::Parameters,
}

plain!([] Parameters {
    timing,
    calibrate,
    vet,
    estimate,
    weigh,
    isolate,
    arrest,
    limit,
    agree,
    brake,
    supervise,
    commission
});

impl Parameters {
    /// Checks all that a cycle is built from, stage by stage.
    #[inline(never)]
    pub(crate) fn check(&self) -> Result<(), BuildError> {
        let timing = &self.timing;
        timing.check()?;
        self.calibrate.check()?;
        self.vet.check()?;
        self.estimate.check()?;
        self.weigh.check()?;
        self.isolate.check()?;
        self.arrest.check(timing)?;
        self.limit.check(timing)?;
        self.agree.check()?;
        self.brake.check()?;
        self.supervise.check(timing)
    }
}
