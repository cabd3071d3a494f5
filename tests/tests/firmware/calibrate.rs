//! Counts to SI against the definition, (counts - zero) * scale, in double precision.

use firmware::SensorFrame;
use firmware::calibrate::{Channel, Config, Parameters, Readings, Slow};
use host_sim::design;
use host_sim::rig::Rig;
use shared_math::Turn;

/// A count of 2^-24 of a unit.
const PER_UNIT: f64 = 16_777_216.0;

fn parameters() -> Parameters {
    let rig = Rig::default_machine().expect("the default rig");
    design::parameters(&rig).expect("parameters").calibrate
}

/// Results of all channels but travel are whole multiples of it.
const COARSE: f64 = 256.0;

fn expected(channel: &Channel, raw: i32) -> f64 {
    // Within +-128 units, the upper end being one result short of it.
    let whole = 128.0 * PER_UNIT;
    let reading = f64::from(raw - channel.zero_counts) * f64::from(channel.per_count) * PER_UNIT;
    reading.clamp(-whole, whole - COARSE)
}

/// Both turns of one frame: all of its readings.
fn both(config: &Config, frame: &SensorFrame) -> Readings {
    let supply = config.step(frame, Turn::Odd, &Slow::default()).supply;
    let kept = Slow {
        supply,
        coil_temperature: -1,
    };
    let readings = config.step(frame, Turn::Even, &kept);
    assert_eq!(readings.supply, supply, "the other turn keeps it");
    readings
}

/// Readings of a frame whose fields all hold one raw value.
fn of(config: &Config, raw: i16) -> Readings {
    both(
        config,
        &SensorFrame {
            floor_accel: raw,
            seat_accel: raw,
            travel: raw,
            current: raw,
            supply: raw as u16,
            coil_temperature: raw,
            ..SensorFrame::default()
        },
    )
}

/// All channels with one scale, and travel with one as much finer as its results are.
fn uniform(channel: Channel) -> Parameters {
    let fine = (channel.per_count.abs() / COARSE as f32).max(1.0e-6);
    Parameters {
        floor_accel: channel,
        seat_accel: channel,
        travel: Channel {
            zero_counts: channel.zero_counts,
            per_count: fine.copysign(channel.per_count),
        },
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
        for (channel, reading, raw, result) in [
            (&p.floor_accel, r.floor_accel, wide, COARSE),
            (&p.seat_accel, r.seat_accel, wide, COARSE),
            (&p.travel, r.travel, wide, 1.0),
            (&p.current, r.current, wide, COARSE),
            (&p.supply, r.supply, i32::from(raw as u16), COARSE),
            (&p.coil_temperature, r.coil_temperature, wide, COARSE),
        ] {
            let error = (f64::from(reading) - expected(channel, raw)).abs();
            // One result for the product and half of one for the zero; and half a count of the gain, which has
            // 2^34 for a unit (travel: 2^42), for each raw count from the zero.
            let gain =
                0.5 / (f64::from(channel.per_count.abs()) * PER_UNIT * PER_UNIT * 2.0_f64.powi(-6));
            let gain = gain * if result > 1.0 { COARSE } else { 1.0 };
            let read =
                f64::from(raw - channel.zero_counts) * f64::from(channel.per_count) * PER_UNIT;
            assert!(
                error <= 1.5 * result + gain * read.abs(),
                "{channel:?} at {raw}: {reading}, off by {error}"
            );
            worst = worst.max(error);
        }
    }
    worst
}

/// Every count of every channel of the default rig: a reading errs by two results at most.
#[test]
fn default_rig() {
    let worst = near_for_every_count(&parameters());
    assert!(worst <= 2.0 * COARSE, "{worst}");
}

/// Scales from ten micro-units to 0.124 units a count, zeros at both ends of the converter, both polarities.
#[test]
fn other_scales() {
    for per_count in [1.0e-5, 1.7e-5, 2.5e-4, 0.001_7, 0.033, 0.1, 0.124] {
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
    for per_count in [0.004_f32, 0.005_12, 0.123_4] {
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

/// Beyond +-128 units the reading stays at the end of its range; it never wraps.
#[test]
fn saturation() {
    let config = uniform(Channel {
        zero_counts: 0,
        per_count: 0.1,
    })
    .build()
    .expect("a configuration");
    let end = i32::MAX - 255;
    let near = |raw: i16, units: f64| {
        let error = f64::from(of(&config, raw).current) / PER_UNIT - units;
        assert!(error.abs() < 3.0e-5, "{raw}: off by {error}");
    };
    near(1279, 127.9);
    near(-1279, -127.9);
    assert_eq!(of(&config, 1281).current, end);
    assert_eq!(of(&config, i16::MAX).current, end);
    assert_eq!(of(&config, -1281).current, i32::MIN);
    assert_eq!(of(&config, i16::MIN).current, i32::MIN);
    assert_eq!(of(&config, -1).supply, end, "the supply is unsigned");
}

/// Each field goes to its own reading and to no other.
#[test]
fn channels_are_not_mixed() {
    let config = parameters().build().expect("a configuration");
    let base = both(&config, &SensorFrame::default());
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
        let readings = both(&config, &frame);
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
