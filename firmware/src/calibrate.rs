//! Stage 1: raw counts to SI, in integers.
//!
//! Every reading becomes a count of 2^-24 of its unit, so that all arithmetics
//! of the law start from the same number. Range: just below +-128 units, saturating.

use crate::check::{BuildError, require};
use crate::frame::SensorFrame;
use shared_math::{Turn, plain};

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

/// Bits by which a coarse scale is coarser than the counts of 2^-24: five of its channels reach +-128 units and are
/// cut there, which costs one instruction.
const COARSE: u32 = 8;
/// Travel is finer than all others, and never near its end.
const FINE: u32 = 0;
/// What is expected of a coarse scale ...
const COARSE_RANGE: &str = "a magnitude from 1e-6 to 0.124 units a count";
/// ... and of the fine one.
const FINE_RANGE: &str = "a magnitude from 1e-6 to 0.00048 units a count";
/// Bits by which raw counts (17 with their sign) are moved up before they are multiplied.
const RAW_SHIFT: u32 = 14;

/// A scale whose results are counts of 2^-24, always of `2^COARSER` of them.
#[derive(Clone, Copy, Debug)]
#[repr(C)]
struct Scale<const COARSER: u32> {
    /// Results for a raw count, by 2^(32 - [`RAW_SHIFT`]).
    gain: i32,
    /// What the zero makes, in results.
    offset: i32,
}

plain!([const COARSER: u32] Scale<COARSER> { gain, offset });

impl Channel {
    fn build<const COARSER: u32>(
        &self,
        field: &'static str,
        range: &'static str,
    ) -> Result<Scale<COARSER>, BuildError> {
        let size = self.per_count;
        // A power of two: nothing is lost.
        let gain = libm::roundf(size * (1_u64 << (56 - COARSER - RAW_SHIFT)) as f32);
        require(
            size.abs() >= 1.0e-6 && gain.abs() < 2_147_483_648.0,
            field,
            self.per_count,
            range,
        )?;
        require(
            (-32_768..=65_535).contains(&self.zero_counts),
            field,
            self.zero_counts as f32,
            "a zero within the converter's range",
        )?;
        let gain = gain as i32;
        // Rounded to the nearest result; the product is rounded down.
        let half = 1_i64 << (31 - RAW_SHIFT);
        let zero = half - i64::from(self.zero_counts) * i64::from(gain);
        Ok(Scale {
            gain,
            offset: (zero >> (32 - RAW_SHIFT)) as i32,
        })
    }
}

impl<const COARSER: u32> Scale<COARSER> {
    #[inline(always)]
    fn apply(&self, raw: i32) -> i32 {
        let product = i64::from(raw << RAW_SHIFT) * i64::from(self.gain);
        let result = ((product >> 32) as i32).wrapping_add(self.offset);
        if COARSER == 0 {
            return result;
        }
        let end = 1 << (31 - COARSER);
        result.max(-end).min(end - 1) << COARSER
    }
}

/// Immutable scales.
#[derive(Clone, Copy, Debug)]
#[repr(C)]
pub struct Config {
    floor_accel: Scale<COARSE>,
    seat_accel: Scale<COARSE>,
    travel: Scale<FINE>,
    current: Scale<COARSE>,
    supply: Scale<COARSE>,
    coil_temperature: Scale<COARSE>,
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

/// The slow ones among the readings.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[repr(C)]
pub struct Slow {
    /// Supply voltage, count of 2^-24 V.
    pub supply: i32,
    /// Coil temperature, count of 2^-24 hundreds of degrees Celsius.
    pub coil_temperature: i32,
}

plain!([] Slow { supply, coil_temperature });

impl Parameters {
    /// Checks the scales and makes the configuration.
    ///
    /// # Errors
    /// Names the first field that cannot be used.
    pub fn build(&self) -> Result<Config, BuildError> {
        Ok(Config {
            floor_accel: self
                .floor_accel
                .build("calibrate.floor_accel", COARSE_RANGE)?,
            seat_accel: self
                .seat_accel
                .build("calibrate.seat_accel", COARSE_RANGE)?,
            travel: self.travel.build("calibrate.travel", FINE_RANGE)?,
            current: self.current.build("calibrate.current", COARSE_RANGE)?,
            supply: self.supply.build("calibrate.supply", COARSE_RANGE)?,
            coil_temperature: self
                .coil_temperature
                .build("calibrate.coil_temperature", COARSE_RANGE)?,
        })
    }
}

impl Config {
    /// Converts one frame; every bit pattern gives finite readings. Supply and coil temperature are slow: in each
    /// step one of them is converted, and the other is `kept` as it was.
    #[must_use]
    #[inline(always)]
    pub fn step(&self, frame: &SensorFrame, turn: Turn, kept: &Slow) -> Readings {
        let (mut supply, mut coil_temperature) = (kept.supply, kept.coil_temperature);
        match turn {
            Turn::Odd => supply = self.supply.apply(i32::from(frame.supply)),
            Turn::Even => {
                coil_temperature = self
                    .coil_temperature
                    .apply(i32::from(frame.coil_temperature));
            }
        }
        Readings {
            floor_accel: self.floor_accel.apply(i32::from(frame.floor_accel)),
            seat_accel: self.seat_accel.apply(i32::from(frame.seat_accel)),
            travel: self.travel.apply(i32::from(frame.travel)),
            current: self.current.apply(i32::from(frame.current)),
            supply,
            coil_temperature,
        }
    }
}
