//! Butterworth filters as cascades of second-order sections in `f64`.
//!
//! Design: analogue Butterworth poles, bilinear transform with the corner prewarped, so that the
//! digital gain at the corner is exactly 1/sqrt(2). Sections follow
//! `y = b0 x + b1 x' + b2 x'' - a1 y' - a2 y''` (a0 = 1), run in transposed direct form II.

use rustfft::num_complex::Complex;
use std::f64::consts::PI;

/// Which side of the corner passes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Frequencies below the corner pass.
    Low,
    /// Frequencies above the corner pass.
    High,
}

/// The corner does not lie between zero and half of the sample rate.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error(
    "filter corner {corner_hz} Hz: expected more than 0 and less than half of the sample rate {sample_rate_hz} Hz"
)]
pub struct CornerError {
    /// The corner asked for, Hz.
    pub corner_hz: f64,
    /// The sample rate, Hz.
    pub sample_rate_hz: f64,
}

/// Coefficients of one section, `a0 = 1`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Section {
    /// Numerator b0, b1, b2.
    pub b: [f64; 3],
    /// Denominator a1, a2.
    pub a: [f64; 2],
}

impl Section {
    /// Complex gain at `frequency_hz` for samples at `sample_rate_hz`.
    #[must_use]
    pub fn response(&self, frequency_hz: f64, sample_rate_hz: f64) -> Complex<f64> {
        let back = Complex::from_polar(1.0, -2.0 * PI * frequency_hz / sample_rate_hz);
        let num = back * (back * self.b[2] + self.b[1]) + self.b[0];
        let den = back * (back * self.a[1] + self.a[0]) + 1.0;
        num / den
    }

    /// The state in which a constant input of 1 gives a constant output.
    fn settled(&self) -> [f64; 2] {
        let gain = self.b.iter().sum::<f64>() / (1.0 + self.a[0] + self.a[1]);
        let second = self.b[2] - self.a[1] * gain;
        [self.b[1] - self.a[0] * gain + second, second]
    }
}

fn warped(corner_hz: f64, sample_rate_hz: f64) -> Result<f64, CornerError> {
    if corner_hz > 0.0 && corner_hz < 0.5 * sample_rate_hz && sample_rate_hz.is_finite() {
        Ok((PI * corner_hz / sample_rate_hz).tan())
    } else {
        Err(CornerError {
            corner_hz,
            sample_rate_hz,
        })
    }
}

/// Butterworth filter of even order `2 N` as `N` sections.
///
/// # Errors
/// [`CornerError`] when the corner is not inside (0, sample rate / 2).
pub fn design<const N: usize>(
    side: Side,
    corner_hz: f64,
    sample_rate_hz: f64,
) -> Result<[Section; N], CornerError> {
    let k = warped(corner_hz, sample_rate_hz)?;
    Ok(std::array::from_fn(|index| {
        let damping = 2.0 * (PI * (2 * index + 1) as f64 / (4 * N) as f64).sin();
        let norm = 1.0 / (1.0 + damping * k + k * k);
        let b = match side {
            Side::Low => [k * k * norm, 2.0 * k * k * norm, k * k * norm],
            Side::High => [norm, -2.0 * norm, norm],
        };
        Section {
            b,
            a: [
                2.0 * (k * k - 1.0) * norm,
                (1.0 - damping * k + k * k) * norm,
            ],
        }
    }))
}

/// Fourth-order high-pass at `low_hz` followed by a fourth-order low-pass at `high_hz`.
///
/// # Errors
/// [`CornerError`] when a corner is not inside (0, sample rate / 2).
pub fn band(low_hz: f64, high_hz: f64, sample_rate_hz: f64) -> Result<[Section; 4], CornerError> {
    let [h0, h1] = design::<2>(Side::High, low_hz, sample_rate_hz)?;
    let [l0, l1] = design::<2>(Side::Low, high_hz, sample_rate_hz)?;
    Ok([h0, h1, l0, l1])
}

/// Sections in series, with their state.
#[derive(Debug, Clone)]
pub struct Cascade<const N: usize> {
    sections: [Section; N],
    state: [[f64; 2]; N],
}

impl<const N: usize> Cascade<N> {
    /// A cascade at rest.
    #[must_use]
    pub fn new(sections: [Section; N]) -> Self {
        Self {
            sections,
            state: [[0.0; 2]; N],
        }
    }

    /// Puts the cascade in the state that a constant input `level` leaves behind.
    pub fn settle(&mut self, level: f64) {
        let mut input = level;
        for (section, state) in self.sections.iter().zip(&mut self.state) {
            let unit = section.settled();
            *state = [unit[0] * input, unit[1] * input];
            input *= section.b.iter().sum::<f64>() / (1.0 + section.a[0] + section.a[1]);
        }
    }

    /// Takes one sample, gives one sample.
    #[inline]
    pub fn step(&mut self, input: f64) -> f64 {
        let mut x = input;
        for (section, state) in self.sections.iter().zip(&mut self.state) {
            let y = section.b[0] * x + state[0];
            state[0] = section.b[1] * x - section.a[0] * y + state[1];
            state[1] = section.b[2] * x - section.a[1] * y;
            x = y;
        }
        x
    }

    /// Complex gain at `frequency_hz` for samples at `sample_rate_hz`.
    #[must_use]
    pub fn response(&self, frequency_hz: f64, sample_rate_hz: f64) -> Complex<f64> {
        self.sections
            .iter()
            .map(|s| s.response(frequency_hz, sample_rate_hz))
            .product()
    }
}

/// Runs `sections` forwards and then backwards over `samples`: no phase shift, the gain squared.
///
/// Both ends are first extended by up to `6 N + 3` samples, mirrored about the end point in time
/// and value, and each pass starts settled on its first sample.
pub fn forward_backward<const N: usize>(sections: [Section; N], samples: &mut Vec<f64>) {
    let (Some(&first), Some(&last)) = (samples.first(), samples.last()) else {
        return;
    };
    let count = samples.len();
    let pad = (6 * N + 3).min(count - 1);
    let mut extended = Vec::with_capacity(count + 2 * pad);
    extended.extend((1..=pad).rev().map(|i| 2.0 * first - samples[i]));
    extended.extend_from_slice(samples);
    extended.extend((1..=pad).map(|i| 2.0 * last - samples[count - 1 - i]));
    for _ in 0..2 {
        let mut cascade = Cascade::new(sections);
        cascade.settle(extended[0]);
        for value in &mut extended {
            *value = cascade.step(*value);
        }
        extended.reverse();
    }
    samples.clear();
    samples.extend_from_slice(&extended[pad..pad + count]);
}
