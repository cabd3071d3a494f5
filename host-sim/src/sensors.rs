//! Sensors: bandwidth, bias, drift, gain error, noise and counts.

use crate::rig::{Sensor, Sensors};
use firmware::{Marks, SensorFrame, Switches};
use rand_core::{RngCore, SeedableRng};
use rand_distr::{Distribution, StandardNormal};
use rand_xoshiro::Xoshiro256PlusPlus;

/// A source of random numbers for one purpose of one ride.
#[derive(Clone)]
pub(crate) struct Chance(Xoshiro256PlusPlus);

impl Chance {
    /// Independent of the other purposes with the same seed.
    pub(crate) fn new(seed: u64, purpose: u64) -> Self {
        Self(Xoshiro256PlusPlus::seed_from_u64(
            seed ^ purpose.wrapping_mul(0x9E37_79B9_7F4A_7C15),
        ))
    }

    pub(crate) fn normal(&mut self) -> f64 {
        StandardNormal.sample(&mut self.0)
    }

    /// Uniform in [-1, 1).
    pub(crate) fn even(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1_u64 << 52) as f64 - 1.0
    }

    /// +1 or -1.
    pub(crate) fn sign(&mut self) -> f64 {
        if self.0.next_u64() & 1 == 0 {
            1.0
        } else {
            -1.0
        }
    }
}

#[derive(Clone)]
struct Channel {
    per_unit: f64,
    noise: f64,
    bias: f64,
    drift: f64,
    gain: f64,
    follow: f64,
    filtered: f64,
}

impl Channel {
    fn new(sensor: &Sensor, step_s: f64, start: f64, chance: &mut Chance) -> Self {
        Self {
            per_unit: 1.0 / sensor.per_count,
            noise: sensor.noise_rms,
            bias: sensor.bias_max * chance.even(),
            drift: sensor.drift_per_minute / 60.0,
            gain: 1.0 + sensor.gain_error * chance.even(),
            follow: -(-core::f64::consts::TAU * sensor.bandwidth_hz * step_s).exp_m1(),
            filtered: start,
        }
    }

    fn sample(&mut self, truth: f64, time: f64, chance: &mut Chance) -> f64 {
        self.filtered += self.follow * (truth - self.filtered);
        let reading = self.filtered * self.gain
            + self.bias
            + self.drift * time
            + self.noise * chance.normal();
        let counts = reading * self.per_unit;
        // Rounds half away from zero; a cast cuts off, and saturates.
        f64::from((counts + 0.5_f64.copysign(counts)) as i32)
    }
}

/// The quantities that are sensed.
#[derive(Clone, Copy, Debug, Default)]
pub struct Truth {
    /// Floor acceleration, m/s^2.
    pub floor_accel: f64,
    /// Seat acceleration, m/s^2.
    pub seat_accel: f64,
    /// Travel, m.
    pub travel: f64,
    /// Winding current, A.
    pub current: f64,
    /// Bus voltage, V.
    pub supply: f64,
    /// Winding temperature, degrees Celsius.
    pub coil_c: f64,
}

/// All sensors of one ride.
#[derive(Clone)]
pub struct SensorBank {
    chance: Chance,
    floor_accel: Channel,
    seat_accel: Channel,
    travel: Channel,
    current: Channel,
    supply: Channel,
    coil: Channel,
    sequence: u16,
}

impl SensorBank {
    /// Sensors with errors drawn from `seed`, settled at `start`.
    #[must_use]
    pub fn new(sensors: &Sensors, step_s: f64, seed: u64, start: &Truth) -> Self {
        let mut chance = Chance::new(seed, 2);
        let mut channel =
            |sensor: &Sensor, start: f64| Channel::new(sensor, step_s, start, &mut chance);
        let floor_accel = channel(&sensors.floor_accel, start.floor_accel);
        let seat_accel = channel(&sensors.seat_accel, start.seat_accel);
        let travel = channel(&sensors.travel, start.travel);
        let current = channel(&sensors.current, start.current);
        let supply = channel(&sensors.supply, start.supply);
        let coil = channel(&sensors.coil_temperature, 0.01 * start.coil_c);
        Self {
            chance,
            floor_accel,
            seat_accel,
            travel,
            current,
            supply,
            coil,
            sequence: 0,
        }
    }

    /// Samples everything at `time`.
    pub fn sample(&mut self, truth: &Truth, time: f64, switches: Switches) -> SensorFrame {
        let signed = |x: f64| x.clamp(f64::from(i16::MIN), f64::from(i16::MAX)) as i16;
        let chance = &mut self.chance;
        let frame = SensorFrame {
            sequence: self.sequence,
            floor_accel: signed(self.floor_accel.sample(truth.floor_accel, time, chance)),
            seat_accel: signed(self.seat_accel.sample(truth.seat_accel, time, chance)),
            travel: signed(self.travel.sample(truth.travel, time, chance)),
            current: signed(self.current.sample(truth.current, time, chance)),
            supply: self
                .supply
                .sample(truth.supply, time, chance)
                .clamp(0.0, f64::from(u16::MAX)) as u16,
            coil_temperature: signed(self.coil.sample(0.01 * truth.coil_c, time, chance)),
            switches,
            marks: Marks(0),
        };
        self.sequence = self.sequence.wrapping_add(1);
        frame
    }
}
