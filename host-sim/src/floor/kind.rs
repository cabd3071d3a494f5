//! From a floor's name to the floor.

use super::butterworth::CornerError;
use super::error::FloorError;
use super::events::{self, BUMP_OPTIONS, EDGE_OPTIONS, SHOCK_OPTIONS};
use super::options::{OptionSpec, Options, option};
use super::recording::{Recording, RecordingOptions};
use super::road::{self, MAX_SPEED_MPS, MIN_SPEED_MPS, RoadClass};
use super::spectra::{self, SPECTRA, Spectrum};
use super::tones::{CHIRP_OPTIONS, Chirp, SINE_OPTIONS, STEPS_OPTIONS, Sine, Steps};
use super::{FloorSource, FloorSpec};
use std::path::PathBuf;

/// Options of a road.
pub(crate) const ROAD_OPTIONS: [OptionSpec; 1] = [option(
    "speed",
    "m/s",
    None,
    MIN_SPEED_MPS,
    MAX_SPEED_MPS,
    "instead of the ride's own speed, 10 m/s",
)];

/// Names and options of the signals that are neither spectra nor roads.
pub(crate) const SIGNALS: [(&str, &[OptionSpec]); 6] = [
    ("sine", &SINE_OPTIONS),
    ("steps", &STEPS_OPTIONS),
    ("chirp", &CHIRP_OPTIONS),
    ("edge", &EDGE_OPTIONS),
    ("bump", &BUMP_OPTIONS),
    ("shock", &SHOCK_OPTIONS),
];

/// A floor whose name and options are understood.
pub(crate) enum Kind {
    Signal(&'static str, Options),
    Spectrum(&'static Spectrum),
    Road(RoadClass, f64),
    Recording(PathBuf, RecordingOptions),
}

impl Kind {
    pub(crate) fn resolve(spec: &FloorSpec, sample_rate_hz: f64) -> Result<Self, FloorError> {
        check("level", spec.level, 0.0, 100.0, "0 to 100")?;
        check(
            "speed_mps",
            spec.speed_mps,
            MIN_SPEED_MPS,
            MAX_SPEED_MPS,
            "1 to 60 m/s",
        )?;
        check(
            "sample_rate_hz",
            sample_rate_hz,
            200.0,
            1e5,
            "200 to 100000 Hz",
        )?;
        if let Some((path, text)) = recording_path(&spec.name) {
            let options = spec.recording.with_text(path, text)?;
            return Ok(Self::Recording(PathBuf::from(path), options));
        }
        let (name, text) = match spec.name.split_once(':') {
            Some((name, text)) => (name, Some(text)),
            None => (spec.name.as_str(), None),
        };
        if let Some((name, known)) = SIGNALS.iter().find(|signal| signal.0 == name) {
            return Ok(Self::Signal(name, Options::parse(name, text, known)?));
        }
        if let Some(spectrum) = SPECTRA.iter().find(|spectrum| spectrum.name == name) {
            Options::parse(name, text, &[])?;
            return Ok(Self::Spectrum(spectrum));
        }
        if let Some(class) = RoadClass::ALL.iter().find(|c| c.floor_name() == name) {
            let options = Options::parse(name, text, &ROAD_OPTIONS)?;
            return Ok(Self::Road(
                *class,
                options.value_or("speed", spec.speed_mps),
            ));
        }
        Err(FloorError::UnknownFloor {
            name: name.to_owned(),
            known: names().collect::<Vec<_>>().join(", "),
        })
    }

    pub(crate) fn build(
        &self,
        spec: &FloorSpec,
        rate_hz: f64,
    ) -> Result<Box<dyn FloorSource>, FloorError> {
        let (level, seed) = (spec.level, spec.seed);
        let corner = |source| corner_error(&spec.name, source);
        Ok(match self {
            Self::Signal("sine", options) => Box::new(Sine::new(options, level, rate_hz)?),
            Self::Signal("steps", options) => Box::new(Steps::new(options, level, rate_hz)?),
            Self::Signal("chirp", options) => Box::new(Chirp::new(options, level, rate_hz)?),
            Self::Signal("edge", options) => Box::new(events::edge(options, level, rate_hz)?),
            Self::Signal("bump", options) => Box::new(events::bump(options, level, rate_hz)?),
            Self::Signal(_, options) => Box::new(events::shock(options, level, rate_hz)?),
            Self::Spectrum(spectrum) => {
                Box::new(spectra::floor(spectrum, level, seed, rate_hz).map_err(corner)?)
            }
            Self::Road(class, speed_mps) => {
                Box::new(road::floor(*class, level, *speed_mps, seed, rate_hz).map_err(corner)?)
            }
            Self::Recording(path, options) => {
                Box::new(Recording::load(path, options, level, rate_hz)?)
            }
        })
    }

    /// When a single event begins, s; `None` for a floor that is none.
    pub(crate) fn event_start_s(&self) -> Option<f64> {
        match self {
            Self::Signal("edge" | "bump" | "shock", options) => options.given("at"),
            _ => None,
        }
    }

    pub(crate) fn density(
        &self,
        spec: &FloorSpec,
        rate_hz: f64,
        frequencies_hz: &[f64],
    ) -> Result<Option<Vec<f64>>, FloorError> {
        let (level, seed) = (spec.level, spec.seed);
        let corner = |source| corner_error(&spec.name, source);
        let frequencies = frequencies_hz.iter();
        Ok(match self {
            Self::Spectrum(spectrum) => {
                let floor = spectra::floor(spectrum, level, seed, rate_hz).map_err(corner)?;
                Some(frequencies.map(|&f| floor.density(f)).collect())
            }
            Self::Road(class, speed_mps) => {
                let floor =
                    road::floor(*class, level, *speed_mps, seed, rate_hz).map_err(corner)?;
                Some(frequencies.map(|&f| floor.density(f)).collect())
            }
            Self::Signal(..) | Self::Recording(..) => None,
        })
    }
}

/// All names of floors, in the order of the catalogue.
pub(crate) fn names() -> impl Iterator<Item = &'static str> {
    let signals = SIGNALS.iter().map(|signal| signal.0);
    let spectra = SPECTRA.iter().map(|spectrum| spectrum.name);
    let roads = RoadClass::ALL.into_iter().map(RoadClass::floor_name);
    signals.chain(spectra).chain(roads)
}

/// Path and option text, when the name is that of a recording.
fn recording_path(name: &str) -> Option<(&str, Option<&str>)> {
    let lower = name.to_ascii_lowercase();
    if lower.ends_with(".csv") {
        return Some((name, None));
    }
    let end = lower.rfind(".csv:")? + ".csv".len();
    Some((&name[..end], Some(&name[end + 1..])))
}

fn corner_error(floor: &str, source: CornerError) -> FloorError {
    FloorError::Corner {
        floor: floor.to_owned(),
        source,
    }
}

fn check(
    field: &'static str,
    value: f64,
    min: f64,
    max: f64,
    expected: &'static str,
) -> Result<(), FloorError> {
    if value >= min && value <= max {
        Ok(())
    } else {
        Err(FloorError::BadField {
            field,
            value,
            expected,
        })
    }
}
