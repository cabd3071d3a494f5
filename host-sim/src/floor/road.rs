//! Roads of ISO 8608 roughness classes, and the floor of a vehicle that drives over them.
//!
//! Road: displacement density Gd(n) = Gd(n0) (n/n0)^-2 with n0 = 0.1 cycle/m. At a constant speed v
//! the vertical *velocity* of the profile is white in time, one-sided density v (2 pi n0)^2 Gd(n0).
//! It is limited to waves of 0.011 to 2.83 cycle/m by fourth-order Butterworth filters at those
//! wave numbers times v. Class values are the geometric means of the classes.
//!
//! The floor fades in over 5 m of road, but not faster than 0.5 s (see `noise`).
//!
//! Vehicle: the quarter car of the roughness index ([`QuarterCar`]), a passenger car in proportion.
//! The floor is its body. It stands in for a working machine and is not one. The tyre touches in one
//! point (no averaging over the contact length), and never leaves the ground, so the classes E to
//! H at speed give motions that no driver would accept.

use super::butterworth::{Cascade, CornerError, band};
use super::noise::{NoiseFloor, Shape, WhiteNoise};
use super::quarter_car::QuarterCar;
use nalgebra::{Complex, Matrix4, Vector4};
use std::f64::consts::PI;

/// Reference wave number, cycle/m.
pub const REFERENCE_WAVE_NUMBER: f64 = 0.1;
/// Lowest wave number of the road, cycle/m.
pub const LOW_WAVE_NUMBER: f64 = 0.011;
/// Highest wave number of the road, cycle/m.
pub const HIGH_WAVE_NUMBER: f64 = 2.83;
/// Lowest permitted speed, m/s.
pub(crate) const MIN_SPEED_MPS: f64 = 1.0;
/// Highest permitted speed, m/s.
pub(crate) const MAX_SPEED_MPS: f64 = 60.0;

/// Roughness class of ISO 8608.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
#[allow(missing_docs, reason = "the classes are their letters")]
pub enum RoadClass {
    A,
    B,
    C,
    D,
    E,
    F,
    G,
    H,
}

impl RoadClass {
    /// All classes, smooth to rough.
    pub const ALL: [Self; 8] = [
        Self::A,
        Self::B,
        Self::C,
        Self::D,
        Self::E,
        Self::F,
        Self::G,
        Self::H,
    ];

    /// Name of the floor.
    #[must_use]
    pub fn floor_name(self) -> &'static str {
        match self {
            Self::A => "road-a",
            Self::B => "road-b",
            Self::C => "road-c",
            Self::D => "road-d",
            Self::E => "road-e",
            Self::F => "road-f",
            Self::G => "road-g",
            Self::H => "road-h",
        }
    }

    /// Geometric mean of Gd(n0) in m3: 16e-6 for class A, four times more for each class.
    ///
    /// A to D as given by several public implementations of ISO 8608; E to H follow the factor
    /// of four, which agrees with the published class limits.
    #[must_use]
    pub fn roughness_m3(self) -> f64 {
        16e-6 * f64::from(4_u32.pow(self as u32))
    }

    /// Limits of Gd(n0) in m3: half and twice the geometric mean; class A has no lower limit,
    /// class H no upper one.
    #[must_use]
    pub fn limits_m3(self) -> (f64, f64) {
        let mean = self.roughness_m3();
        (
            if self == Self::A { 0.0 } else { 0.5 * mean },
            if self == Self::H {
                f64::INFINITY
            } else {
                2.0 * mean
            },
        )
    }
}

/// One-sided density of the profile's vertical velocity at a constant speed, (m/s)^2/Hz.
#[must_use]
pub fn velocity_density(roughness_m3: f64, speed_mps: f64) -> f64 {
    speed_mps * (2.0 * PI * REFERENCE_WAVE_NUMBER).powi(2) * roughness_m3
}

/// Streams the vertical velocity of a road profile under a wheel at constant speed.
#[derive(Debug, Clone)]
pub struct RoadProfile {
    noise: WhiteNoise,
    limits: Cascade<4>,
}

impl RoadProfile {
    /// A road of roughness `roughness_m3` = Gd(n0 = 0.1 cycle/m), already stationary.
    ///
    /// # Errors
    /// [`CornerError`] when the shortest waves do not fit the sample rate.
    pub fn new(
        roughness_m3: f64,
        speed_mps: f64,
        seed: u64,
        name: &str,
        sample_rate_hz: f64,
    ) -> Result<Self, CornerError> {
        let density = velocity_density(roughness_m3, speed_mps);
        let mut profile = Self {
            noise: WhiteNoise::new(seed, name, density, sample_rate_hz),
            limits: Cascade::new(wave_band(speed_mps, sample_rate_hz)?),
        };
        for _ in 0..(warm_up_s(speed_mps) * sample_rate_hz).ceil() as u64 {
            profile.next_velocity_mps();
        }
        Ok(profile)
    }

    /// Vertical velocity of the profile at the next sample, m/s.
    pub fn next_velocity_mps(&mut self) -> f64 {
        self.limits.step(self.noise.sample())
    }
}

fn wave_band(
    speed_mps: f64,
    sample_rate_hz: f64,
) -> Result<[super::butterworth::Section; 4], CornerError> {
    band(
        LOW_WAVE_NUMBER * speed_mps,
        HIGH_WAVE_NUMBER * speed_mps,
        sample_rate_hz,
    )
}

/// The slowest pole of the band limit decays by exp(-2.4 x 6) in this time.
fn warm_up_s(speed_mps: f64) -> f64 {
    6.0 / (LOW_WAVE_NUMBER * speed_mps)
}

pub(crate) struct BodyShape {
    limits: Cascade<4>,
    transition: Matrix4<f64>,
    hold: Vector4<f64>,
    state: Vector4<f64>,
    sample_rate_hz: f64,
}

impl Shape for BodyShape {
    #[inline]
    fn shape(&mut self, noise: f64) -> f64 {
        let road_velocity_mps = self.limits.step(noise);
        self.state = self.transition * self.state + self.hold * road_velocity_mps;
        self.state[1]
    }

    fn gain_squared(&self, frequency_hz: f64) -> f64 {
        let forward = Complex::from_polar(1.0, 2.0 * PI * frequency_hz / self.sample_rate_hz);
        let system =
            Matrix4::from_diagonal_element(forward) - self.transition.map(|v| Complex::new(v, 0.0));
        let input = self.hold.map(|v| Complex::new(v, 0.0));
        // The state is taken after the step: one sample earlier, which does not change the gain.
        let body = system
            .lu()
            .solve(&input)
            .map_or(0.0, |state| state[1].norm_sqr());
        body * self
            .limits
            .response(frequency_hz, self.sample_rate_hz)
            .norm_sqr()
    }
}

/// Builds the floor of class `class` at `speed_mps`; `level` multiplies the signal.
pub(crate) fn floor(
    class: RoadClass,
    level: f64,
    speed_mps: f64,
    seed: u64,
    sample_rate_hz: f64,
) -> Result<NoiseFloor<BodyShape>, CornerError> {
    let density = velocity_density(class.roughness_m3(), speed_mps) * level * level;
    let step = QuarterCar::iri().discretise(1.0 / sample_rate_hz);
    NoiseFloor::new(
        WhiteNoise::new(seed, class.floor_name(), density, sample_rate_hz),
        BodyShape {
            limits: Cascade::new(wave_band(speed_mps, sample_rate_hz)?),
            transition: step.transition,
            hold: step.hold,
            state: Vector4::zeros(),
            sample_rate_hz,
        },
        density,
        warm_up_s(speed_mps).max(5.0),
        fade_s(speed_mps),
        sample_rate_hz,
    )
}

/// The floor fades in over 5 m of road, but not faster than 0.5 s.
pub(crate) fn fade_s(speed_mps: f64) -> f64 {
    (5.0 / speed_mps).max(0.5)
}
