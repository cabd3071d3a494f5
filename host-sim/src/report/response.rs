//! Density and transmissibility, averaged over fractions of an octave.
//!
//! The raw spectra of [`crate::spectrum`] have evenly spaced bins. On a
//! logarithmic axis the high ones crowd, each with the scatter of few averages.
//! Power and cross-power are therefore added up over narrow bands before the
//! transfer function and the coherence are formed; a band then counts for as
//! many averages as it holds independent bins.

use crate::spectrum::{CrossSpectrum, independent_averages};
use rustfft::num_complex::Complex;

/// Bands in an octave.
pub const BANDS_PER_OCTAVE: f64 = 24.0;
/// Effective noise bandwidth of the Hann window in bins: what counts as one independent bin.
pub const HANN_BANDWIDTH_BINS: f64 = 1.5;
/// A relative standard error above this says nothing.
pub const ERROR_MAX: f64 = 0.5;

/// One band of a pair of signals.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Band {
    /// Mean frequency of its bins, Hz.
    pub frequency_hz: f64,
    /// One-sided density of the input, unit^2/Hz.
    pub input_density: f64,
    /// One-sided density of the output, unit^2/Hz.
    pub output_density: f64,
    /// |H1|: magnitude of cross-density over input density.
    pub transmissibility: f64,
    /// Magnitude-squared coherence, 0 to 1.
    pub coherence: f64,
    /// Relative standard error of |H1|: sqrt((1 - c) / (2 c n)) with coherence c and n independent
    /// averages (Bendat and Piersol, from memory); infinite without coherence or with one average.
    pub relative_error: f64,
}

impl Band {
    /// Bounds that hold |H1| with 95 % confidence: 1.96 standard errors of its logarithm either way.
    /// `None` when the error is too large to say anything.
    #[must_use]
    pub fn bounds_95(&self) -> Option<(f64, f64)> {
        let factor = (1.959_964 * self.relative_error).exp();
        (self.relative_error <= ERROR_MAX && self.transmissibility > 0.0).then(|| {
            (
                self.transmissibility / factor,
                self.transmissibility * factor,
            )
        })
    }
}

/// The bands from `low_hz` to `high_hz`, in order of frequency. The two lowest bins are left out: the
/// window spreads what is left of the mean over them.
#[must_use]
pub fn bands(spectrum: &CrossSpectrum, low_hz: f64, high_hz: f64) -> Vec<Band> {
    let averages = independent_averages(spectrum.segments);
    let mut bands = Vec::new();
    let mut open = Sums::default();
    let mut open_index = i64::MIN;
    for (bin, &frequency_hz) in spectrum.frequency_hz.iter().enumerate().skip(2) {
        if frequency_hz < low_hz || frequency_hz > high_hz {
            continue;
        }
        let index = (frequency_hz.log2() * BANDS_PER_OCTAVE).floor() as i64;
        if index != open_index {
            bands.extend(open.band(averages));
            open = Sums::default();
            open_index = index;
        }
        open.bins += 1.0;
        open.frequency_hz += frequency_hz;
        open.input += spectrum.input_density[bin];
        open.output += spectrum.output_density[bin];
        open.cross += spectrum.cross_density[bin];
    }
    bands.extend(open.band(averages));
    bands
}

#[derive(Default)]
struct Sums {
    bins: f64,
    frequency_hz: f64,
    input: f64,
    output: f64,
    cross: Complex<f64>,
}

impl Sums {
    fn band(&self, averages: f64) -> Option<Band> {
        if self.bins == 0.0 {
            return None;
        }
        let power = self.input * self.output;
        let coherence = if power > 0.0 {
            (self.cross.norm_sqr() / power).min(1.0)
        } else {
            0.0
        };
        let count = averages * (self.bins / HANN_BANDWIDTH_BINS).max(1.0);
        let error = ((1.0 - coherence) / (2.0 * coherence * count)).sqrt();
        Some(Band {
            frequency_hz: self.frequency_hz / self.bins,
            input_density: self.input / self.bins,
            output_density: self.output / self.bins,
            transmissibility: if self.input > 0.0 {
                self.cross.norm() / self.input
            } else {
                0.0
            },
            coherence,
            // One average always shows full coherence: it says nothing.
            relative_error: if count > 1.5 && !error.is_nan() {
                error
            } else {
                f64::INFINITY
            },
        })
    }
}
