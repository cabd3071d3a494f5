//! Options that several commands share, and how their values are read.

use super::Failure;
use host_sim::body::BodyKind;
use host_sim::cores::CoreKind;
use host_sim::fault::{Fault, FaultError};
use host_sim::hunt::Aim;
use host_sim::ride::Arithmetic;
use host_sim::rig::Rig;
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

pub(super) fn travel(text: &str) -> Result<f64, String> {
    ranged(text, 1.0e-4, 10.0, "a number from 0.0001 to 10 (m)")
}

pub(super) fn body(text: &str) -> Result<BodyKind, String> {
    BodyKind::from_name(text).ok_or_else(|| "expected rigid, one-mass or two-mass".to_owned())
}

pub(super) fn arithmetic(text: &str) -> Result<Arithmetic, String> {
    Arithmetic::from_name(text).ok_or_else(|| "expected f32, f64 or fixed".to_owned())
}

pub(super) fn core(text: &str) -> Result<CoreKind, String> {
    CoreKind::from_name(text).ok_or_else(|| "expected host, m4f, m7, m3 or serial:PATH".to_owned())
}

pub(super) fn fault(text: &str) -> Result<Fault, FaultError> {
    text.parse()
}

/// Reads a rig, or takes the default one.
pub(super) fn rig(path: Option<&Path>) -> Result<Rig, Failure> {
    Ok(match path {
        Some(path) => Rig::read(path)?,
        None => Rig::default_machine()?,
    })
}

pub(super) fn hunt_accel(text: &str) -> Result<f64, String> {
    ranged(text, 0.1, 60.0, "a number from 0.1 to 60 (m/s2)")
}

pub(super) fn hunt_jerk(text: &str) -> Result<f64, String> {
    ranged(text, 10.0, 1.0e5, "a number from 10 to 100000 (m/s3)")
}

pub(super) fn hunt_seconds(text: &str) -> Result<f64, String> {
    ranged(text, 0.5, 10.0, "a number from 0.5 to 10 (s)")
}

pub(super) fn hunt_occupant(text: &str) -> Result<f64, String> {
    ranged(text, 20.0, 200.0, "a number from 20 to 200 (kg)")
}

pub(super) fn hunt_limit(text: &str) -> Result<f64, String> {
    ranged(text, 0.0, 1.0e6, "a number of 0 or more")
}

pub(super) fn aim(text: &str) -> Result<Aim, String> {
    let known = || Aim::ALL.into_iter();
    known().find(|aim| aim.name() == text).ok_or_else(|| {
        let names: Vec<&str> = known().map(Aim::name).collect();
        format!("expected one of {}", names.join(", "))
    })
}

pub(super) fn file_stem(text: &str) -> Result<String, String> {
    let plain = |c: char| c.is_ascii_alphanumeric() || "-_".contains(c);
    if !text.is_empty() && text.chars().all(plain) {
        Ok(text.to_owned())
    } else {
        Err("expected letters, digits, - and _".to_owned())
    }
}

pub(super) fn onset(text: &str) -> Result<f64, String> {
    ranged(text, 0.2, 100.0, "a number from 0.2 to 100 (s)")
}

pub(super) fn campaign_hours(text: &str) -> Result<f64, String> {
    ranged(text, 0.0, 1000.0, "a number from 0 to 1000 (h)")
}
