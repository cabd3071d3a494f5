//! Exposure figures of one acceleration channel (ISO 2631-1:1997, clause 6).

use super::error::{ExposureError, check_sample_rate, skip_samples};
use super::running_rms::{ExponentialWindow, LinearWindow};
use super::weighting::{Weighting, WeightingFilter};
use serde::Serialize;

/// Figures of one channel over the measured time.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ExposureFigures {
    /// Frequency weighting that was used.
    pub weighting: Weighting,
    /// Measured time without the skipped start, s.
    pub duration_s: f64,
    /// Weighted r.m.s. acceleration `a_w` (Eq. 1), m/s2.
    pub weighted_rms_mps2: f64,
    /// Vibration dose value (Eq. 5), m/s^1.75.
    pub vdv_mps175: f64,
    /// Maximum transient vibration value, linear window of 1 s (Eq. 2, 4), m/s2.
    pub mtvv_mps2: f64,
    /// The same with exponential averaging of 1 s (Eq. 3, 4), m/s2.
    pub mtvv_exponential_mps2: f64,
    /// Weighted peak over weighted r.m.s. (6.2.1); `None` without vibration.
    pub crest_factor: Option<f64>,
    /// Largest weighted magnitude, m/s2.
    pub weighted_peak_mps2: f64,
    /// Largest unweighted magnitude, m/s2.
    pub peak_mps2: f64,
}

/// Samples between two looks for states that have decayed to nothing.
const SILENCE_CHECK_MASK: u64 = 0xfff;

/// Streaming meter of one channel. Memory: one second of samples.
#[derive(Debug, Clone)]
pub struct ExposureMeter {
    weighting: Weighting,
    filter: WeightingFilter,
    sample_period_s: f64,
    skipped: u64,
    pushed: u64,
    non_finite: u64,
    first_non_finite: u64,
    sum_of_squares: f64,
    sum_of_fourth_powers: f64,
    weighted_peak: f64,
    peak: f64,
    linear: LinearWindow,
    exponential: ExponentialWindow,
}

impl ExposureMeter {
    /// Meter for a weighting and a sample rate.
    ///
    /// During the first `skip_s` seconds the filters run but nothing is
    /// measured, so that they can settle (0 measures from the start).
    ///
    /// # Errors
    /// [`ExposureError::SampleRate`] outside 400 Hz to 100 kHz,
    /// [`ExposureError::Field`] for a `skip_s` outside 0 to 86400 s.
    pub fn new(
        weighting: Weighting,
        sample_rate_hz: f64,
        skip_s: f64,
    ) -> Result<Self, ExposureError> {
        check_sample_rate(sample_rate_hz)?;
        Ok(Self {
            weighting,
            filter: WeightingFilter::new(weighting, sample_rate_hz)?,
            sample_period_s: 1.0 / sample_rate_hz,
            skipped: skip_samples(skip_s, sample_rate_hz)?,
            pushed: 0,
            non_finite: 0,
            first_non_finite: 0,
            sum_of_squares: 0.0,
            sum_of_fourth_powers: 0.0,
            weighted_peak: 0.0,
            peak: 0.0,
            linear: LinearWindow::new(sample_rate_hz),
            exponential: ExponentialWindow::new(sample_rate_hz),
        })
    }

    /// Takes one acceleration sample, m/s2.
    ///
    /// A NaN or infinite sample is counted and left out of the filter;
    /// [`Self::figures`] then returns an error.
    #[inline]
    pub fn push(&mut self, acceleration_mps2: f64) {
        self.pushed += 1;
        if !acceleration_mps2.is_finite() {
            self.note_non_finite();
            return;
        }
        let weighted = self.filter.step(acceleration_mps2);
        if self.pushed & SILENCE_CHECK_MASK == 0 {
            self.filter.silence();
            self.exponential.silence();
        }
        if self.pushed <= self.skipped {
            return;
        }
        let square = weighted * weighted;
        self.sum_of_squares += square;
        self.sum_of_fourth_powers += square * square;
        self.weighted_peak = self.weighted_peak.max(weighted.abs());
        self.peak = self.peak.max(acceleration_mps2.abs());
        self.linear.push_square(square);
        self.exponential.push_square(square);
    }

    #[cold]
    fn note_non_finite(&mut self) {
        if self.non_finite == 0 {
            self.first_non_finite = self.pushed - 1;
        }
        self.non_finite += 1;
    }

    /// The figures so far. More samples may be pushed afterwards.
    ///
    /// # Errors
    /// [`ExposureError::NonFiniteSamples`] when a sample was NaN or infinite,
    /// [`ExposureError::NoSamples`] when nothing was measured yet,
    /// [`ExposureError::Overflow`] when the samples were too large to square.
    pub fn figures(&self) -> Result<ExposureFigures, ExposureError> {
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
        for (figure, sum) in [
            ("weighted_rms_mps2", self.sum_of_squares),
            ("vdv_mps175", self.sum_of_fourth_powers),
        ] {
            if !sum.is_finite() {
                return Err(ExposureError::Overflow { figure });
            }
        }
        let weighted_rms_mps2 = (self.sum_of_squares / measured as f64).sqrt();
        Ok(ExposureFigures {
            weighting: self.weighting,
            duration_s: measured as f64 * self.sample_period_s,
            weighted_rms_mps2,
            vdv_mps175: (self.sum_of_fourth_powers * self.sample_period_s)
                .sqrt()
                .sqrt(),
            mtvv_mps2: self.linear.largest_rms(),
            mtvv_exponential_mps2: self.exponential.largest_rms(),
            crest_factor: (weighted_rms_mps2 > 0.0).then(|| self.weighted_peak / weighted_rms_mps2),
            weighted_peak_mps2: self.weighted_peak,
            peak_mps2: self.peak,
        })
    }
}
