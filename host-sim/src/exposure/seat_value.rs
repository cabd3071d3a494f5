//! SEAT value: weighted vibration on the seat over that of the floor.
//!
//! ISO 10326-1:2016, 10.2 (as transcribed by the open-source library
//! phonometry 3.3.0). Below 1 the seat attenuates.

use super::error::{ExposureError, check_not_negative};
use super::meter::ExposureFigures;
use serde::Serialize;

/// SEAT value by weighted r.m.s. and by VDV.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SeatValue {
    /// Ratio of weighted r.m.s. values; `None` when the floor is at rest.
    pub by_rms: Option<f64>,
    /// Ratio of VDVs over the same time; `None` when the floor is at rest.
    pub by_vdv: Option<f64>,
}

impl SeatValue {
    /// From the figures of seat and floor over the same time.
    ///
    /// # Errors
    /// [`ExposureError::DurationMismatch`] when the two durations differ by
    /// more than one part in a million (a VDV depends on the time),
    /// [`ExposureError::Field`] when a figure is negative or not finite.
    pub fn from_figures(
        seat: &ExposureFigures,
        floor: &ExposureFigures,
    ) -> Result<Self, ExposureError> {
        let (seat_s, floor_s) = (seat.duration_s, floor.duration_s);
        check_not_negative("seat duration_s", seat_s)?;
        check_not_negative("floor duration_s", floor_s)?;
        if (seat_s - floor_s).abs() > 1e-6 * floor_s {
            return Err(ExposureError::DurationMismatch { seat_s, floor_s });
        }
        Ok(Self {
            by_rms: seat_over_floor(seat.weighted_rms_mps2, floor.weighted_rms_mps2)?,
            by_vdv: seat_over_floor(seat.vdv_mps175, floor.vdv_mps175)?,
        })
    }
}

/// Ratio of one seat figure to the same floor figure; `None` for a floor at rest.
///
/// # Errors
/// [`ExposureError::Field`] when a figure is negative or not finite.
pub fn seat_over_floor(seat: f64, floor: f64) -> Result<Option<f64>, ExposureError> {
    check_not_negative("seat", seat)?;
    check_not_negative("floor", floor)?;
    Ok((floor > 0.0).then(|| seat / floor))
}

/// Mean of repeated runs, each of which must be within 5 % of it
/// (ISO 10326-1, 10.2.1).
///
/// # Errors
/// [`ExposureError::Field`] without runs or for a negative or non-finite one,
/// [`ExposureError::RunSpread`] for the run furthest outside 5 %.
pub fn mean_of_runs(runs: &[f64]) -> Result<f64, ExposureError> {
    const LARGEST_DEVIATION_PERCENT: f64 = 5.0;
    for &value in runs {
        check_not_negative("runs", value)?;
    }
    if runs.is_empty() {
        return Err(ExposureError::Field {
            field: "runs",
            value: 0.0,
            expected: "at least one run",
        });
    }
    let mean = runs.iter().sum::<f64>() / runs.len() as f64;
    let worst = runs
        .iter()
        .enumerate()
        .map(|(index, &value)| (index, value, 100.0 * (value - mean).abs() / mean))
        .max_by(|a, b| a.2.total_cmp(&b.2));
    match worst {
        Some((index, value, deviation_percent))
            if mean > 0.0 && deviation_percent > LARGEST_DEVIATION_PERCENT =>
        {
            Err(ExposureError::RunSpread {
                run: index + 1,
                value,
                mean,
                deviation_percent,
            })
        }
        _ => Ok(mean),
    }
}

/// Seat figure corrected to the intended floor input (ISO 10326-1, 10.2.3):
/// SEAT value times the intended weighted r.m.s., m/s2.
#[must_use]
pub fn corrected_to_input(seat_value: f64, intended_floor_rms_mps2: f64) -> f64 {
    seat_value * intended_floor_rms_mps2
}
