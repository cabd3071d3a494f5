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

    /// Counts, whole, of what `alter` makes of the reading on its way to the converter.
    #[inline(always)]
    fn sample(
        &mut self,
        truth: f64,
        time: f64,
        chance: &mut Chance,
        alter: impl FnOnce(f64) -> f64,
    ) -> f64 {
        self.filtered += self.follow * (truth - self.filtered);
        let reading = self.filtered * self.gain
            + self.bias
            + self.drift * time
            + self.noise * chance.normal();
        let counts = alter(reading * self.per_unit);
        // Rounds half away from zero; a cast cuts off, and saturates.
        f64::from((counts + 0.5_f64.copysign(counts)) as i32)
    }
}

/// What one sensor senses.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Quantity {
    /// Floor acceleration.
    FloorAccel,
    /// Seat acceleration.
    SeatAccel,
    /// Travel.
    Travel,
    /// Winding current.
    Current,
    /// Bus voltage.
    Supply,
    /// Coil temperature.
    CoilTemperature,
}

impl Quantity {
    /// All quantities, in the order of the frame.
    pub const ALL: [Self; 6] = [
        Self::FloorAccel,
        Self::SeatAccel,
        Self::Travel,
        Self::Current,
        Self::Supply,
        Self::CoilTemperature,
    ];

    /// Name in files and on the command line.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::FloorAccel => "floor-accel",
            Self::SeatAccel => "seat-accel",
            Self::Travel => "travel",
            Self::Current => "current",
            Self::Supply => "supply",
            Self::CoilTemperature => "coil-temperature",
        }
    }

    /// Unit in files and on the command line.
    #[must_use]
    pub const fn unit(self) -> &'static str {
        match self {
            Self::FloorAccel | Self::SeatAccel => "m/s2",
            Self::Travel => "m",
            Self::Current => "A",
            Self::Supply => "V",
            Self::CoilTemperature => "K",
        }
    }

    /// Counts for one [`Quantity::unit`].
    #[must_use]
    pub const fn counts_per_unit(self, sensors: &Sensors) -> f64 {
        match self {
            Self::FloorAccel => 1.0 / sensors.floor_accel.per_count,
            Self::SeatAccel => 1.0 / sensors.seat_accel.per_count,
            Self::Travel => 1.0 / sensors.travel.per_count,
            Self::Current => 1.0 / sensors.current.per_count,
            Self::Supply => 1.0 / sensors.supply.per_count,
            // Its counts stand for hundreds of degrees.
            Self::CoilTemperature => 0.01 / sensors.coil_temperature.per_count,
        }
    }

    /// Its counts in a frame.
    #[must_use]
    pub const fn of(self, frame: &SensorFrame) -> i32 {
        match self {
            Self::FloorAccel => frame.floor_accel as i32,
            Self::SeatAccel => frame.seat_accel as i32,
            Self::Travel => frame.travel as i32,
            Self::Current => frame.current as i32,
            Self::Supply => frame.supply as i32,
            Self::CoilTemperature => frame.coil_temperature as i32,
        }
    }

    /// Puts counts into a frame, the nearest that its field holds.
    pub fn put(self, frame: &mut SensorFrame, counts: i32) {
        let signed = counts.clamp(i16::MIN.into(), i16::MAX.into()) as i16;
        match self {
            Self::FloorAccel => frame.floor_accel = signed,
            Self::SeatAccel => frame.seat_accel = signed,
            Self::Travel => frame.travel = signed,
            Self::Current => frame.current = signed,
            Self::Supply => frame.supply = counts.clamp(0, u16::MAX.into()) as u16,
            Self::CoilTemperature => frame.coil_temperature = signed,
        }
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
        self.sample_altered(truth, time, switches, |_, counts| counts)
    }

    /// Samples everything at `time`. `alter` stands between each sensor and its converter: it is shown the
    /// reading in counts before they are rounded and gives what the converter is to see.
    #[inline(always)]
    pub fn sample_altered(
        &mut self,
        truth: &Truth,
        time: f64,
        switches: Switches,
        mut alter: impl FnMut(Quantity, f64) -> f64,
    ) -> SensorFrame {
        let chance = &mut self.chance;
        let mut counts = |channel: &mut Channel, quantity: Quantity, truth: f64| {
            channel.sample(truth, time, chance, |counts| alter(quantity, counts))
        };
        let signed = |x: f64| x.clamp(f64::from(i16::MIN), f64::from(i16::MAX)) as i16;
        let t = truth;
        let frame = SensorFrame {
            sequence: self.sequence,
            floor_accel: signed(counts(
                &mut self.floor_accel,
                Quantity::FloorAccel,
                t.floor_accel,
            )),
            seat_accel: signed(counts(
                &mut self.seat_accel,
                Quantity::SeatAccel,
                t.seat_accel,
            )),
            travel: signed(counts(&mut self.travel, Quantity::Travel, t.travel)),
            current: signed(counts(&mut self.current, Quantity::Current, t.current)),
            supply: counts(&mut self.supply, Quantity::Supply, t.supply)
                .clamp(0.0, f64::from(u16::MAX)) as u16,
            coil_temperature: signed(counts(
                &mut self.coil,
                Quantity::CoilTemperature,
                0.01 * t.coil_c,
            )),
            switches,
            marks: Marks(0),
        };
        self.sequence = self.sequence.wrapping_add(1);
        frame
    }

    /// The number of the next frame is raised by `more`: periods went by in which none was made.
    pub const fn skip_numbers(&mut self, more: u16) {
        self.sequence = self.sequence.wrapping_add(more);
    }

    /// Frames are numbered from zero again, as after a reset.
    pub const fn restart_numbers(&mut self) {
        self.sequence = 0;
    }
}
