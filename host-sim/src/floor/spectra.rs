//! Six invented machine floors: band-limited white noise.
//!
//! The spectra are invented for this project. They belong to no real machine and to no standard.
//! The first 0.5 s are faded in, and a slow high-pass follows (see `noise`).

use super::butterworth::{Cascade, CornerError, band};
use super::noise::{NoiseFloor, Shape, WhiteNoise, warm_up_samples};

/// An invented floor spectrum: white noise of one-sided density `density_mps4_per_hz` through
/// fourth-order Butterworth high- and low-pass filters at the corners.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spectrum {
    /// Name.
    pub name: &'static str,
    /// Lower corner, Hz.
    pub low_hz: f64,
    /// Upper corner, Hz.
    pub high_hz: f64,
    /// One-sided density of the white noise before the filters, (m/s2)^2/Hz.
    pub density_mps4_per_hz: f64,
    /// One-line description.
    pub about: &'static str,
}

impl Spectrum {
    /// Length of the warm-up before time 0: the slowest pole decays by exp(-2.4 x 10), s.
    fn warm_up_s(&self) -> f64 {
        10.0 / self.low_hz
    }

    /// Noise samples that the warm-up takes before time 0.
    #[must_use]
    pub(crate) fn warm_up_samples(&self, sample_rate_hz: f64) -> u64 {
        warm_up_samples(self.warm_up_s(), sample_rate_hz)
    }
}

const fn spectrum(
    name: &'static str,
    low_hz: f64,
    high_hz: f64,
    density_mps4_per_hz: f64,
    about: &'static str,
) -> Spectrum {
    Spectrum {
        name,
        low_hz,
        high_hz,
        density_mps4_per_hz,
        about,
    }
}

/// The invented spectra.
pub const SPECTRA: [Spectrum; 6] = [
    spectrum("hauler", 1.4, 2.4, 4.5, "heavy, slow, rough ground"),
    spectrum("loader", 1.6, 3.2, 2.0, "wheels without springs, working"),
    spectrum("grader", 1.2, 2.2, 1.0, "long wheelbase, gentle and slow"),
    spectrum("compact", 2.8, 3.8, 5.0, "small and stiff, short wheelbase"),
    spectrum("crawler", 6.0, 9.0, 2.5, "tracks on hard ground"),
    spectrum(
        "ballast",
        8.0,
        32.0,
        0.25,
        "broad band from rails or rollers",
    ),
];

/// Length of the fade-in, s.
pub(crate) const FADE_S: f64 = 0.5;

pub(crate) struct BandShape {
    cascade: Cascade<4>,
    sample_rate_hz: f64,
}

impl Shape for BandShape {
    #[inline]
    fn shape(&mut self, noise: f64) -> f64 {
        self.cascade.step(noise)
    }

    fn gain_squared(&self, frequency_hz: f64) -> f64 {
        self.cascade
            .response(frequency_hz, self.sample_rate_hz)
            .norm_sqr()
    }
}

/// Builds the floor; `level` multiplies the signal.
pub(crate) fn floor(
    spectrum: &Spectrum,
    level: f64,
    seed: u64,
    sample_rate_hz: f64,
) -> Result<NoiseFloor<BandShape>, CornerError> {
    let sections = band(spectrum.low_hz, spectrum.high_hz, sample_rate_hz)?;
    let density = spectrum.density_mps4_per_hz * level * level;
    NoiseFloor::new(
        WhiteNoise::new(seed, spectrum.name, density, sample_rate_hz),
        BandShape {
            cascade: Cascade::new(sections),
            sample_rate_hz,
        },
        density,
        spectrum.warm_up_s(),
        FADE_S,
        sample_rate_hz,
    )
}
