//! The arrest's deceleration against the braking parabola v = sqrt(2 a d).

#![allow(
    clippy::approx_constant,
    reason = "printed table values, four decimals each"
)]

use firmware::arrest::{Parameters, State};
use firmware::estimate::Output;
use firmware::{Timing, arrest};
use shared_math::{Q24, Scalar};

const STEP_S: f64 = 0.0005;
const TOUCH_MPS: f64 = 0.01;

/// No latency: the formula alone.
fn build<S: Scalar>(braking_mps2: f64) -> arrest::Config<S> {
    Parameters {
        rest_m: 0.05,
        braking_mps2: braking_mps2 as f32,
        approach_ps: 100.0,
        touch_mps: TOUCH_MPS as f32,
        allowance_mps: 0.0,
        accel_max_mps2: 60.0,
        floor_accel_max_mps2: 100.0,
    }
    .build(&Timing {
        step_s: STEP_S as f32,
        latency_s: 0.0,
    })
    .expect("the parameters")
}

fn motion<S: Scalar>(travel: f64, rate: f64, floor: f64) -> Output<S> {
    let s = |x: f64| S::from_f32(x as f32);
    Output {
        floor_accel: s(floor),
        floor_velocity: S::ZERO,
        floor_displacement: S::ZERO,
        seat_accel: s(floor),
        seat_velocity: s(rate),
        travel: s(travel),
        travel_rate: s(rate),
        floor_bias: S::ZERO,
        seat_bias: S::ZERO,
        travel_innovation: S::ZERO,
        turn: shared_math::Turn::Odd,
        floor_ahead: [S::ZERO; firmware::estimate::TIMES / 2],
        slack: false,
        sound: true,
    }
}

/// A point that obeys the permitted acceleration, from mid travel toward `side` with a wish to go on.
/// Returns (distance to the end, closing speed, deceleration) of every step.
fn brake<S: Scalar>(braking: f64, side: f64, speed: f64, floor: f64) -> Vec<(f64, f64, f64)> {
    let config = build::<S>(braking);
    let mut state = State::default();
    let (mut x, mut v) = (0.0, side * speed);
    let mut seen = Vec::new();
    for _ in 0..4000 {
        let wanted = S::from_f32((side * 20.0 + floor) as f32);
        let seat = state
            .step(&config, &motion(x, v, floor), wanted)
            .permitted
            .to_f64();
        let relative = seat - floor;
        seen.push((0.05 - side * x, side * v, -side * relative));
        x += v * STEP_S + 0.5 * relative * STEP_S * STEP_S;
        v += relative * STEP_S;
    }
    seen
}

/// Braking parabola: a; d mm and v m/s printed to four decimals (closed form v = sqrt(2 a d)).
const TABLE: [(f64, [(f64, f64); 4]); 3] = [
    (
        2.0,
        [
            (5.0, 0.1414),
            (10.0, 0.2000),
            (20.0, 0.2828),
            (50.0, 0.4472),
        ],
    ),
    (
        5.0,
        [
            (5.0, 0.2236),
            (10.0, 0.3162),
            (20.0, 0.4472),
            (50.0, 0.7071),
        ],
    ),
    (
        9.80665,
        [
            (5.0, 0.3132),
            (10.0, 0.4429),
            (20.0, 0.6263),
            (50.0, 0.9903),
        ],
    ),
];

/// From the table's speed at 50 mm the seat follows the table: its speed at 20, 10 and 5 mm, with the
/// touch speed added in squares, and steady deceleration a. A sample is up to v * step past the mark
/// and the hold of one step lags a * step behind.
#[test]
fn follows_the_parabola() {
    for (a, points) in TABLE {
        for (d_mm, printed) in points {
            assert!(((2.0 * a * d_mm * 1e-3).sqrt() - printed).abs() < 6e-5);
        }
        let start = (points[3].1 * points[3].1 + TOUCH_MPS * TOUCH_MPS).sqrt();
        for floor in [0.0, 3.0] {
            let seen = brake::<f64>(a, 1.0, start, floor);
            for (d_mm, printed) in &points[..3] {
                let at = seen
                    .iter()
                    .find(|s| s.0 <= d_mm * 1e-3)
                    .expect("it gets there");
                let expected = (printed * printed + TOUCH_MPS * TOUCH_MPS).sqrt();
                assert!(
                    (at.1 - expected).abs() < 2.0 * a * STEP_S + 1e-4,
                    "{a} {d_mm}: {at:?}"
                );
            }
            let steady: Vec<f64> = seen
                .iter()
                .filter(|s| (0.005..0.045).contains(&s.0))
                .map(|s| s.2)
                .collect();
            for deceleration in &steady {
                assert!((deceleration / a - 1.0).abs() < 0.03, "{a}: {deceleration}");
            }
        }
    }
}

/// It ends at the stop with no more than the touch speed, in all arithmetics, and goes on from there
/// no faster.
#[test]
fn stops_within_the_distance() {
    fn check<S: Scalar>(slack: f64) {
        for a in [2.0, 5.0, 9.80665] {
            let start = (2.0 * a * 0.05 + TOUCH_MPS * TOUCH_MPS).sqrt();
            let seen = brake::<S>(a, 1.0, start, 0.0);
            let late = seen.iter().filter(|s| s.0 <= 0.0);
            for s in late {
                assert!(s.1 <= TOUCH_MPS + a * STEP_S + slack, "{a}: {s:?}");
            }
            // Past the rest position the speed settles at g V / (g + a / V).
            let creep = 100.0 * TOUCH_MPS / (100.0 + a / TOUCH_MPS);
            let last = seen.last().expect("steps");
            assert!(
                (last.1 - creep).abs() < 1e-4 + slack,
                "{a}: {last:?} {creep}"
            );
        }
    }
    check::<f64>(0.0);
    check::<f32>(1e-5);
    check::<Q24>(1e-4);
}

/// Slower than the parabola nothing is taken away until it is met; the clamp touches only the way
/// toward the end.
#[test]
fn leaves_alone_what_can_stop() {
    let config = build::<f64>(5.0);
    // The floor stands still, and did so in the last step.
    for (x, v, wanted) in [
        (0.0, 0.1, 3.0),
        (0.0, 0.0, -8.0),
        (0.04, 0.2, -15.0),
        (-0.04, -0.2, 15.0),
        (0.04, -0.5, -10.0),
    ] {
        let mut state = State::default();
        let given = state.step(&config, &motion(x, v, 0.0), wanted).permitted;
        assert!((given - wanted).abs() < 1e-12, "{x} {v} {wanted}: {given}");
    }
}

/// Both ends are mirror images, whatever is wanted.
#[test]
fn ends_are_mirror_images() {
    let up = brake::<f64>(5.0, 1.0, 0.7, 2.0);
    let down = brake::<f64>(5.0, -1.0, 0.7, -2.0);
    for (u, d) in up.iter().zip(&down) {
        assert!((u.0 - d.0).abs() < 1e-12 && (u.1 - d.1).abs() < 1e-12 && (u.2 - d.2).abs() < 1e-9);
    }
}
