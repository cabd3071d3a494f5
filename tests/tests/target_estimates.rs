//! The firmware's estimates against the plant's truth. Our own targets.

mod target_support;

use host_sim::ride;
use host_sim::rig::Rig;
use target_support::{FLOORS, assert_none, for_all, rig, spec};

/// Largest r.m.s. error of the travel rate, m/s.
const TRAVEL_RATE_MPS: f64 = 0.005;
/// Largest r.m.s. error of the floor velocity above 0.3 Hz, m/s.
const FLOOR_VELOCITY_MPS: f64 = 0.015;

/// Levels 1 and 2.5, seeds 1 to 5, all floors. Biases are drawn by seed, up to 0.3 m/s2.
fn motion_errors(name: &str, rig: &Rig) {
    let mut specs = Vec::new();
    for floor in FLOORS {
        for level in [1.0, 2.5] {
            specs.extend((1..=5).map(|seed| spec(floor, level, seed)));
        }
    }
    let errors = for_all(&specs, |spec| {
        let (mut sum, mut count) = (0.0, 0.0);
        let figures = ride::run(rig, spec, |s| {
            if s.time_s >= spec.skip_s {
                sum += (s.inside.motion.travel_rate - s.travel_rate).powi(2);
                count += 1.0;
            }
            true
        })
        .expect("a ride");
        let rate: f64 = f64::sqrt(sum / count);
        let reported = figures.estimate.travel_rate_rms_error_mps;
        assert!((rate - reported).abs() < 1.0e-4, "{rate} {reported}");
        (rate, figures.estimate.floor_velocity_rms_error_mps)
    });
    let worst = errors
        .iter()
        .fold((0.0_f64, 0.0_f64), |m, e| (m.0.max(e.0), m.1.max(e.1)));
    println!(
        "{name}: worst travel rate error {:.2} mm/s, floor velocity error {:.2} mm/s",
        1000.0 * worst.0,
        1000.0 * worst.1
    );
    let failures: Vec<_> = specs
        .iter()
        .zip(&errors)
        .filter(|(_, e)| !(e.0 <= TRAVEL_RATE_MPS && e.1 <= FLOOR_VELOCITY_MPS))
        .map(|(spec, e)| {
            let floor = &spec.floor;
            format!("{} {} {}: {e:?}", floor.name, floor.level, floor.seed)
        })
        .collect();
    assert_none(name, &failures);
}

#[test]
fn motion_on_the_default_rig() {
    motion_errors("default rig", &rig());
}

#[test]
fn motion_with_a_drifting_floor_accelerometer() {
    for drift in [0.05, -0.05] {
        let mut rig = rig();
        rig.sensors.floor_accel.drift_per_minute = drift;
        motion_errors(
            &format!("floor accelerometer drifts {drift} m/s2/min"),
            &rig,
        );
    }
}

#[test]
fn motion_with_a_drifting_seat_accelerometer() {
    for drift in [0.05, -0.05] {
        let mut rig = rig();
        rig.sensors.seat_accel.drift_per_minute = drift;
        motion_errors(&format!("seat accelerometer drifts {drift} m/s2/min"), &rig);
    }
}
