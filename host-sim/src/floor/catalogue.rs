//! The list of floors, with what they are and how strong.

use super::events::AT_S;
use super::kind::{Kind, ROAD_OPTIONS, SIGNALS};
use super::options::listing;
use super::road::{HIGH_WAVE_NUMBER, LOW_WAVE_NUMBER, RoadClass};
use super::spectra::SPECTRA;
use super::{FloorError, FloorSpec};

/// Rate at which the catalogue's numbers are worked out, Hz.
const RATE_HZ: f64 = 1000.0;

/// Where a floor comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Origin {
    /// Invented for this project; belongs to no real machine.
    Invented,
    /// A plain test signal.
    TestSignal,
    /// After a standard, named here.
    Standard(&'static str),
}

/// One floor of the catalogue.
#[derive(Debug, Clone, PartialEq)]
pub struct CatalogueEntry {
    /// Name.
    pub name: &'static str,
    /// One-line description.
    pub about: String,
    /// Whether the floor is random (seeded).
    pub random: bool,
    /// Where it comes from.
    pub origin: Origin,
    /// R.m.s. acceleration at level 1, m/s2. Random floors: from the integral of their density, roads
    /// at 10 m/s. Others: from first to last motion (the sine without its fade-in).
    pub rms_mps2: f64,
    /// Greatest acceleration at level 1, m/s2; `None` for random floors.
    pub peak_mps2: Option<f64>,
    /// Band, Hz; `None` for single events. Roads at 10 m/s, as the wheel meets them.
    pub band_hz: Option<(f64, f64)>,
    /// Options, with their ranges.
    pub options: String,
}

/// All floors: test signals, invented spectra, roads. Takes a fraction of a second.
///
/// # Errors
/// None with the floors as they are; [`FloorError`] if one could not be built.
pub fn catalogue() -> Result<Vec<CatalogueEntry>, FloorError> {
    let mut entries = Vec::new();
    for (name, options) in SIGNALS {
        let (about, band_hz) = signal_text(name);
        let (rms_mps2, peak_mps2) = run(name)?;
        entries.push(CatalogueEntry {
            name,
            about: about.to_owned(),
            random: false,
            origin: Origin::TestSignal,
            rms_mps2,
            peak_mps2: Some(peak_mps2),
            band_hz,
            options: listing(options),
        });
    }
    for spectrum in &SPECTRA {
        entries.push(CatalogueEntry {
            name: spectrum.name,
            about: format!(
                "{}: white noise of {} (m/s2)^2/Hz through 4th-order Butterworth corners",
                spectrum.about, spectrum.density_mps4_per_hz
            ),
            random: true,
            origin: Origin::Invented,
            rms_mps2: density_rms(spectrum.name)?,
            peak_mps2: None,
            band_hz: Some((spectrum.low_hz, spectrum.high_hz)),
            options: listing(&[]),
        });
    }
    let speed_mps = FloorSpec::default().speed_mps;
    for class in RoadClass::ALL {
        let name = class.floor_name();
        entries.push(CatalogueEntry {
            name,
            about: format!(
                "road of class {class:?}, geometric mean {:.0}e-6 m3, at {speed_mps} m/s; \
                 the floor is the body of a quarter car",
                class.roughness_m3() * 1e6
            ),
            random: true,
            origin: Origin::Standard("ISO 8608 road; quarter car of the roughness index"),
            rms_mps2: density_rms(name)?,
            peak_mps2: None,
            band_hz: Some((LOW_WAVE_NUMBER * speed_mps, HIGH_WAVE_NUMBER * speed_mps)),
            options: listing(&ROAD_OPTIONS),
        });
    }
    Ok(entries)
}

fn signal_text(name: &str) -> (&'static str, Option<(f64, f64)>) {
    match name {
        "sine" => ("steady sine, 2 Hz, 1 m/s2 r.m.s.", Some((2.0, 2.0))),
        "steps" => (
            "sine in octave steps of 10 s, 1 m/s2 r.m.s. or 30 mm",
            Some((1.0, 32.0)),
        ),
        "chirp" => (
            "logarithmic sweep in 60 s, 1 m/s2 r.m.s. or 30 mm",
            Some((0.5, 40.0)),
        ),
        "edge" => (
            "drop of 60 mm at 12 s, rise 0.5 s later, half-cosine flanks of 0.12 s",
            None,
        ),
        "bump" => ("haversine of 90 mm in 0.5 s at 12 s", None),
        _ => (
            "half sine of 20 m/s2 and 20 ms between two compensating pulses, from 12 s",
            None,
        ),
    }
}

/// R.m.s. and peak of a signal from its first to its last motion.
fn run(name: &str) -> Result<(f64, f64), FloorError> {
    let mut source = super::build(&FloorSpec::named(name), RATE_HZ)?;
    let count = (source.duration_s().unwrap_or(AT_S + 6.0) * RATE_HZ) as usize;
    let mut accel: Vec<f64> = (0..count).map(|_| source.next_accel()).collect();
    if name == "sine" {
        accel.drain(..(2.0 * RATE_HZ) as usize);
    }
    let moving = |value: &f64| *value != 0.0;
    let first = accel.iter().position(moving).unwrap_or(0);
    let last = accel.iter().rposition(moving).unwrap_or(0);
    let active = &accel[first..=last];
    let sum: f64 = active.iter().map(|a| a * a).sum();
    let peak = active.iter().fold(0.0, |peak: f64, a| peak.max(a.abs()));
    Ok(((sum / active.len() as f64).sqrt(), peak))
}

/// Square root of the integral of a random floor's density, on a logarithmic grid of 4000 points.
fn density_rms(name: &str) -> Result<f64, FloorError> {
    const POINTS: usize = 4000;
    let spec = FloorSpec::named(name);
    let (low_hz, high_hz) = (0.005_f64, 0.5 * RATE_HZ);
    let ratio = (high_hz / low_hz).ln() / (POINTS - 1) as f64;
    let grid: Vec<f64> = (0..POINTS)
        .map(|i| low_hz * (ratio * i as f64).exp())
        .collect();
    let density = Kind::resolve(&spec, RATE_HZ)?
        .density(&spec, RATE_HZ, &grid)?
        .unwrap_or_default();
    let area: f64 = grid
        .windows(2)
        .zip(density.windows(2))
        .map(|(f, s)| 0.5 * (s[0] + s[1]) * (f[1] - f[0]))
        .sum();
    Ok(area.sqrt())
}
