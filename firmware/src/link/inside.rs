//! What a step saw and decided, as bits in a fixed order.

use crate::cycle::Inside;
use crate::estimate::TIMES;
use shared_math::{Q24, Scalar, Turn};

/// An arithmetic whose last bit can be compared over a link.
pub trait Bits: Scalar {
    /// Name of the arithmetic.
    const ARITHMETIC: &'static str;

    /// The number's 32-bit pattern.
    fn bits(self) -> u32;
}

impl Bits for f32 {
    const ARITHMETIC: &'static str = "f32";
    fn bits(self) -> u32 {
        self.to_bits()
    }
}

/// The pattern of the nearest `f32`: enough to look at, not to compare the last bit.
impl Bits for f64 {
    const ARITHMETIC: &'static str = "f64";
    fn bits(self) -> u32 {
        (self as f32).to_bits()
    }
}

impl Bits for Q24 {
    const ARITHMETIC: &'static str = "fixed";
    fn bits(self) -> u32 {
        self.to_bits().cast_unsigned()
    }
}

/// Number of values of [`INSIDE`].
pub const INSIDE_VALUES: usize = BEFORE + TIMES / 2 + AFTER;

const BEFORE: usize = 17;
const AFTER: usize = 24;

/// Stage and name of every value, in the order on the wire.
///
/// The readings of `vet` and the supervisor's `isolation` and `force` are counts of 2^-24 (`i32`);
/// `turn` is 0 for odd and 1 for even; `finite`, `seated` and `new_load` are 0 or 1; `level` is -1, 0 or 1 (`i32`); `mode` is
/// [`crate::Mode::code`], `faults` is [`crate::Faults`]. All others are numbers of the
/// arithmetic, as [`Bits::bits`].
pub const INSIDE: [(&str, &str); INSIDE_VALUES] = [
    ("vet", "floor_accel_mps2"),
    ("vet", "seat_accel_mps2"),
    ("vet", "travel_m"),
    ("vet", "current_a"),
    ("vet", "supply_v"),
    ("vet", "coil_temperature_hc"),
    ("estimate", "floor_accel_mps2"),
    ("estimate", "floor_velocity_mps"),
    ("estimate", "floor_displacement_m"),
    ("estimate", "seat_accel_mps2"),
    ("estimate", "seat_velocity_mps"),
    ("estimate", "travel_m"),
    ("estimate", "travel_rate_mps"),
    ("estimate", "floor_bias_mps2"),
    ("estimate", "seat_bias_mps2"),
    ("estimate", "travel_innovation_m"),
    ("estimate", "turn"),
    ("estimate", "floor_ahead_0_m"),
    ("estimate", "floor_ahead_1_m"),
    ("estimate", "floor_ahead_2_m"),
    ("estimate", "floor_ahead_3_m"),
    ("estimate", "finite"),
    ("supervise", "mode"),
    ("supervise", "isolation"),
    ("supervise", "force"),
    ("supervise", "level"),
    ("supervise", "seated"),
    ("supervise", "new_load"),
    ("supervise", "faults"),
    ("isolate", "wanted_mps2"),
    ("arrest", "ahead_travel_m"),
    ("arrest", "ahead_travel_rate_mps"),
    ("arrest", "ahead_floor_accel_mps2"),
    ("arrest", "astray_mps"),
    ("arrest", "lower_mps2"),
    ("arrest", "upper_mps2"),
    ("arrest", "permitted_mps2"),
    ("limit", "current_a"),
    ("limit", "force_kn"),
    ("limit", "support_kn"),
    ("limit", "disturbance_kn"),
    ("limit", "heat_share"),
    ("limit", "finite"),
    ("weigh", "mass_t"),
    ("weigh", "preload_kn"),
];

/// The values in the order of [`INSIDE`].
#[must_use]
pub fn inside_bits<S: Bits>(inside: &Inside<S>) -> [u32; INSIDE_VALUES] {
    let Inside {
        readings,
        motion,
        arrest,
        drive,
        permit,
        ..
    } = inside;
    let count = i32::cast_unsigned;
    let before: [u32; BEFORE] = [
        count(readings.floor_accel),
        count(readings.seat_accel),
        count(readings.travel),
        count(readings.current),
        count(readings.supply),
        count(readings.coil_temperature),
        motion.floor_accel.bits(),
        motion.floor_velocity.bits(),
        motion.floor_displacement.bits(),
        motion.seat_accel.bits(),
        motion.seat_velocity.bits(),
        motion.travel.bits(),
        motion.travel_rate.bits(),
        motion.floor_bias.bits(),
        motion.seat_bias.bits(),
        motion.travel_innovation.bits(),
        (motion.turn == Turn::Even).into(),
    ];
    let after: [u32; AFTER] = [
        motion.sound.into(),
        permit.mode.code().into(),
        count(permit.isolation),
        count(permit.force),
        count(permit.level.into()),
        permit.seated.into(),
        permit.new_load.into(),
        inside.faults.0.into(),
        inside.wanted.bits(),
        arrest.ahead.travel.bits(),
        arrest.ahead.travel_rate.bits(),
        arrest.ahead.floor_accel.bits(),
        arrest.astray.bits(),
        arrest.lower.bits(),
        arrest.upper.bits(),
        arrest.permitted.bits(),
        drive.current.bits(),
        drive.force.bits(),
        drive.support.bits(),
        drive.disturbance.bits(),
        drive.heat_share.bits(),
        drive.finite.into(),
        inside.mass.bits(),
        inside.preload.bits(),
    ];
    let ahead = motion.floor_ahead.map(Bits::bits);
    let mut all = [0; INSIDE_VALUES];
    for (slot, value) in all
        .iter_mut()
        .zip(before.into_iter().chain(ahead).chain(after))
    {
        *slot = value;
    }
    all
}
