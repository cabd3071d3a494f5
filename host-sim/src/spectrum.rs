//! Spectra of sampled signals by Welch's method: density, cross-spectrum, transmissibility, coherence.
//!
//! Segments of even length overlap by half; from each its mean is taken off, then a (periodic) Hann
//! window is applied. Densities are one-sided, in (unit of signal)^2/Hz. Samples are pushed one by one,
//! so memory does not grow with the length of the signal.

use rustfft::num_complex::Complex;
use rustfft::{Fft, FftPlanner};
use std::f64::consts::PI;
use std::sync::Arc;

/// Why a spectrum could not be had.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum SpectrumError {
    /// Segment length.
    #[error("segment of {0} samples: expected an even number from 8 to 16777216")]
    Segment(usize),
    /// Sample rate.
    #[error("sample rate {0} Hz: expected a positive number")]
    Rate(f64),
    /// Not one whole segment.
    #[error("{found} samples: expected at least one segment of {expected}")]
    TooShort {
        /// Samples that were pushed.
        found: usize,
        /// Samples that one segment takes.
        expected: usize,
    },
}

/// Power density spectrum of one signal.
#[derive(Debug, Clone, PartialEq)]
pub struct PowerSpectrum {
    /// Frequencies, Hz, from 0 to half of the sample rate.
    pub frequency_hz: Vec<f64>,
    /// One-sided density, unit^2/Hz.
    pub density: Vec<f64>,
    /// Number of segments averaged.
    pub segments: usize,
}

/// Spectra of an input and an output.
#[derive(Debug, Clone, PartialEq)]
pub struct CrossSpectrum {
    /// Frequencies, Hz, from 0 to half of the sample rate.
    pub frequency_hz: Vec<f64>,
    /// One-sided density of the input.
    pub input_density: Vec<f64>,
    /// One-sided density of the output.
    pub output_density: Vec<f64>,
    /// One-sided cross-density, conj(input) x output.
    pub cross_density: Vec<Complex<f64>>,
    /// Number of segments averaged.
    pub segments: usize,
}

/// Collects the samples of an input and an output.
pub struct Welch {
    sample_rate_hz: f64,
    window: Vec<f64>,
    fft: Arc<dyn Fft<f64>>,
    scratch: Vec<Complex<f64>>,
    buffer: Vec<Complex<f64>>,
    input: Vec<f64>,
    output: Vec<f64>,
    input_sum: Vec<f64>,
    output_sum: Vec<f64>,
    cross_sum: Vec<Complex<f64>>,
    segments: usize,
}

impl Welch {
    /// Starts with segments of `segment` samples (even, 8 or more).
    ///
    /// # Errors
    /// [`SpectrumError`] for a segment or a rate out of range.
    pub fn new(sample_rate_hz: f64, segment: usize) -> Result<Self, SpectrumError> {
        if !(8..=1 << 24).contains(&segment) || !segment.is_multiple_of(2) {
            return Err(SpectrumError::Segment(segment));
        }
        if !(sample_rate_hz > 0.0 && sample_rate_hz.is_finite()) {
            return Err(SpectrumError::Rate(sample_rate_hz));
        }
        let fft = FftPlanner::new().plan_fft_forward(segment);
        let bins = segment / 2 + 1;
        Ok(Self {
            sample_rate_hz,
            window: (0..segment)
                .map(|i| 0.5 - 0.5 * (2.0 * PI * i as f64 / segment as f64).cos())
                .collect(),
            scratch: vec![Complex::default(); fft.get_inplace_scratch_len()],
            fft,
            buffer: vec![Complex::default(); segment],
            input: Vec::with_capacity(segment),
            output: Vec::with_capacity(segment),
            input_sum: vec![0.0; bins],
            output_sum: vec![0.0; bins],
            cross_sum: vec![Complex::default(); bins],
            segments: 0,
        })
    }

    /// Takes one sample of each signal.
    pub fn push(&mut self, input: f64, output: f64) {
        self.input.push(input);
        self.output.push(output);
        let segment = self.window.len();
        if self.input.len() == segment {
            self.add_segment();
            self.input.drain(..segment / 2);
            self.output.drain(..segment / 2);
        }
    }

    /// Both real signals go through one complex transform, and are parted by symmetry.
    fn add_segment(&mut self) {
        let segment = self.window.len();
        let mean = |values: &[f64]| values.iter().sum::<f64>() / segment as f64;
        let (mean_in, mean_out) = (mean(&self.input), mean(&self.output));
        for (i, slot) in self.buffer.iter_mut().enumerate() {
            *slot =
                Complex::new(self.input[i] - mean_in, self.output[i] - mean_out) * self.window[i];
        }
        self.fft
            .process_with_scratch(&mut self.buffer, &mut self.scratch);
        for bin in 0..=segment / 2 {
            let forward = self.buffer[bin];
            let mirrored = self.buffer[(segment - bin) % segment].conj();
            let input = (forward + mirrored) * 0.5;
            let output = (forward - mirrored) * Complex::new(0.0, -0.5);
            self.input_sum[bin] += input.norm_sqr();
            self.output_sum[bin] += output.norm_sqr();
            self.cross_sum[bin] += input.conj() * output;
        }
        self.segments += 1;
    }

    /// The averages over all whole segments.
    ///
    /// # Errors
    /// [`SpectrumError::TooShort`] before the first whole segment.
    pub fn finish(self) -> Result<CrossSpectrum, SpectrumError> {
        let segment = self.window.len();
        if self.segments == 0 {
            return Err(SpectrumError::TooShort {
                found: self.input.len(),
                expected: segment,
            });
        }
        let power: f64 = self.window.iter().map(|w| w * w).sum();
        let scale = 1.0 / (self.sample_rate_hz * power * self.segments as f64);
        let factor = |bin: usize| {
            if bin == 0 || bin == segment / 2 {
                scale
            } else {
                2.0 * scale
            }
        };
        let scaled = |sums: &[f64]| -> Vec<f64> {
            sums.iter()
                .enumerate()
                .map(|(bin, sum)| sum * factor(bin))
                .collect()
        };
        Ok(CrossSpectrum {
            frequency_hz: (0..=segment / 2)
                .map(|bin| bin as f64 * self.sample_rate_hz / segment as f64)
                .collect(),
            input_density: scaled(&self.input_sum),
            output_density: scaled(&self.output_sum),
            cross_density: self
                .cross_sum
                .iter()
                .enumerate()
                .map(|(bin, sum)| sum * factor(bin))
                .collect(),
            segments: self.segments,
        })
    }
}

/// Density of one signal in segments of `segment` samples.
///
/// # Errors
/// [`SpectrumError`] as [`Welch::new`] and [`Welch::finish`].
pub fn welch(
    samples: impl IntoIterator<Item = f64>,
    sample_rate_hz: f64,
    segment: usize,
) -> Result<PowerSpectrum, SpectrumError> {
    let mut welch = Welch::new(sample_rate_hz, segment)?;
    for sample in samples {
        welch.push(sample, 0.0);
    }
    let both = welch.finish()?;
    Ok(PowerSpectrum {
        frequency_hz: both.frequency_hz,
        density: both.input_density,
        segments: both.segments,
    })
}

/// Number of independent averages that `segments` half-overlapping Hann segments are worth:
/// K / (1 + 2 (K - 1) / (36 K)), as neighbouring segments share a correlation of 1/6 (Welch 1967).
#[must_use]
pub fn independent_averages(segments: usize) -> f64 {
    let k = segments as f64;
    if segments == 0 {
        return 0.0;
    }
    k / (1.0 + (k - 1.0) / (18.0 * k))
}

/// Factors on an estimated density that bound the true one with 95 % confidence, for a Gaussian signal
/// and `averages` independent averages (see [`independent_averages`]): 2 x averages degrees of freedom
/// over the chi-square quantiles, these by the approximation of Wilson and Hilferty (better than 1 %
/// from 5 averages).
#[must_use]
pub fn density_bounds_95(averages: f64) -> (f64, f64) {
    let spread = 2.0 / (9.0 * 2.0 * averages);
    let quantile = |z: f64| (1.0 - spread + z * spread.sqrt()).powi(3).max(0.0);
    (1.0 / quantile(1.959_964), 1.0 / quantile(-1.959_964))
}

impl CrossSpectrum {
    /// Transfer function H1 = cross-density / input density: least squares when the noise is in the
    /// output. Zero where the input has no power.
    #[must_use]
    pub fn transfer(&self) -> Vec<Complex<f64>> {
        self.cross_density
            .iter()
            .zip(&self.input_density)
            .map(|(cross, &input)| {
                if input > 0.0 {
                    cross / input
                } else {
                    Complex::default()
                }
            })
            .collect()
    }

    /// Magnitude-squared coherence, 0 to 1. Always 1 with a single segment. Zero without power.
    #[must_use]
    pub fn coherence(&self) -> Vec<f64> {
        (0..self.frequency_hz.len())
            .map(|bin| {
                let power = self.input_density[bin] * self.output_density[bin];
                if power > 0.0 {
                    (self.cross_density[bin].norm_sqr() / power).min(1.0)
                } else {
                    0.0
                }
            })
            .collect()
    }
}
