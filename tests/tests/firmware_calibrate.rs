//! Counts to SI against the definition, (counts - zero) * scale, in double precision.

use firmware::SensorFrame;
use firmware::calibrate::{Channel, Config, Parameters, Readings};
use host_sim::design;
use host_sim::rig::Rig;

/// A count of 2^-24 of a unit.
const PER_UNIT: f64 = 16_777_216.0;

fn parameters() -> Parameters {
    let rig = Rig::default_machine().expect("the default rig");
    design::parameters(&rig).expect("parameters").calibrate
}

fn expected(channel: &Channel, raw: i32) -> f64 {
    // The last whole count within 127.9 units, at most 131071: the sum of two 16-bit ranges.
    let end = (127.9 / channel.per_count.abs()).min(131_071.0) as i32;
    f64::from((raw - channel.zero_counts).clamp(-end, end))
        * f64::from(channel.per_count)
        * PER_UNIT
}

/// Readings of a frame whose fields all hold one raw value.
fn of(config: &Config, raw: i16) -> Readings {
    config.step(&SensorFrame {
        floor_accel: raw,
        seat_accel: raw,
        travel: raw,
        current: raw,
        supply: raw as u16,
        coil_temperature: raw,
        ..SensorFrame::default()
    })
}

/// All channels with one scale.
fn uniform(channel: Channel) -> Parameters {
    Parameters {
        floor_accel: channel,
        seat_accel: channel,
        travel: channel,
        current: channel,
        supply: channel,
        coil_temperature: channel,
    }
}

fn near_for_every_count(p: &Parameters) -> f64 {
    let config = p.build().expect("a configuration");
    let mut worst = 0.0_f64;
    for raw in i16::MIN..=i16::MAX {
        let r = of(&config, raw);
        let wide = i32::from(raw);
        for (channel, reading, raw) in [
            (&p.floor_accel, r.floor_accel, wide),
            (&p.seat_accel, r.seat_accel, wide),
            (&p.travel, r.travel, wide),
            (&p.current, r.current, wide),
            (&p.supply, r.supply, i32::from(raw as u16)),
            (&p.coil_temperature, r.coil_temperature, wide),
        ] {
            let error = (f64::from(reading) - expected(channel, raw)).abs();
            // Half a count, and 6.2e-5 of the reading: half of a gain of at least 2^13 counts.
            assert!(
                error <= 0.5 + 6.2e-5 * f64::from(reading).abs(),
                "{channel:?} at {raw}: {reading}, off by {error}"
            );
            worst = worst.max(error);
        }
    }
    worst
}

/// Every count of every channel of the default rig; a reading errs less than a hundredth of the 0.5 %
/// scale error that its best sensor has.
#[test]
fn default_rig() {
    let worst = near_for_every_count(&parameters());
    assert!(worst <= 127.9 * 16_777_216.0 * 5e-5, "{worst}");
}

/// Scales from ten micro-units to a unit a count, zeros at both ends of the converter, both polarities.
#[test]
fn other_scales() {
    for per_count in [1.0e-5, 1.7e-5, 2.5e-4, 0.001_7, 0.033, 0.1, 1.0] {
        for zero_counts in [0, 1, -777, 2048, 32_768, 65_535, -32_768] {
            for sign in [1.0, -1.0] {
                near_for_every_count(&uniform(Channel {
                    zero_counts,
                    per_count: sign * per_count,
                }));
            }
        }
    }
}

/// The other polarity is the mirror image, to the one count that rounding takes.
#[test]
fn polarity() {
    for per_count in [0.004_f32, 0.000_02, 0.123_4] {
        let plain = uniform(Channel {
            zero_counts: 0,
            per_count,
        });
        let mirrored = uniform(Channel {
            zero_counts: 0,
            per_count: -per_count,
        });
        let (plain, mirrored) = (
            plain.build().expect("plain"),
            mirrored.build().expect("mirror"),
        );
        for raw in -32_767..=32_767 {
            let (a, b) = (of(&plain, raw).travel, of(&mirrored, raw).travel);
            assert!(
                (i64::from(a) + i64::from(b)).abs() <= 1,
                "{per_count} {raw}: {a} {b}"
            );
            assert_eq!(a.signum(), i32::from(raw.signum()), "{raw}");
        }
    }
}

/// Beyond 127.9 units the reading stays at the last whole count; it never wraps.
#[test]
fn saturation() {
    let config = uniform(Channel {
        zero_counts: 0,
        per_count: 1.0,
    })
    .build()
    .expect("a configuration");
    let end = 127 << 24;
    assert_eq!(of(&config, 126).travel, 126 << 24);
    assert_eq!(of(&config, 127).travel, end);
    assert_eq!(of(&config, 128).travel, end);
    assert_eq!(of(&config, i16::MAX).travel, end);
    assert_eq!(of(&config, -128).travel, -end);
    assert_eq!(of(&config, i16::MIN).travel, -end);
    assert_eq!(of(&config, -1).supply, end, "the supply is unsigned");
}

/// Each field goes to its own reading and to no other.
#[test]
fn channels_are_not_mixed() {
    let config = parameters().build().expect("a configuration");
    let base = config.step(&SensorFrame::default());
    assert_eq!(base, Readings::default());
    type Set = fn(&mut SensorFrame);
    type Get = fn(&Readings) -> i32;
    let fields: [(Set, Get); 6] = [
        (|f| f.floor_accel = 100, |r| r.floor_accel),
        (|f| f.seat_accel = 100, |r| r.seat_accel),
        (|f| f.travel = 100, |r| r.travel),
        (|f| f.current = 100, |r| r.current),
        (|f| f.supply = 100, |r| r.supply),
        (|f| f.coil_temperature = 100, |r| r.coil_temperature),
    ];
    for (n, (set, _)) in fields.iter().enumerate() {
        let mut frame = SensorFrame::default();
        set(&mut frame);
        let readings = config.step(&frame);
        for (m, (_, get)) in fields.iter().enumerate() {
            assert_eq!(get(&readings) != 0, n == m, "field {n}, reading {m}");
        }
    }
}

/// The finest scales that `build` takes.
#[test]
fn finest_scales() {
    for per_count in [1.0e-6, 3.3e-6, -1.0e-6, -7.0e-6] {
        near_for_every_count(&uniform(Channel {
            zero_counts: 0,
            per_count,
        }));
    }
}
