//! Stage 1: raw counts to SI, in integers.
//!
//! Every reading becomes a count of 2^-24 of its unit, so that all arithmetics
//! of the law start from the same number. Range: just below +-128 units, saturating.

use crate::check::{BuildError, require};
use crate::frame::SensorFrame;
use shared_math::{Scalar, plain};

/// Scale of one channel.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
#[repr(C)]
pub struct Channel {
    /// Reading at zero input, counts.
    pub zero_counts: i32,
    /// Input for one count, SI unit of the channel; its sign is the sensor's polarity.
    pub per_count: f32,
}

plain!([] Channel {
    zero_counts,
    per_count
});

/// Scales of all channels.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
#[repr(C)]
pub struct Parameters {
    /// Floor accelerometer, m/s^2.
    pub floor_accel: Channel,
    /// Seat accelerometer, m/s^2.
    pub seat_accel: Channel,
    /// Travel, m.
    pub travel: Channel,
    /// Winding current, A.
    pub current: Channel,
    /// Supply voltage, V.
    pub supply: Channel,
    /// Coil temperature, hundreds of degrees Celsius.
    pub coil_temperature: Channel,
}

plain!([] Parameters {
    floor_accel,
    seat_accel,
    travel,
    current,
    supply,
    coil_temperature
});

#[derive(Clone, Copy, Debug)]
#[repr(C)]
struct Scale {
    /// Lowest and highest reading that stay within range, counts; beyond, it saturates.
    low: i32,
    high: i32,
    /// Counts of 2^-24 of the unit for a count, with `shift` more bits.
    gain: i32,
    /// Half of the last bit, so that the shift rounds to nearest, less what the zero makes.
    offset: i32,
    shift: u32,
}

plain!([] Scale { low, high, gain, offset, shift });

impl Channel {
    fn build(&self, field: &'static str) -> Result<Scale, BuildError> {
        let size = self.per_count.abs();
        require(
            size.is_finite() && (1.0e-6..=1.0).contains(&size),
            field,
            self.per_count,
            "a magnitude from 1e-6 to 1 unit a count",
        )?;
        require(
            (-32_768..=65_535).contains(&self.zero_counts),
            field,
            self.zero_counts as f32,
            "a zero within the converter's range",
        )?;
        // As many bits as the product with the largest count leaves: with 16-bit converters the
        // gain is right to 6e-5.
        let most = Scalar::min(127.9 / size, 131_071.0) as i32;
        let room = 2_147_000_000.0 / most as f32;
        let mut shift = 0;
        let mut gain = size * 16_777_216.0;
        while shift < 16 && 2.0 * gain < room {
            gain *= 2.0;
            shift += 1;
        }
        let gain = libm::copysignf(libm::roundf(gain), self.per_count) as i32;
        Ok(Scale {
            low: self.zero_counts - most,
            high: self.zero_counts + most,
            gain,
            // Sum and product wrap together; what is left is within range.
            offset: ((1_i32 << shift) >> 1).wrapping_sub(gain.wrapping_mul(self.zero_counts)),
            shift,
        })
    }
}

impl Scale {
    #[inline(always)]
    fn apply(&self, raw: i32) -> i32 {
        let within = raw.min(self.high).max(self.low);
        within.wrapping_mul(self.gain).wrapping_add(self.offset) >> (self.shift & 31)
    }
}

/// Immutable scales.
#[derive(Clone, Copy, Debug)]
#[repr(C)]
pub struct Config {
    floor_accel: Scale,
    seat_accel: Scale,
    travel: Scale,
    current: Scale,
    supply: Scale,
    coil_temperature: Scale,
}

plain!([] Config { floor_accel, seat_accel, travel, current, supply, coil_temperature });

/// Readings in SI, each a count of 2^-24 of its unit.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Readings {
    /// Floor acceleration, m/s^2.
    pub floor_accel: i32,
    /// Seat acceleration, m/s^2.
    pub seat_accel: i32,
    /// Travel, m.
    pub travel: i32,
    /// Winding current, A.
    pub current: i32,
    /// Supply voltage, V.
    pub supply: i32,
    /// Coil temperature, hundreds of degrees Celsius.
    pub coil_temperature: i32,
}

impl Parameters {
    /// Checks the scales and makes the configuration.
    ///
    /// # Errors
    /// Names the first field that cannot be used.
    pub fn build(&self) -> Result<Config, BuildError> {
        Ok(Config {
            floor_accel: self.floor_accel.build("calibrate.floor_accel")?,
            seat_accel: self.seat_accel.build("calibrate.seat_accel")?,
            travel: self.travel.build("calibrate.travel")?,
            current: self.current.build("calibrate.current")?,
            supply: self.supply.build("calibrate.supply")?,
            coil_temperature: self.coil_temperature.build("calibrate.coil_temperature")?,
        })
    }
}

impl Config {
    /// Converts one frame; every bit pattern gives finite readings.
    #[must_use]
    #[inline]
    pub fn step(&self, frame: &SensorFrame) -> Readings {
        Readings {
            floor_accel: self.floor_accel.apply(i32::from(frame.floor_accel)),
            seat_accel: self.seat_accel.apply(i32::from(frame.seat_accel)),
            travel: self.travel.apply(i32::from(frame.travel)),
            current: self.current.apply(i32::from(frame.current)),
            supply: self.supply.apply(i32::from(frame.supply)),
            coil_temperature: self
                .coil_temperature
                .apply(i32::from(frame.coil_temperature)),
        }
    }
}
