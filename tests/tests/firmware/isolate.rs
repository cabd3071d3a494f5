//! What isolation may want, at the bounds of the register: accelerations by closed forms, the look-ahead acting beyond its
//! limits alone. Our own rules.

use firmware::estimate::{self, TIMES};
use firmware::isolate::{Config, Parameters, State};
use host_sim::limits::constant;
use host_sim::rig::Rig;
use shared_math::Turn;
use std::f64::consts::TAU;

fn built() -> (Parameters, Config<f64>) {
    let rig = Rig::default_machine().expect("the default rig");
    let p = rig.firmware.isolate;
    (p, p.build(&rig.firmware.timing).expect("a configuration"))
}

fn still() -> estimate::Output<f64> {
    estimate::Output {
        floor_accel: 0.0,
        floor_velocity: 0.0,
        floor_displacement: 0.0,
        seat_accel: 0.0,
        seat_velocity: 0.0,
        travel: 0.0,
        travel_rate: 0.0,
        floor_bias: 0.0,
        seat_bias: 0.0,
        travel_innovation: 0.0,
        turn: Turn::Odd,
        floor_ahead: [0.0; TIMES / 2],
        slack: false,
        sound: true,
    }
}

/// A seat that is absurdly far off: the clamp is that of a smooth floor up to the stated peak and rises beyond it. Lift and
/// catch before it isolates.
// Demonstrates: isolate-accel, isolate-accel-rough, isolate-accel-per-floor, lift-accel, catch-accel
#[test]
fn wanted_acceleration_is_clamped() {
    let (p, config) = built();
    let rough = constant::ISOLATE_ACCEL_ROUGH;
    for side in [1.0, -1.0] {
        for peak in [0.0, 0.9 * rough, rough, 1.1 * rough, 2.0 * rough] {
            let far = estimate::Output {
                floor_accel: peak,
                seat_velocity: -100.0 * side,
                ..still()
            };
            // It grows to there.
            let mut state = State::default();
            let found = (0..200).fold(0.0, |_, _| state.step(&config, &far, 1.0));
            let more = constant::ISOLATE_ACCEL_PER_FLOOR * (peak - rough).max(0.0);
            let expected = side * (constant::ISOLATE_ACCEL + more);
            assert!(
                (found - expected).abs() < 1.0e-4,
                "peak {peak}: {found}, expected {expected}"
            );
        }
        // The lift is that of its natural frequency, w^2 r, up to its bound.
        let stiffness = (TAU * f64::from(p.rise_hz)).powi(2);
        let reached_m = constant::LIFT_ACCEL / stiffness;
        for (travel, expected) in [
            (0.99 * reached_m, 0.99 * constant::LIFT_ACCEL),
            (1.01 * reached_m, constant::LIFT_ACCEL),
            (50.0 * reached_m, constant::LIFT_ACCEL),
        ] {
            let low = estimate::Output {
                travel: -side * travel,
                ..still()
            };
            let found = side * State::default().step(&config, &low, 0.0);
            assert!((found - expected).abs() < 1.0e-5, "{travel}: {found}");
        }
        let falls = |mps: f64| {
            let falling = estimate::Output {
                seat_velocity: -side * mps,
                ..still()
            };
            side * State::default().step(&config, &falling, 0.0)
        };
        let reached = constant::CATCH_ACCEL / (2.0 * TAU * f64::from(p.rise_hz));
        assert!((falls(0.99 * reached) - 0.99 * constant::CATCH_ACCEL).abs() < 1.0e-4);
        assert!((falls(1.01 * reached) - constant::CATCH_ACCEL).abs() < 1.0e-5);
        assert!((falls(20.0) - constant::CATCH_ACCEL).abs() < 1.0e-5);
    }
}

/// What the look-ahead wants when the floor is forecast to move by so much at the first time alone, or at all times.
fn ahead(first_m: f64, others_m: f64) -> f64 {
    let (p, config) = built();
    let gain = f64::from(p.forecast_gain);
    let mut state = State::default();
    let mut wanted = 0.0_f64;
    for k in 0..40 {
        let odd = k % 2 == 0;
        let mut forecast = [others_m / gain; TIMES / 2];
        if odd {
            forecast[0] = first_m / gain;
        }
        let motion = estimate::Output {
            turn: if odd { Turn::Odd } else { Turn::Even },
            floor_ahead: forecast,
            ..still()
        };
        // At mid travel and at rest the soft part wants nothing.
        let now = state.step(&config, &motion, 1.0);
        if now.abs() > wanted.abs() {
            wanted = now;
        }
    }
    wanted
}

/// A forecast that jumps is followed as fast as the floor shakes now, either way; before the seat isolates wholly, at once.
/// Back to rest it goes at once.
// Demonstrates: isolate-jerk
#[test]
fn wanted_acceleration_grows_by_the_floor() {
    let (p, config) = built();
    let step_s = 1.0e-3;
    for (floor_accel, side) in [(0.0, 1.0), (1.5, -1.0), (3.0, 1.0)] {
        let motion = |turn| estimate::Output {
            floor_accel,
            floor_ahead: [side * 0.5 / f64::from(p.forecast_gain); TIMES / 2],
            turn,
            ..still()
        };
        let turns = [Turn::Odd, Turn::Even, Turn::Odd, Turn::Even];
        let answers = |authority| {
            let mut state = State::default();
            turns.map(|turn| side * state.step(&config, &motion(turn), authority))
        };
        let jerk = constant::ISOLATE_JERK * (1.0 + 0.5 * floor_accel);
        for (k, found) in answers(1.0).into_iter().enumerate() {
            let expected = jerk * step_s * (k + 1) as f64;
            assert!(
                (found - expected).abs() < 1.0e-6,
                "{k}: {found}, expected {expected}"
            );
        }
        assert!(answers(0.5)[0] > 10.0 * jerk * step_s);
    }
}

/// The limit falls in a straight line from the one now to the one at the last time.
// Demonstrates: isolate-travel, isolate-travel-far
#[test]
fn the_look_ahead_acts_beyond_its_limits_alone() {
    let (near, far) = (constant::ISOLATE_TRAVEL, constant::ISOLATE_TRAVEL_FAR);
    let first = near + (far - near) / TIMES as f64;
    for side in [1.0, -1.0] {
        assert_eq!(ahead(side * 0.999 * first, 0.0), 0.0);
        // Toward where the floor goes.
        assert!(side * ahead(side * 1.001 * first, 0.0) > 0.0);
        let even = side * far;
        assert_eq!(ahead(0.999 * even, 0.999 * even), 0.0);
        assert!(side * ahead(1.001 * even, 1.001 * even) > 0.0);
    }
}
