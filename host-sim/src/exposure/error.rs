//! What can be wrong with an input of the exposure figures.

use thiserror::Error;

/// Lowest sample rate the exposure filters accept, Hz.
///
/// At 400 Hz every weighting is inside the ISO 8041-1:2017 Table 5 limits, in
/// magnitude and in phase, at all one-third-octave centres. Below it the
/// 100 Hz band limit comes too close to half the sample rate.
pub const MINIMUM_SAMPLE_RATE_HZ: f64 = 400.0;

/// Highest sample rate the exposure filters accept, Hz.
///
/// Above it the slow poles (0.08 Hz in Wf) lose digits in `f64`.
pub const MAXIMUM_SAMPLE_RATE_HZ: f64 = 100_000.0;

/// Reasons why an exposure figure cannot be given.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum ExposureError {
    /// The sample rate cannot carry the filter.
    #[error(
        "sample_rate_hz: {sample_rate_hz} Hz is out of range; the exposure filters need \
         {MINIMUM_SAMPLE_RATE_HZ} Hz to {MAXIMUM_SAMPLE_RATE_HZ} Hz, resample the record first"
    )]
    SampleRate {
        /// The rate that was asked for, Hz.
        sample_rate_hz: f64,
    },
    /// A value is outside the range its field allows.
    #[error("{field}: got {value}, expected {expected}")]
    Field {
        /// Name of the field, with its unit suffix.
        field: &'static str,
        /// The value that was given.
        value: f64,
        /// What would have been accepted.
        expected: &'static str,
    },
    /// The record holds NaN or infinite samples.
    #[error(
        "acceleration: {count} of {pushed} samples are NaN or infinite, the first at sample \
         {first_index} (counted from 0); expected finite m/s2, no figure is given"
    )]
    NonFiniteSamples {
        /// How many samples were not finite.
        count: u64,
        /// Index of the first of them, from 0.
        first_index: u64,
        /// All samples pushed, the bad ones included.
        pushed: u64,
    },
    /// The samples are finite, but so large that a figure is not.
    #[error("acceleration: samples are too large, {figure} is not a finite number")]
    Overflow {
        /// The figure that overflowed.
        figure: &'static str,
    },
    /// Nothing was left to measure.
    #[error(
        "acceleration: no sample to measure; {pushed} were pushed and the first {skipped} are \
         skipped as settling time"
    )]
    NoSamples {
        /// Samples pushed.
        pushed: u64,
        /// Samples the meter was told to skip.
        skipped: u64,
    },
    /// Two records that must cover the same time do not.
    #[error(
        "duration_s: seat {seat_s} s and floor {floor_s} s differ; expected the same time span"
    )]
    DurationMismatch {
        /// Measured time on the seat, s.
        seat_s: f64,
        /// Measured time on the floor, s.
        floor_s: f64,
    },
    /// A repeated run is too far from the mean of the runs.
    #[error(
        "run {run} (counted from 1): {value} is {deviation_percent:.1} % from the mean {mean}; \
         expected within 5 %"
    )]
    RunSpread {
        /// Number of the run, from 1.
        run: usize,
        /// Its value.
        value: f64,
        /// Mean of all runs.
        mean: f64,
        /// Distance from the mean in per cent.
        deviation_percent: f64,
    },
}

/// Checks a sample rate against the range above.
pub(crate) fn check_sample_rate(sample_rate_hz: f64) -> Result<(), ExposureError> {
    if (MINIMUM_SAMPLE_RATE_HZ..=MAXIMUM_SAMPLE_RATE_HZ).contains(&sample_rate_hz) {
        Ok(())
    } else {
        Err(ExposureError::SampleRate { sample_rate_hz })
    }
}

/// Checks that a value is finite and not negative.
pub(crate) fn check_not_negative(field: &'static str, value: f64) -> Result<(), ExposureError> {
    if value.is_finite() && value >= 0.0 {
        Ok(())
    } else {
        Err(ExposureError::Field {
            field,
            value,
            expected: "a finite number of at least 0",
        })
    }
}

/// Checks that a value is finite and positive.
pub(crate) fn check_positive(field: &'static str, value: f64) -> Result<(), ExposureError> {
    if value.is_finite() && value > 0.0 {
        Ok(())
    } else {
        Err(ExposureError::Field {
            field,
            value,
            expected: "a finite number above 0",
        })
    }
}

/// Settling time in samples, from seconds.
pub(crate) fn skip_samples(skip_s: f64, sample_rate_hz: f64) -> Result<u64, ExposureError> {
    const LONGEST_SKIP_S: f64 = 86_400.0;
    if (0.0..=LONGEST_SKIP_S).contains(&skip_s) {
        Ok((skip_s * sample_rate_hz).round() as u64)
    } else {
        Err(ExposureError::Field {
            field: "skip_s",
            value: skip_s,
            expected: "0 to 86400 s",
        })
    }
}
