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

/// Results of a unit by 2^(32 - [`RAW_SHIFT`]). A power of two: nothing is lost in products with it.
const fn results(coarser: u32) -> f32 {
    (1_u64 << (56 - coarser - RAW_SHIFT)) as f32
}

impl Channel {
    /// Result for a raw count, by 2^(32 - [`RAW_SHIFT`]).
    #[inline(never)]
    fn gain(&self, results: f32) -> f32 {
        libm::roundf(self.per_count * results)
    }

    #[inline(never)]
    fn check(&self, field: &'static str, fine: bool) -> Result<(), BuildError> {
        let (results, range) = if fine {
            (results(FINE), FINE_RANGE)
        } else {
            (results(COARSE), COARSE_RANGE)
        };
        require(
            self.per_count.abs() >= 1.0e-6 && self.gain(results).abs() < 2_147_483_648.0,
            field,
            self.per_count,
            range,
        )?;
        require(
            (-32_768..=65_535).contains(&self.zero_counts),
            field,
            self.zero_counts as f32,
            "a zero within the converter's range",
        )
    }

    fn scale<const COARSER: u32>(&self) -> Scale<COARSER> {
        let (gain, offset) = self.gain_and_offset(results(COARSER));
        Scale { gain, offset }
    }

    #[inline(never)]
    fn gain_and_offset(&self, results: f32) -> (i32, i32) {
        let gain = self.gain(results) as i32;
        // Rounded to the nearest result; the product is rounded down.
        let half = 1_i64 << (31 - RAW_SHIFT);
        let zero = half - i64::from(self.zero_counts) * i64::from(gain);
        (gain, (zero >> (32 - RAW_SHIFT)) as i32)
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
    #[inline(never)]
    pub(crate) fn check(&self) -> Result<(), BuildError> {
        self.floor_accel.check("calibrate.floor_accel", false)?;
        self.seat_accel.check("calibrate.seat_accel", false)?;
        self.travel.check("calibrate.travel", true)?;
        self.current.check("calibrate.current", false)?;
        self.supply.check("calibrate.supply", false)?;
        self.coil_temperature
            .check("calibrate.coil_temperature", false)
    }

    /// Checks the scales and makes the configuration.
    ///
    /// # Errors
    /// Names the first field that cannot be used.
    pub fn build(&self) -> Result<Config, BuildError> {
        self.check()?;
        Ok(self.config())
    }

    /// The configuration of parameters that have been checked.
    #[inline(never)]
    pub(crate) fn config(&self) -> Config {
        Config {
            floor_accel: self.floor_accel.scale(),
            seat_accel: self.seat_accel.scale(),
            travel: self.travel.scale(),
            current: self.current.scale(),
            supply: self.supply.scale(),
            coil_temperature: self.coil_temperature.scale(),
        }
    }
}

impl Config {
    /// Counts of any sensor as travel, count of 2^-24 m.
    #[must_use]
    pub fn as_travel(&self, counts: i32) -> i32 {
        self.travel.apply(counts)
    }

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
