//! Seeded white noise, and floors made from it by shaping, fading in and a slow high-pass.
//!
//! A random floor runs: white Gaussian noise -> shape -> fade-in -> second-order Butterworth
//! high-pass at 0.05 Hz. The shape runs a warm-up before time 0, so it is stationary there. The
//! fade multiplies the *displacement* of the shaped motion by a smooth ramp (first three
//! derivatives continuous), and the floor takes the second derivative of that product: the floor
//! starts at rest, acceleration starts at 0, and no net velocity or offset is left behind.

use super::FloorSource;
use super::butterworth::{Cascade, CornerError, Side, design};
use super::motion::FloorState;
use super::ramp::{Jet, ramp};
use rand_core::SeedableRng;
use rand_distr::{Distribution, StandardNormal};
use rand_xoshiro::Xoshiro256PlusPlus;

/// Corner of the slow high-pass at the end of every random floor, Hz.
pub const SLOW_HIGH_PASS_HZ: f64 = 0.05;

/// Derives the seed of one floor's noise from the ride's seed and the floor's name, so that two
/// floors with equal seed do not share their noise.
///
/// The name goes through 64-bit FNV-1a; seed and name are then mixed by the splitmix64 finaliser.
#[must_use]
pub fn stream_seed(seed: u64, name: &str) -> u64 {
    let named = name.bytes().fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
    });
    let mix = |value: u64| {
        let value = (value ^ (value >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let value = (value ^ (value >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        value ^ (value >> 31)
    };
    mix(mix(seed.wrapping_add(0x9e37_79b9_7f4a_7c15)) ^ named)
}

/// White Gaussian noise of a stated one-sided density.
#[derive(Debug, Clone)]
pub struct WhiteNoise {
    rng: Xoshiro256PlusPlus,
    deviation: f64,
}

impl WhiteNoise {
    /// Noise of one-sided density `density` (unit^2/Hz) sampled at `sample_rate_hz`: standard
    /// deviation sqrt(density x sample rate / 2).
    #[must_use]
    pub fn new(seed: u64, name: &str, density: f64, sample_rate_hz: f64) -> Self {
        Self {
            rng: Xoshiro256PlusPlus::seed_from_u64(stream_seed(seed, name)),
            deviation: (0.5 * density * sample_rate_hz).sqrt(),
        }
    }

    /// The next sample.
    #[inline]
    pub fn sample(&mut self) -> f64 {
        let standard: f64 = StandardNormal.sample(&mut self.rng);
        self.deviation * standard
    }
}

/// Samples in a warm-up.
pub(crate) fn warm_up_samples(warm_up_s: f64, sample_rate_hz: f64) -> u64 {
    (warm_up_s * sample_rate_hz).ceil() as u64
}

/// Turns white noise into acceleration.
pub(crate) trait Shape: Send {
    /// Takes a noise sample, gives an acceleration in m/s2.
    fn shape(&mut self, noise: f64) -> f64;
    /// Squared gain from noise to acceleration at `frequency_hz`.
    fn gain_squared(&self, frequency_hz: f64) -> f64;
}

/// The start of a random floor.
#[derive(Debug, Clone)]
struct Fade {
    motion: FloorState,
    index: u64,
    length_s: f64,
}

/// A random floor.
pub(crate) struct NoiseFloor<S> {
    noise: WhiteNoise,
    shape: S,
    fade: Option<Fade>,
    high_pass: Cascade<1>,
    interval_s: f64,
    density: f64,
}

impl<S: Shape> NoiseFloor<S> {
    /// Builds and warms up. `density` belongs to the noise (unit^2/Hz, one-sided).
    pub(crate) fn new(
        mut noise: WhiteNoise,
        mut shape: S,
        density: f64,
        warm_up_s: f64,
        fade_s: f64,
        sample_rate_hz: f64,
    ) -> Result<Self, CornerError> {
        let high_pass = Cascade::new(design::<1>(Side::High, SLOW_HIGH_PASS_HZ, sample_rate_hz)?);
        let interval_s = 1.0 / sample_rate_hz;
        let mut motion = FloorState::default();
        for _ in 0..warm_up_samples(warm_up_s, sample_rate_hz) {
            motion = motion.after(shape.shape(noise.sample()), interval_s, 1.0);
        }
        Ok(Self {
            noise,
            shape,
            fade: Some(Fade {
                motion,
                index: 0,
                length_s: fade_s,
            }),
            high_pass,
            interval_s,
            density,
        })
    }

    /// One-sided density of the floor's acceleration at `frequency_hz`, (m/s2)^2/Hz.
    pub(crate) fn density(&self, frequency_hz: f64) -> f64 {
        self.density
            * self.shape.gain_squared(frequency_hz)
            * self
                .high_pass
                .response(frequency_hz, 1.0 / self.interval_s)
                .norm_sqr()
    }
}

/// Fades in the displacement: the second derivative of ramp x displacement.
#[cold]
fn faded(fade: &mut Option<Fade>, accel_mps2: f64, interval_s: f64) -> f64 {
    let Some(state) = fade else {
        return accel_mps2;
    };
    state.motion = state.motion.after(accel_mps2, interval_s, 1.0);
    let time_s = state.index as f64 * interval_s;
    state.index += 1;
    let result = ramp(time_s, state.length_s)
        .product(Jet {
            value: state.motion.displacement_m,
            rate: state.motion.velocity_mps,
            curvature: accel_mps2,
        })
        .curvature;
    if time_s >= state.length_s {
        *fade = None;
    }
    result
}

impl<S: Shape> FloorSource for NoiseFloor<S> {
    fn next_accel(&mut self) -> f64 {
        let mut accel_mps2 = self.shape.shape(self.noise.sample());
        if self.fade.is_some() {
            accel_mps2 = faded(&mut self.fade, accel_mps2, self.interval_s);
        }
        self.high_pass.step(accel_mps2)
    }

    fn duration_s(&self) -> Option<f64> {
        None
    }
}
