//! Options that several commands share, and how their values are read.

use super::Failure;
use host_sim::body::BodyKind;
use host_sim::design;
use host_sim::ride::Arithmetic;
use host_sim::rig::{Rig, RigError};
use host_sim::toml_place::{field_at, find_field, place_of, plain_words};
use std::path::Path;

/// Reads a number within `lo..=hi`, for clap.
fn ranged(text: &str, lo: f64, hi: f64, expected: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(x) if x >= lo && x <= hi => Ok(x),
        _ => Err(format!("expected {expected}")),
    }
}

pub(super) fn level(text: &str) -> Result<f64, String> {
    ranged(text, 0.0, 100.0, "a number from 0 to 100")
}

pub(super) fn speed(text: &str) -> Result<f64, String> {
    ranged(text, 1.0, 60.0, "a number from 1 to 60 (m/s)")
}

pub(super) fn seconds(text: &str) -> Result<f64, String> {
    ranged(text, 0.1, 1.0e6, "a number from 0.1 to 1000000 (s)")
}

pub(super) fn skip(text: &str) -> Result<f64, String> {
    ranged(text, 0.0, 1.0e6, "a number from 0 to 1000000 (s)")
}

pub(super) fn occupant(text: &str) -> Result<f64, String> {
    let expected = "0 for nobody, or a number from 20 to 200 (kg)";
    match text.parse::<f64>() {
        Ok(0.0) => Ok(0.0),
        _ => ranged(text, 20.0, 200.0, expected),
    }
}

pub(super) fn frequency(text: &str) -> Result<f64, String> {
    ranged(text, 0.05, 125.0, "a number from 0.05 to 125 (Hz)")
}

pub(super) fn hours(text: &str) -> Result<f64, String> {
    ranged(text, 0.0, 24.0, "a number from 0 to 24 (h)")
}

pub(super) fn floor_rms(text: &str) -> Result<f64, String> {
    ranged(text, 0.01, 40.0, "a number from 0.01 to 40 (m/s2)")
}

pub(super) fn amplitude(text: &str) -> Result<f64, String> {
    ranged(text, 1.0e-4, 1.0, "a number from 0.0001 to 1 (m)")
}

pub(super) fn body(text: &str) -> Result<BodyKind, String> {
    BodyKind::from_name(text).ok_or_else(|| "expected rigid, one-mass or two-mass".to_owned())
}

pub(super) fn arithmetic(text: &str) -> Result<Arithmetic, String> {
    [Arithmetic::F32, Arithmetic::F64, Arithmetic::Fixed]
        .into_iter()
        .find(|a| a.name() == text)
        .ok_or_else(|| "expected f32, f64 or fixed".to_owned())
}

/// Reads a rig, or takes the default one, and makes sure that the firmware accepts it.
pub(super) fn rig(path: Option<&Path>) -> Result<Rig, Failure> {
    let Some(path) = path else {
        return Ok(Rig::default_machine()?);
    };
    let text = std::fs::read_to_string(path).map_err(|source| {
        format!(
            "{}: cannot be read: {source}: expected a rig in TOML; \
             `becalm rig show` prints one to start from",
            path.display()
        )
    })?;
    // Read once for what is no rig in TOML, with its place, and once for the values.
    if let Err(error) = toml::from_str::<Rig>(&text) {
        let span = error.span().unwrap_or(0..0);
        let place = place_of(path, &text, &span);
        let field = field_at(&text, &span).map_or_else(String::new, |field| format!("{field}: "));
        return Err(format!("{place}: {field}{}", plain_words(error.message())).into());
    }
    let rig = Rig::from_toml(&text, path).map_err(|error| match error {
        RigError::Value {
            field,
            value,
            expected,
            ..
        } => {
            let place = find_field(path, &text, &field);
            format!("{place}: {field} = {value}: expected {expected}")
        }
        other => other.to_string(),
    })?;
    let parameters = design::parameters(&rig)
        .map_err(|error| format!("{}: section observer: {error}", path.display()))?;
    if let Err(error) = firmware::Cycle::<f32>::new(&parameters) {
        let field = format!("firmware.{}", error.field);
        let place = find_field(path, &text, &field);
        // What is designed from other sections has no line of its own.
        let field = if place.line == 0 { error.field } else { &field };
        let (value, expected) = (error.value, error.expected);
        return Err(format!("{place}: {field} = {value}: expected {expected}").into());
    }
    Ok(rig)
}
