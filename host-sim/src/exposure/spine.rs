//! Spinal response and acceleration dose of ISO 2631-5:2018, clause 5.
//!
//! Vertical axis only. Formulae and constants as transcribed by the
//! open-source library phonometry.
//!
//! Sign: acceleration of the seat is positive **upwards**, and gravity is not
//! part of it. An upward acceleration presses the body onto the seat, so a
//! positive response is compression. Only positive peaks count.
//!
//! The filter passes 0 Hz with gain 1. The input must be free of an offset;
//! an accelerometer that measures gravity needs it taken off first.

use super::biquad::{Biquad, Section};
use super::error::{ExposureError, check_positive, check_sample_rate, skip_samples};
use nalgebra::Complex;
use serde::Serialize;
use std::f64::consts::PI;

/// Zero pair of the seat-to-spine filter: rad/s, damping ratio (Formula 1).
pub const ZERO: (f64, f64) = (34.0, 0.35);

/// Pole pairs of the seat-to-spine filter: rad/s, damping ratio (Formula 1).
pub const POLES: [(f64, f64); 6] = [
    (31.0, 0.21),
    (230.0, 0.88),
    (260.0, 0.80),
    (320.0, 0.40),
    (380.0, 0.75),
    (420.0, 0.65),
];

/// Factor of the dose (Formula 3).
pub const DOSE_FACTOR: f64 = 1.07;

/// `[1/w^2, 2 zeta/w, 1]`, unity at 0 Hz.
fn unity_quadratic((rate, damping): (f64, f64)) -> [f64; 3] {
    [1.0 / (rate * rate), 2.0 * damping / rate, 1.0]
}

/// Seat-to-spine response of the formula at `frequency_hz`.
#[must_use]
pub fn seat_to_spine_response(frequency_hz: f64) -> Complex<f64> {
    let s = Complex::new(0.0, 2.0 * PI * frequency_hz);
    let value = |pair| {
        let [c2, c1, c0] = unity_quadratic(pair);
        s * s * c2 + s * c1 + c0
    };
    POLES
        .into_iter()
        .fold(value(ZERO), |h, pole| h / value(pole))
}

/// Digital seat-to-spine filter, starting from rest.
///
/// Each pole pair is a bilinear section, prewarped to be exact at the natural
/// frequency of the pair. Error of the magnitude against the formula up to
/// 80 Hz: 0.009 at 400 Hz, 0.0015 at 1 kHz. Clause 5.2 allows 0.04 up to 40 Hz and
/// 0.08 up to 80 Hz.
#[derive(Debug, Clone)]
pub struct SpineFilter {
    sections: [Section; POLES.len()],
    sample_rate_hz: f64,
}

impl SpineFilter {
    /// Designs the filter for a sample rate.
    ///
    /// # Errors
    /// [`ExposureError::SampleRate`] outside 400 Hz to 100 kHz.
    pub fn new(sample_rate_hz: f64) -> Result<Self, ExposureError> {
        check_sample_rate(sample_rate_hz)?;
        let mut first = true;
        let sections = POLES.map(|pole| {
            let numerator = if std::mem::take(&mut first) {
                unity_quadratic(ZERO)
            } else {
                [0.0, 0.0, 1.0]
            };
            Section::at_rest(Biquad::bilinear_exact_at(
                numerator,
                unity_quadratic(pole),
                sample_rate_hz,
                pole.0 / (2.0 * PI),
            ))
        });
        Ok(Self {
            sections,
            sample_rate_hz,
        })
    }

    /// Filters one sample of seat acceleration, m/s2, to the spinal response.
    #[inline]
    pub fn step(&mut self, acceleration_mps2: f64) -> f64 {
        self.sections
            .iter_mut()
            .fold(acceleration_mps2, |value, section| section.step(value))
    }

    /// Complex response of the digital filter at `frequency_hz`.
    #[must_use]
    pub fn response(&self, frequency_hz: f64) -> Complex<f64> {
        self.sections
            .iter()
            .map(|section| section.biquad().response(frequency_hz, self.sample_rate_hz))
            .product()
    }

    fn silence(&mut self) {
        self.sections.iter_mut().for_each(Section::silence);
    }
}

/// Sum of sixth powers of the positive response peaks.
///
/// A peak is the largest value between two zero crossings (clause 5.3).
#[derive(Debug, Clone, Copy, Default)]
pub struct PeakDose {
    sum_of_sixth_powers: f64,
    open_peak: f64,
    largest: f64,
    peaks: u64,
}

impl PeakDose {
    /// Takes the next value of the spinal response, m/s2.
    #[inline]
    pub fn push(&mut self, response_mps2: f64) {
        if response_mps2 > 0.0 {
            self.open_peak = self.open_peak.max(response_mps2);
        } else if self.open_peak > 0.0 {
            self.close();
        }
    }

    fn close(&mut self) {
        self.sum_of_sixth_powers += self.open_peak.powi(6);
        self.largest = self.largest.max(self.open_peak);
        self.peaks += 1;
        self.open_peak = 0.0;
    }

    /// The same with a peak that is still open counted in.
    #[must_use]
    fn closed(mut self) -> Self {
        if self.open_peak > 0.0 {
            self.close();
        }
        self
    }

    /// Acceleration dose `D_z` (Formula 3), m/s2.
    #[must_use]
    pub fn dose_mps2(&self) -> f64 {
        DOSE_FACTOR * self.closed().sum_of_sixth_powers.powf(1.0 / 6.0)
    }
}

/// Figures of the spinal response over the measured time.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SpineFigures {
    /// Measured time without the skipped start, s.
    pub duration_s: f64,
    /// Acceleration dose `D_z`, m/s2.
    pub dose_mps2: f64,
    /// Largest positive (compressive) response peak, m/s2; 0 without one.
    pub largest_peak_mps2: f64,
    /// Number of positive response peaks.
    pub peaks: u64,
}

/// Samples between two looks for states that have decayed to nothing.
const SILENCE_CHECK_MASK: u64 = 0xfff;

/// Streaming dose meter of the vertical seat acceleration.
#[derive(Debug, Clone)]
pub struct SpineMeter {
    filter: SpineFilter,
    dose: PeakDose,
    sample_period_s: f64,
    skipped: u64,
    pushed: u64,
    non_finite: u64,
    first_non_finite: u64,
}

impl SpineMeter {
    /// Meter for a sample rate; the first `skip_s` seconds only settle the filter.
    ///
    /// # Errors
    /// [`ExposureError::SampleRate`] outside 400 Hz to 100 kHz,
    /// [`ExposureError::Field`] for a `skip_s` outside 0 to 86400 s.
    pub fn new(sample_rate_hz: f64, skip_s: f64) -> Result<Self, ExposureError> {
        Ok(Self {
            filter: SpineFilter::new(sample_rate_hz)?,
            dose: PeakDose::default(),
            sample_period_s: 1.0 / sample_rate_hz,
            skipped: skip_samples(skip_s, sample_rate_hz)?,
            pushed: 0,
            non_finite: 0,
            first_non_finite: 0,
        })
    }

    /// Takes one sample of seat acceleration, positive upwards, m/s2.
    ///
    /// A NaN or infinite sample is counted and left out of the filter;
    /// [`Self::figures`] then returns an error.
    #[inline]
    pub fn push(&mut self, acceleration_mps2: f64) {
        self.pushed += 1;
        if !acceleration_mps2.is_finite() {
            if self.non_finite == 0 {
                self.first_non_finite = self.pushed - 1;
            }
            self.non_finite += 1;
            return;
        }
        let response = self.filter.step(acceleration_mps2);
        if self.pushed & SILENCE_CHECK_MASK == 0 {
            self.filter.silence();
        }
        if self.pushed > self.skipped {
            self.dose.push(response);
        }
    }

    /// The figures so far. A peak that is still open counts.
    ///
    /// # Errors
    /// [`ExposureError::NonFiniteSamples`] when a sample was NaN or infinite,
    /// [`ExposureError::NoSamples`] when nothing was measured yet,
    /// [`ExposureError::Overflow`] when the samples were too large.
    pub fn figures(&self) -> Result<SpineFigures, ExposureError> {
        if self.non_finite > 0 {
            return Err(ExposureError::NonFiniteSamples {
                count: self.non_finite,
                first_index: self.first_non_finite,
                pushed: self.pushed,
            });
        }
        let measured = self.pushed.saturating_sub(self.skipped);
        if measured == 0 {
            return Err(ExposureError::NoSamples {
                pushed: self.pushed,
                skipped: self.skipped,
            });
        }
        let dose = self.dose.closed();
        let states_are_finite = self.filter.sections.iter().all(Section::is_finite);
        if !(dose.sum_of_sixth_powers.is_finite() && states_are_finite) {
            return Err(ExposureError::Overflow {
                figure: "dose_mps2",
            });
        }
        Ok(SpineFigures {
            duration_s: measured as f64 * self.sample_period_s,
            dose_mps2: dose.dose_mps2(),
            largest_peak_mps2: dose.largest,
            peaks: dose.peaks,
        })
    }
}

/// Dose scaled from the measured time to the daily time:
/// `D_zd = D_z (td / tm)^(1/6)` (Formula 4), m/s2.
///
/// # Errors
/// [`ExposureError::Field`] when the dose is negative or not finite, or a
/// time is not positive.
pub fn daily_dose_mps2(
    dose_mps2: f64,
    measured_s: f64,
    exposure_s: f64,
) -> Result<f64, ExposureError> {
    super::error::check_not_negative("dose_mps2", dose_mps2)?;
    check_positive("measured_s", measured_s)?;
    check_positive("exposure_s", exposure_s)?;
    Ok(dose_mps2 * (exposure_s / measured_s).powf(1.0 / 6.0))
}

/// Daily dose of several tasks from their daily doses: sixth root of the sum
/// of sixth powers (Formula 5), m/s2.
#[must_use]
pub fn combined_daily_dose_mps2(daily_doses_mps2: &[f64]) -> f64 {
    daily_doses_mps2
        .iter()
        .map(|dose| dose.powi(6))
        .sum::<f64>()
        .powf(1.0 / 6.0)
}
