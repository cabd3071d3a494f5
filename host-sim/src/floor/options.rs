//! Options written behind a floor's name: `edge:flank=0.08,height=0.04`.

use super::error::FloorError;
use crate::units;

/// One numeric option of a floor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct OptionSpec {
    /// Key, as written before the equals sign.
    pub(crate) key: &'static str,
    /// Unit of the value.
    pub(crate) unit: &'static str,
    /// Value when the option is not given; `None` when it depends on others (see `about`).
    pub(crate) default: Option<f64>,
    /// Least permitted value.
    pub(crate) min: f64,
    /// Greatest permitted value.
    pub(crate) max: f64,
    /// What it does.
    pub(crate) about: &'static str,
}

/// Shorthand for the tables of options.
pub(crate) const fn option(
    key: &'static str,
    unit: &'static str,
    default: Option<f64>,
    min: f64,
    max: f64,
    about: &'static str,
) -> OptionSpec {
    OptionSpec {
        key,
        unit,
        default,
        min,
        max,
        about,
    }
}

/// Values of a floor's options: as given, or else the defaults.
#[derive(Debug, Clone)]
pub(crate) struct Options {
    floor: String,
    values: Vec<(OptionSpec, Option<f64>)>,
}

/// Splits `key=value,key=value`.
pub(crate) fn pairs<'a>(floor: &str, text: &'a str) -> Result<Vec<(&'a str, &'a str)>, FloorError> {
    text.split(',')
        .map(|part| {
            part.split_once('=')
                .map(|(key, value)| (key.trim(), value.trim()))
                .ok_or_else(|| FloorError::BadOption {
                    floor: floor.to_owned(),
                    key: part.trim().to_owned(),
                    value: part.to_owned(),
                    expected: "key=value pairs separated by commas, such as f=2,rms=1".to_owned(),
                })
        })
        .collect()
}

impl Options {
    /// Reads `text` (what follows the colon, if there is one) against the table `known`.
    pub(crate) fn parse(
        floor: &str,
        text: Option<&str>,
        known: &[OptionSpec],
    ) -> Result<Self, FloorError> {
        let mut options = Self {
            floor: floor.to_owned(),
            values: known.iter().map(|spec| (*spec, None)).collect(),
        };
        let Some(text) = text else {
            return Ok(options);
        };
        for (key, value) in pairs(floor, text)? {
            let Some((spec, slot)) = options.values.iter_mut().find(|(spec, _)| spec.key == key)
            else {
                return Err(FloorError::UnknownOption {
                    floor: floor.to_owned(),
                    key: key.to_owned(),
                    expected: listing(known),
                });
            };
            let bad = |expected: String| FloorError::BadOption {
                floor: floor.to_owned(),
                key: key.to_owned(),
                value: value.to_owned(),
                expected,
            };
            if slot.is_some() {
                return Err(bad("each option once".to_owned()));
            }
            match value.parse::<f64>() {
                Ok(number) if number >= spec.min && number <= spec.max => *slot = Some(number),
                _ => return Err(bad(range(spec))),
            }
        }
        Ok(options)
    }

    /// The value of `key`, or its default; `None` when neither is there.
    pub(crate) fn given(&self, key: &str) -> Option<f64> {
        self.values
            .iter()
            .find(|(spec, _)| spec.key == key)
            .and_then(|(spec, value)| value.or(spec.default))
    }

    /// The value of `key`, or its default; `fallback` when neither is there.
    pub(crate) fn value_or(&self, key: &str, fallback: f64) -> f64 {
        self.given(key).unwrap_or(fallback)
    }

    /// An error about `key` as a whole: its value does not go with the others.
    pub(crate) fn refuse(&self, key: &str, expected: String) -> FloorError {
        FloorError::BadOption {
            floor: self.floor.clone(),
            key: key.to_owned(),
            value: self.given(key).map_or_else(String::new, |v| v.to_string()),
            expected,
        }
    }
}

fn range(spec: &OptionSpec) -> String {
    let most = units::beside(spec.max, spec.unit);
    format!("a number from {} to {most}", spec.min)
}

/// The options of a floor in one line, for error messages and the catalogue.
#[must_use]
pub(crate) fn listing(known: &[OptionSpec]) -> String {
    if known.is_empty() {
        return "no options".to_owned();
    }
    known
        .iter()
        .map(|spec| format!("{} ({})", spec.key, range(spec)))
        .collect::<Vec<_>>()
        .join(", ")
}
