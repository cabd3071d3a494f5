//! Floor motions: invented spectra, standard signals, roads and recordings.
//!
//! The floor is *defined* by its vertical acceleration, sampled at the control rate and piecewise
//! linear between samples; [`FloorMotion`] gives velocity and displacement as its exact integrals.
//! A floor is a stream: [`build`] makes a [`FloorSource`] from a [`FloorSpec`], and
//! [`FloorSource::next_accel`] gives sample after sample, the first at time 0. Memory does not grow
//! with the length of the ride (a recording is held as long as the file is).
//!
//! Where to find what: [`catalogue`] lists the floors; `tones` sines, `events` edges, bumps and
//! shocks; [`spectra`] the invented machines; [`road`] ISO 8608 roads and the [`quarter_car`] on
//! them; [`recording`] CSV files, read by [`csv_columns`] and put on the control grid by [`resample`].

mod catalogue;
mod csv_error;
mod csv_header;
mod csv_lines;
mod error;
mod events;
mod kind;
mod motion;
mod options;
mod ramp;
mod tones;

pub mod butterworth;
pub mod csv_columns;
pub mod noise;
pub mod quarter_car;
pub mod recording;
pub mod resample;
pub mod road;
pub mod spectra;

pub use catalogue::{CatalogueEntry, Origin, catalogue};
pub use csv_columns::{AccelUnit, Column, ColumnChoice, EvenColumns, read_columns};
pub use csv_error::CsvError;
pub use error::FloorError;
pub(crate) use motion::period_ends;
pub use motion::{FloorMotion, FloorState};
pub use recording::RecordingOptions;

use kind::Kind;
use serde::{Deserialize, Serialize};

/// A stream of floor acceleration.
pub trait FloorSource: Send {
    /// Acceleration of the next sample, m/s2, upward positive. The first call gives time 0. After
    /// the end of a finite signal the floor is still (a recording rings down first).
    fn next_accel(&mut self) -> f64;

    /// Length of the signal in seconds; `None` when it has none of its own (a steady sine, a random
    /// floor, or a single event, which ends long before the seat is at rest).
    fn duration_s(&self) -> Option<f64>;
}

/// Which floor, how strong, how fast, which seed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct FloorSpec {
    /// A name of the [`catalogue`], or the path of a recording that ends in `.csv`; options may
    /// follow a colon: `edge:flank=0.08,height=0.04`, `ride.csv:accel=az,unit=g`.
    pub name: String,
    /// Factor on the signal, 0 to 100. Limits of displacement inside a signal apply at level 1.
    pub level: f64,
    /// Driving speed on roads, m/s, 1 to 60.
    pub speed_mps: f64,
    /// Seed of random floors. Different floors with one seed do not share their noise.
    pub seed: u64,
    /// How to read a recording; options in the name go before these.
    pub recording: RecordingOptions,
}

impl Default for FloorSpec {
    fn default() -> Self {
        Self {
            name: "sine".to_owned(),
            level: 1.0,
            speed_mps: 10.0,
            seed: 1,
            recording: RecordingOptions::default(),
        }
    }
}

impl FloorSpec {
    /// The floor `name` at level 1, 10 m/s, seed 1.
    #[must_use]
    pub fn named(name: &str) -> Self {
        Self {
            name: name.to_owned(),
            ..Self::default()
        }
    }
}

/// Builds a floor for samples at `sample_rate_hz` (200 Hz to 100 kHz).
///
/// # Errors
/// [`FloorError`] for an unknown name or option, a value out of range, or a recording that is
/// refused.
pub fn build(spec: &FloorSpec, sample_rate_hz: f64) -> Result<Box<dyn FloorSource>, FloorError> {
    Kind::resolve(spec, sample_rate_hz)?.build(spec, sample_rate_hz)
}

/// When the single event of a floor (`edge`, `bump`, `shock`) begins, s; `None` for other floors.
///
/// # Errors
/// As [`build`], but for what only the sample rate or a recording's file can tell.
pub fn event_start_s(spec: &FloorSpec) -> Result<Option<f64>, FloorError> {
    Ok(Kind::resolve(spec, 1000.0)?.event_start_s())
}

/// One-sided density of a random floor's acceleration, (m/s2)^2/Hz, at each of `frequencies_hz`, as
/// its filters define it; `None` when the floor is not random.
///
/// # Errors
/// As [`build`].
pub fn model_density(
    spec: &FloorSpec,
    sample_rate_hz: f64,
    frequencies_hz: &[f64],
) -> Result<Option<Vec<f64>>, FloorError> {
    Kind::resolve(spec, sample_rate_hz)?.density(spec, sample_rate_hz, frequencies_hz)
}
