//! Second-order section in `f64`, and the bilinear transform.
//!
//! Sign convention: `y[n] = b0 x[n] + b1 x[n-1] + b2 x[n-2] - a1 y[n-1] - a2 y[n-2]`,
//! with `a0 = 1`. The section runs in transposed direct form II.

use nalgebra::Complex;
use std::f64::consts::PI;

/// Coefficients of one digital second-order section, `a0 = 1`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Biquad {
    /// Weight of the newest input.
    pub b0: f64,
    /// Weight of the input one sample ago.
    pub b1: f64,
    /// Weight of the input two samples ago.
    pub b2: f64,
    /// Weight of the output one sample ago, subtracted.
    pub a1: f64,
    /// Weight of the output two samples ago, subtracted.
    pub a2: f64,
}

impl Biquad {
    /// The section that changes nothing.
    pub const IDENTITY: Self = Self {
        b0: 1.0,
        b1: 0.0,
        b2: 0.0,
        a1: 0.0,
        a2: 0.0,
    };

    /// Bilinear transform of `(n2 s^2 + n1 s + n0) / (d2 s^2 + d1 s + d0)`.
    ///
    /// Coefficients are given highest power first; `s` is in rad/s. Without
    /// prewarping: analogue and digital responses agree at 0 Hz.
    #[must_use]
    pub fn bilinear(numerator: [f64; 3], denominator: [f64; 3], sample_rate_hz: f64) -> Self {
        Self::with_scale(numerator, denominator, 2.0 * sample_rate_hz)
    }

    /// Bilinear transform that is also exact at `exact_hz` (prewarped).
    ///
    /// `exact_hz` must lie between 0 and half the sample rate.
    #[must_use]
    pub fn bilinear_exact_at(
        numerator: [f64; 3],
        denominator: [f64; 3],
        sample_rate_hz: f64,
        exact_hz: f64,
    ) -> Self {
        let scale = 2.0 * PI * exact_hz / (PI * exact_hz / sample_rate_hz).tan();
        Self::with_scale(numerator, denominator, scale)
    }

    /// Substitutes `s = scale (1 - z^-1) / (1 + z^-1)`.
    fn with_scale(numerator: [f64; 3], denominator: [f64; 3], scale: f64) -> Self {
        let map = |[c2, c1, c0]: [f64; 3]| {
            let (square, linear) = (c2 * scale * scale, c1 * scale);
            [
                square + linear + c0,
                2.0 * (c0 - square),
                square - linear + c0,
            ]
        };
        Self::normalised(map(numerator), map(denominator))
    }

    /// From taps `[z^0, z^-1, z^-2]`; divides by the first of the denominator.
    #[must_use]
    pub fn normalised(numerator: [f64; 3], denominator: [f64; 3]) -> Self {
        let [a0, a1, a2] = denominator;
        let [b0, b1, b2] = numerator;
        Self {
            b0: b0 / a0,
            b1: b1 / a0,
            b2: b2 / a0,
            a1: a1 / a0,
            a2: a2 / a0,
        }
    }

    /// The same section with its output multiplied by `gain`.
    #[must_use]
    pub fn scaled(self, gain: f64) -> Self {
        Self {
            b0: self.b0 * gain,
            b1: self.b1 * gain,
            b2: self.b2 * gain,
            ..self
        }
    }

    /// Complex response at `frequency_hz`.
    #[must_use]
    pub fn response(&self, frequency_hz: f64, sample_rate_hz: f64) -> Complex<f64> {
        let delay = Complex::from_polar(1.0, -2.0 * PI * frequency_hz / sample_rate_hz);
        let delay2 = delay * delay;
        (delay * self.b1 + delay2 * self.b2 + self.b0)
            / (delay * self.a1 + delay2 * self.a2 + Complex::from(1.0))
    }

    /// Whether both poles are strictly inside the unit circle.
    #[must_use]
    pub fn is_stable(&self) -> bool {
        self.a2.abs() < 1.0 && self.a1.abs() < 1.0 + self.a2
    }
}

/// Below this a state is taken as zero, so that a long silence does not run
/// into slow subnormal arithmetic.
const SILENCE: f64 = 1e-140;

/// A [`Biquad`] with its two state variables.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Section {
    biquad: Biquad,
    state1: f64,
    state2: f64,
}

impl Section {
    pub(crate) const fn at_rest(biquad: Biquad) -> Self {
        Self {
            biquad,
            state1: 0.0,
            state2: 0.0,
        }
    }

    pub(crate) const fn biquad(&self) -> &Biquad {
        &self.biquad
    }

    #[inline(always)]
    pub(crate) fn step(&mut self, input: f64) -> f64 {
        let c = &self.biquad;
        let output = c.b0 * input + self.state1;
        self.state1 = c.b1 * input - c.a1 * output + self.state2;
        self.state2 = c.b2 * input - c.a2 * output;
        output
    }

    pub(crate) fn is_finite(&self) -> bool {
        self.state1.is_finite() && self.state2.is_finite()
    }

    pub(crate) fn silence(&mut self) {
        for state in [&mut self.state1, &mut self.state2] {
            if state.abs() < SILENCE {
                *state = 0.0;
            }
        }
    }
}
