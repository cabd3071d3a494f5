//! A fault from its name and numbers, as the command line and scenario files give them.

use super::catalogue::{self, Argument, Entry, Lasts};
use super::{Fault, catalogue::catalogue};
use crate::units;
use std::str::FromStr;

/// Why a text is no fault.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum FaultError {
    /// The name.
    #[error("{}", unknown_name(.0))]
    Unknown(String),
    /// No `key=value`.
    #[error("'{0}': expected key=value with the key onset, duration, size or every")]
    Syntax(String),
    /// Not a number.
    #[error("{key} = '{text}': expected a number")]
    Number {
        /// Which.
        key: &'static str,
        /// The text found.
        text: String,
    },
    /// A number that cannot be used.
    #[error("{key} = {value}: expected {expected}")]
    Value {
        /// Which.
        key: &'static str,
        /// The number found.
        value: f64,
        /// What was expected.
        expected: String,
    },
}

/// What to say about a name that no fault has.
fn unknown_name(name: &str) -> String {
    let shares = |known: &str| {
        known
            .split('-')
            .any(|word| word.len() > 2 && name.contains(word))
    };
    let near: Vec<&str> = catalogue()
        .iter()
        .map(|e| e.name.as_str())
        .filter(|known| !name.is_empty() && (known.contains(name) || shares(known)))
        .take(8)
        .collect();
    let near = match near.len() {
        0 => String::new(),
        _ => format!(" such as {}", near.join(", ")),
    };
    format!("unknown fault '{name}': expected a name from `becalm ride --list-faults`{near}")
}

/// Numbers that may be given with a fault.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Given {
    pub(crate) onset_s: Option<f64>,
    pub(crate) duration_s: Option<f64>,
    pub(crate) size: Option<f64>,
    pub(crate) every_s: Option<f64>,
}

/// The longest time that may be given, s.
const TIME_MAX_S: f64 = 1.0e6;

fn checked(
    key: &'static str,
    value: Option<f64>,
    argument: Option<&Argument>,
) -> Result<Option<f64>, FaultError> {
    let Some(value) = value else {
        return Ok(None);
    };
    let expected = match argument {
        None => "none: this kind of fault has no such number".to_owned(),
        Some(a) if value >= a.low && value <= a.high => return Ok(Some(value)),
        Some(a) => format!(
            "{}, {} to {}",
            a.about,
            a.low,
            units::beside(a.high, a.unit)
        ),
    };
    Err(FaultError::Value {
        key,
        value,
        expected,
    })
}

const fn time(about: &'static str) -> Argument {
    Argument {
        about,
        unit: "s",
        default: 0.0,
        low: 0.0,
        high: TIME_MAX_S,
    }
}

impl Fault {
    /// A fault of a kind with some of its numbers given.
    ///
    /// # Errors
    /// [`FaultError::Value`].
    pub(crate) fn with(entry: &Entry, given: &Given) -> Result<Self, FaultError> {
        let usual = Self::usual(entry);
        let lasts = (entry.lasts != Lasts::Moment).then_some(time("how long"));
        let onset = checked("onset", given.onset_s, Some(&time("when it begins")))?;
        let duration = checked("duration", given.duration_s, lasts.as_ref())?;
        let size = checked("size", given.size, entry.size.as_ref())?;
        let every = checked("every", given.every_s, entry.every.as_ref())?;
        Ok(Self {
            kind: usual.kind,
            onset_s: onset.unwrap_or(usual.onset_s),
            duration_s: duration.unwrap_or(usual.duration_s),
            size: size.unwrap_or(usual.size),
            every_s: every.unwrap_or(usual.every_s),
        })
    }
}

impl FromStr for Fault {
    type Err = FaultError;

    /// `NAME` or `NAME:key=value,...` with the keys `onset`, `duration`, `size` and `every`.
    fn from_str(text: &str) -> Result<Self, FaultError> {
        let (name, rest) = text.split_once(':').unwrap_or((text, ""));
        let entry = catalogue::by_name(name).ok_or_else(|| FaultError::Unknown(name.to_owned()))?;
        let mut given = Given::default();
        for part in rest.split(',').filter(|part| !part.is_empty()) {
            let syntax = || FaultError::Syntax(part.to_owned());
            let (key, value) = part.split_once('=').ok_or_else(syntax)?;
            let (key, place) = match key {
                "onset" => ("onset", &mut given.onset_s),
                "duration" => ("duration", &mut given.duration_s),
                "size" => ("size", &mut given.size),
                "every" => ("every", &mut given.every_s),
                _ => return Err(syntax()),
            };
            let number = value.parse().map_err(|_| FaultError::Number {
                key,
                text: value.to_owned(),
            })?;
            *place = Some(number);
        }
        Self::with(entry, &given)
    }
}
