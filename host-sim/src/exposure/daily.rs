//! Daily exposure and the action and limit values of Directive 2002/44/EC.
//!
//! Multipliers k for a seated person, health: 1.4 in x and y, 1.0 in z
//! (ISO 2631-1:1997, 7.2.3). The daily value is that of the worst axis
//! (Directive 2002/44/EC, Annex, Part B).

use super::error::{ExposureError, check_not_negative, check_positive};
use super::meter::ExposureFigures;
use crate::limits::constant;
use serde::Serialize;

/// Reference duration of A(8), s.
pub const REFERENCE_DAY_S: f64 = 28_800.0;
/// Exposure action value, A(8), m/s2 (Directive 2002/44/EC, Article 3).
pub const ACTION_A8_MPS2: f64 = constant::EXPOSURE_ACTION_A8;
/// Exposure limit value, A(8), m/s2 (Directive 2002/44/EC, Article 3).
pub const LIMIT_A8_MPS2: f64 = constant::EXPOSURE_LIMIT_A8;
/// Exposure action value, VDV, m/s^1.75 (Directive 2002/44/EC, Article 3).
pub const ACTION_VDV_MPS175: f64 = constant::EXPOSURE_ACTION_VDV;
/// Exposure limit value, VDV, m/s^1.75 (Directive 2002/44/EC, Article 3).
pub const LIMIT_VDV_MPS175: f64 = constant::EXPOSURE_LIMIT_VDV;

/// Direction of vibration for a seated person.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
pub enum Axis {
    /// Fore and aft.
    X,
    /// Lateral.
    Y,
    /// Vertical, positive upwards.
    Z,
}

impl Axis {
    /// Multiplier k for health.
    #[must_use]
    pub const fn multiplier(self) -> f64 {
        match self {
            Self::X | Self::Y => 1.4,
            Self::Z => 1.0,
        }
    }

    const fn index(self) -> usize {
        match self {
            Self::X => 0,
            Self::Y => 1,
            Self::Z => 2,
        }
    }
}

/// One task of the day in one direction, figures without the multiplier.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct PartialExposure {
    /// Direction.
    pub axis: Axis,
    /// Weighted r.m.s. acceleration, m/s2.
    pub weighted_rms_mps2: f64,
    /// VDV over the measured time, m/s^1.75.
    pub vdv_mps175: f64,
    /// Time over which it was measured, s.
    pub measured_s: f64,
    /// Time per day the person is exposed to it, s.
    pub exposure_s: f64,
}

impl PartialExposure {
    /// From the figures of a channel and the daily time spent so.
    #[must_use]
    pub const fn from_figures(axis: Axis, figures: &ExposureFigures, exposure_s: f64) -> Self {
        Self {
            axis,
            weighted_rms_mps2: figures.weighted_rms_mps2,
            vdv_mps175: figures.vdv_mps175,
            measured_s: figures.duration_s,
            exposure_s,
        }
    }
}

/// Daily exposure per direction, multipliers included; index 0 is x, 2 is z.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct DailyExposure {
    /// A(8) in x, y, z, m/s2.
    pub a8_per_axis_mps2: [f64; 3],
    /// Daily VDV in x, y, z, m/s^1.75.
    pub vdv_per_axis_mps175: [f64; 3],
}

impl DailyExposure {
    /// Combines the tasks of a day: A(8) in quadrature, VDV by fourth powers.
    ///
    /// An empty list is a day without vibration.
    ///
    /// # Errors
    /// [`ExposureError::Field`] when a figure or time is negative or not
    /// finite, or a measured time is zero.
    pub fn from_partials(partials: &[PartialExposure]) -> Result<Self, ExposureError> {
        let mut squares = [0.0; 3];
        let mut fourth_powers = [0.0; 3];
        for partial in partials {
            let (axis, k) = (partial.axis.index(), partial.axis.multiplier());
            let a8 = partial_a8_mps2(k * partial.weighted_rms_mps2, partial.exposure_s)?;
            let vdv = daily_vdv_mps175(
                k * partial.vdv_mps175,
                partial.measured_s,
                partial.exposure_s,
            )?;
            squares[axis] += a8.powi(2);
            fourth_powers[axis] += vdv.powi(4);
        }
        Ok(Self {
            a8_per_axis_mps2: squares.map(f64::sqrt),
            vdv_per_axis_mps175: fourth_powers.map(|sum| sum.sqrt().sqrt()),
        })
    }

    /// A(8) of the worst axis, m/s2.
    #[must_use]
    pub fn a8_mps2(&self) -> f64 {
        self.a8_per_axis_mps2.into_iter().fold(0.0, f64::max)
    }

    /// Daily VDV of the worst axis, m/s^1.75.
    #[must_use]
    pub fn vdv_mps175(&self) -> f64 {
        self.vdv_per_axis_mps175.into_iter().fold(0.0, f64::max)
    }
}

/// Contribution of one task to A(8), m/s2: `a sqrt(T / 8 h)`.
///
/// `weighted_rms_mps2` already holds the multiplier of its axis.
///
/// # Errors
/// [`ExposureError::Field`] when an argument is negative or not finite.
pub fn partial_a8_mps2(weighted_rms_mps2: f64, exposure_s: f64) -> Result<f64, ExposureError> {
    check_not_negative("weighted_rms_mps2", weighted_rms_mps2)?;
    check_not_negative("exposure_s", exposure_s)?;
    Ok(weighted_rms_mps2 * (exposure_s / REFERENCE_DAY_S).sqrt())
}

/// VDV scaled from the measured time to the daily time:
/// `VDV (T / Tm)^(1/4)`, m/s^1.75.
///
/// # Errors
/// [`ExposureError::Field`] when an argument is negative or not finite, or
/// the measured time is zero.
pub fn daily_vdv_mps175(
    vdv_mps175: f64,
    measured_s: f64,
    exposure_s: f64,
) -> Result<f64, ExposureError> {
    check_not_negative("vdv_mps175", vdv_mps175)?;
    check_positive("measured_s", measured_s)?;
    check_not_negative("exposure_s", exposure_s)?;
    Ok(vdv_mps175 * (exposure_s / measured_s).sqrt().sqrt())
}

/// Daily time until A(8) reaches the action value, s; `None`: never (no
/// vibration). The answer may be longer than a day.
///
/// # Errors
/// [`ExposureError::Field`] when the acceleration is negative or not finite.
pub fn seconds_to_action(weighted_rms_mps2: f64) -> Result<Option<f64>, ExposureError> {
    seconds_to_a8(weighted_rms_mps2, ACTION_A8_MPS2)
}

/// Daily time until A(8) reaches the limit value, s; `None`: never.
///
/// # Errors
/// [`ExposureError::Field`] when the acceleration is negative or not finite.
pub fn seconds_to_limit(weighted_rms_mps2: f64) -> Result<Option<f64>, ExposureError> {
    seconds_to_a8(weighted_rms_mps2, LIMIT_A8_MPS2)
}

/// Daily time until the VDV reaches the action value, s; `None`: never.
///
/// # Errors
/// [`ExposureError::Field`] when the VDV is negative or not finite, or the
/// measured time is not positive.
pub fn seconds_to_action_vdv(
    vdv_mps175: f64,
    measured_s: f64,
) -> Result<Option<f64>, ExposureError> {
    seconds_to_vdv(vdv_mps175, measured_s, ACTION_VDV_MPS175)
}

/// Daily time until the VDV reaches the limit value, s; `None`: never.
///
/// # Errors
/// [`ExposureError::Field`] when the VDV is negative or not finite, or the
/// measured time is not positive.
pub fn seconds_to_limit_vdv(
    vdv_mps175: f64,
    measured_s: f64,
) -> Result<Option<f64>, ExposureError> {
    seconds_to_vdv(vdv_mps175, measured_s, LIMIT_VDV_MPS175)
}

fn seconds_to_a8(weighted_rms_mps2: f64, target_mps2: f64) -> Result<Option<f64>, ExposureError> {
    check_not_negative("weighted_rms_mps2", weighted_rms_mps2)?;
    let seconds = REFERENCE_DAY_S * (target_mps2 / weighted_rms_mps2).powi(2);
    Ok(seconds.is_finite().then_some(seconds))
}

fn seconds_to_vdv(
    vdv_mps175: f64,
    measured_s: f64,
    target_mps175: f64,
) -> Result<Option<f64>, ExposureError> {
    check_not_negative("vdv_mps175", vdv_mps175)?;
    check_positive("measured_s", measured_s)?;
    let seconds = measured_s * (target_mps175 / vdv_mps175).powi(4);
    Ok(seconds.is_finite().then_some(seconds))
}
