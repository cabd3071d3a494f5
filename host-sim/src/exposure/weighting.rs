//! Frequency weightings of ISO 8041-1:2017 / ISO 2631-1:1997, Annex A.
//!
//! A weighting is the product of four stages, `H = Hh Hl Ht Hs`: high-pass and
//! low-pass band limits, acceleration-velocity transition, upward step.
//! Parameters: ISO 8041-1:2017 Table 3, as transcribed by the open-source
//! library phonometry 3.3.0; Wk also in GOST R 59701.1-2022, figure C.1.
//!
//! # Digital filter and its error
//!
//! High-pass, transition and step use the plain bilinear transform. Their
//! corners are at or below 16 Hz, so warping costs little there. The
//! transition still loses gain towards half the sample rate, because the
//! bilinear transform puts a zero on it, and so would the low-pass at 100 Hz.
//! The low-pass therefore gets its own treatment. Its section is
//!
//! ```text
//! (1 - A sin^2 x) / (1 - C sin^2 x + j c sin 2x),   x = pi f / fs
//! ```
//!
//! `C` and `c` are solved so that the low-pass times the transition equals
//! the formula exactly, in magnitude and phase, at the low-pass corner; at
//! 0 Hz it is exact by form. `A` is fixed: 0.75 without a transition, 0.35
//! with one. (`A = 1` without a transition is the prewarped bilinear
//! transform. With that, Wk at 500 Hz would read 33 % low at 126 Hz.)
//!
//! Largest error of the whole filter against the formula at the
//! one-third-octave centres, over Wk, Wd, We, Wj, Wb and the band limiting:
//!
//! | sample rate | 0.63 to 63 Hz | up to 126 Hz |
//! |---|---|---|
//! | 400 Hz | 4.2 %, 2.5 deg | 4.2 %, 8.2 deg |
//! | 1000 Hz | 0.52 %, 0.55 deg | 1.1 %, 1.2 deg |
//!
//! Above 126 Hz the response may be too low, never more than 26 % too high.
//! The limits of ISO 8041-1:2017 Table 5 are +12/-11 % and 6 deg in the inner
//! band, +26/-21 % and 12 deg in the outer one. Wf ends at 0.63 Hz; its error
//! is below 0.01 %. The tests in `exposure_weighting.rs` hold these numbers.

use super::biquad::{Biquad, Section};
use super::error::{ExposureError, check_sample_rate};
use nalgebra::Complex;
use serde::Serialize;
use std::f64::consts::{FRAC_1_SQRT_2, PI};

/// Frequency weighting.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
pub enum Weighting {
    /// Vertical, seat surface (health, comfort).
    Wk,
    /// Horizontal, seat surface.
    Wd,
    /// Vertical, motion sickness.
    Wf,
    /// Rotational.
    We,
    /// Vertical, head of a lying person.
    Wj,
    /// Vertical, rail passengers (ISO 2631-4).
    Wb,
    /// Band limiting alone, 0.4 Hz to 100 Hz.
    BandLimiting,
}

/// Acceleration-velocity transition `Ht`, corner frequencies in Hz.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Transition {
    /// Zero `f3`, or `None` where the standard sets it to infinity.
    pub zero_hz: Option<f64>,
    /// Pole frequency `f4`.
    pub pole_hz: f64,
    /// Resonant quality `Q4`.
    pub pole_q: f64,
}

/// Upward step `Hs`, corner frequencies in Hz.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UpwardStep {
    /// Zero frequency `f5`.
    pub zero_hz: f64,
    /// Quality of the zero, `Q5`.
    pub zero_q: f64,
    /// Pole frequency `f6`.
    pub pole_hz: f64,
    /// Quality of the pole, `Q6`.
    pub pole_q: f64,
}

/// Parameters of a weighting. `Q1 = Q2 = 1/sqrt(2)` in all of them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WeightingParameters {
    /// High-pass corner `f1`, Hz.
    pub high_pass_hz: f64,
    /// Low-pass corner `f2`, Hz.
    pub low_pass_hz: f64,
    /// Transition stage, `None` where it is unity.
    pub transition: Option<Transition>,
    /// Step stage, `None` where it is unity.
    pub step: Option<UpwardStep>,
    /// Gain `K`.
    pub gain: f64,
}

/// An analogue stage: numerator and denominator in `s`, highest power first.
type Stage = ([f64; 3], [f64; 3]);

impl Weighting {
    /// All weightings, in the order of the enum.
    pub const ALL: [Self; 7] = [
        Self::Wk,
        Self::Wd,
        Self::Wf,
        Self::We,
        Self::Wj,
        Self::Wb,
        Self::BandLimiting,
    ];

    /// Parameters of ISO 8041-1:2017 Table 3.
    #[must_use]
    pub const fn parameters(self) -> WeightingParameters {
        let wide = WeightingParameters {
            high_pass_hz: 0.4,
            low_pass_hz: 100.0,
            transition: None,
            step: None,
            gain: 1.0,
        };
        match self {
            Self::Wk => WeightingParameters {
                transition: transition(Some(12.5), 12.5, 0.63),
                step: step(2.37, 0.91, 3.35, 0.91),
                ..wide
            },
            Self::Wd => WeightingParameters {
                transition: transition(Some(2.0), 2.0, 0.63),
                ..wide
            },
            Self::Wf => WeightingParameters {
                high_pass_hz: 0.08,
                low_pass_hz: 0.63,
                transition: transition(None, 0.25, 0.86),
                step: step(0.0625, 0.80, 0.10, 0.80),
                gain: 1.0,
            },
            Self::We => WeightingParameters {
                transition: transition(Some(1.0), 1.0, 0.63),
                ..wide
            },
            Self::Wj => WeightingParameters {
                step: step(3.75, 0.91, 5.32, 0.91),
                ..wide
            },
            Self::Wb => WeightingParameters {
                transition: transition(Some(16.0), 16.0, 0.55),
                step: step(2.5, 0.9, 4.0, 0.95),
                gain: 1.024,
                ..wide
            },
            Self::BandLimiting => wide,
        }
    }

    /// Weighting factor `|H|` of the formula at `frequency_hz` (0 at 0 Hz).
    #[must_use]
    pub fn factor(self, frequency_hz: f64) -> f64 {
        self.response(frequency_hz).norm()
    }

    /// Complex response `H(j 2 pi f)` of the formula.
    #[must_use]
    pub fn response(self, frequency_hz: f64) -> Complex<f64> {
        let parameters = self.parameters();
        let mut product = analogue(high_pass(parameters.high_pass_hz), frequency_hz)
            * analogue(low_pass(parameters.low_pass_hz), frequency_hz)
            * parameters.gain;
        if let Some(stage) = parameters.transition {
            product *= analogue(transition_stage(stage), frequency_hz);
        }
        if let Some(stage) = parameters.step {
            product *= analogue(step_stage(stage), frequency_hz);
        }
        product
    }
}

const fn transition(zero_hz: Option<f64>, pole_hz: f64, pole_q: f64) -> Option<Transition> {
    Some(Transition {
        zero_hz,
        pole_hz,
        pole_q,
    })
}

const fn step(zero_hz: f64, zero_q: f64, pole_hz: f64, pole_q: f64) -> Option<UpwardStep> {
    Some(UpwardStep {
        zero_hz,
        zero_q,
        pole_hz,
        pole_q,
    })
}

/// `[1, w/Q, w^2]` for a corner in Hz.
fn quadratic(corner_hz: f64, quality: f64) -> [f64; 3] {
    let corner = 2.0 * PI * corner_hz;
    [1.0, corner / quality, corner * corner]
}

fn high_pass(corner_hz: f64) -> Stage {
    ([1.0, 0.0, 0.0], quadratic(corner_hz, FRAC_1_SQRT_2))
}

fn low_pass(corner_hz: f64) -> Stage {
    let denominator = quadratic(corner_hz, FRAC_1_SQRT_2);
    ([0.0, 0.0, denominator[2]], denominator)
}

fn transition_stage(stage: Transition) -> Stage {
    let denominator = quadratic(stage.pole_hz, stage.pole_q);
    let slope = stage
        .zero_hz
        .map_or(0.0, |zero_hz| denominator[2] / (2.0 * PI * zero_hz));
    ([0.0, slope, denominator[2]], denominator)
}

fn step_stage(stage: UpwardStep) -> Stage {
    (
        quadratic(stage.zero_hz, stage.zero_q),
        quadratic(stage.pole_hz, stage.pole_q),
    )
}

fn analogue((numerator, denominator): Stage, frequency_hz: f64) -> Complex<f64> {
    let s = Complex::new(0.0, 2.0 * PI * frequency_hz);
    let value = |[c2, c1, c0]: [f64; 3]| s * s * c2 + s * c1 + c0;
    value(numerator) / value(denominator)
}

/// Low-pass section, see the file header for its form.
///
/// `correction` is what the low-pass must make up for at its corner: the
/// analogue over the digital response of the transition there.
fn low_pass_section(
    corner_hz: f64,
    sample_rate_hz: f64,
    numerator_shape: f64,
    correction: Complex<f64>,
) -> Biquad {
    let x = PI * corner_hz / sample_rate_hz;
    let sine2 = x.sin().powi(2);
    let target = analogue(low_pass(corner_hz), corner_hz) * correction;
    let denominator = target.inv() * (1.0 - numerator_shape * sine2);
    let curve = (1.0 - denominator.re) / sine2;
    let damping = denominator.im / (2.0 * x).sin();
    Biquad::normalised(
        [
            numerator_shape / 4.0,
            1.0 - numerator_shape / 2.0,
            numerator_shape / 4.0,
        ],
        [
            curve / 4.0 + damping / 2.0,
            1.0 - curve / 2.0,
            curve / 4.0 - damping / 2.0,
        ],
    )
}

/// Most sections a weighting has.
const MAX_SECTIONS: usize = 4;

/// Numerator constant `A` of the low-pass without and with a transition.
const SHAPE_ALONE: f64 = 0.75;
const SHAPE_WITH_TRANSITION: f64 = 0.35;

/// Digital filter of one weighting, starting from rest.
#[derive(Debug, Clone)]
pub struct WeightingFilter {
    sections: [Section; MAX_SECTIONS],
    used: usize,
    sample_rate_hz: f64,
}

impl WeightingFilter {
    /// Designs the filter for a sample rate.
    ///
    /// # Errors
    /// [`ExposureError::SampleRate`] outside 400 Hz to 100 kHz.
    pub fn new(weighting: Weighting, sample_rate_hz: f64) -> Result<Self, ExposureError> {
        check_sample_rate(sample_rate_hz)?;
        let parameters = weighting.parameters();
        let plain =
            |(numerator, denominator)| Biquad::bilinear(numerator, denominator, sample_rate_hz);
        let mut filter = Self {
            sections: [Section::at_rest(Biquad::IDENTITY); MAX_SECTIONS],
            used: 0,
            sample_rate_hz,
        };
        filter.add(plain(high_pass(parameters.high_pass_hz)));
        let corner_hz = parameters.low_pass_hz;
        let (shape, correction) = match parameters.transition {
            None => (SHAPE_ALONE, Complex::from(1.0)),
            Some(stage) => {
                let stage = transition_stage(stage);
                let section = plain(stage);
                filter.add(section);
                let missing =
                    analogue(stage, corner_hz) / section.response(corner_hz, sample_rate_hz);
                (SHAPE_WITH_TRANSITION, missing)
            }
        };
        let low_pass = low_pass_section(corner_hz, sample_rate_hz, shape, correction);
        filter.add(low_pass.scaled(parameters.gain));
        if let Some(stage) = parameters.step {
            filter.add(plain(step_stage(stage)));
        }
        Ok(filter)
    }

    fn add(&mut self, biquad: Biquad) {
        debug_assert!(biquad.is_stable());
        self.sections[self.used] = Section::at_rest(biquad);
        self.used += 1;
    }

    /// Filters one sample. A NaN or infinite input spoils the state.
    #[inline]
    pub fn step(&mut self, input: f64) -> f64 {
        self.sections[..self.used]
            .iter_mut()
            .fold(input, |value, section| section.step(value))
    }

    /// The digital sections in the order they run.
    pub fn biquads(&self) -> impl Iterator<Item = &Biquad> {
        self.sections[..self.used].iter().map(Section::biquad)
    }

    /// Complex response of the digital filter at `frequency_hz`.
    #[must_use]
    pub fn response(&self, frequency_hz: f64) -> Complex<f64> {
        self.biquads()
            .map(|biquad| biquad.response(frequency_hz, self.sample_rate_hz))
            .product()
    }

    /// Sets states that have decayed to nothing to zero.
    pub(crate) fn silence(&mut self) {
        self.sections.iter_mut().for_each(Section::silence);
    }
}
