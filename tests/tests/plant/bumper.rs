//! Contact with the end bumpers: Hunt and Crossley, Coefficient of Restitution Interpreted as
//! Damping in Vibroimpact (Journal of Applied Mechanics, 1975): F = k x^1.5 (1 + c v).
//!
//! With nothing else acting, m v dv/dx = -k x^1.5 (1 + c v) integrates to G(v) = G(v0) - k x^2.5 /
//! (2.5 m), G(v) = v / c - ln(1 + c v) / c^2. So the rebound speed v1 solves G(-v1) = G(v0) and the
//! greatest compression is (2.5 m G(v0) / k)^(1/2.5). Neither depends on how the plant integrates.

use becalm_tests::plant::{balanced, quiet, rigid_60};
use host_sim::plant::{Config, Drive, Plant};

const MASS_KG: f64 = 80.0;
const STIFFNESS: f64 = 2.0e6;
const TRAVEL_M: f64 = 0.045;

fn free(step_s: f64, hysteresis_spm: f64) -> Config {
    Config {
        spring_npm: 0.0,
        travel_m: TRAVEL_M,
        bumper_npm15: STIFFNESS,
        bumper_spm: hysteresis_spm,
        ..quiet(step_s)
    }
}

fn potential(v: f64, c: f64) -> f64 {
    if c == 0.0 {
        0.5 * v * v
    } else {
        v / c - (c * v).ln_1p() / (c * c)
    }
}

/// Rebound speed of the closed form, by bisection.
fn rebound(v0: f64, c: f64) -> f64 {
    let (mut lo, mut hi) = (
        0.0,
        if c == 0.0 {
            v0
        } else {
            v0.min((1.0 - 1e-15) / c)
        },
    );
    for _ in 0..200 {
        let mid = 0.5 * (lo + hi);
        if potential(-mid, c) < potential(v0, c) {
            lo = mid;
        } else {
            hi = mid;
        }
    }
    0.5 * (lo + hi)
}

struct Impact {
    rebound_mps: f64,
    compression_m: f64,
    loop_j: f64,
    plant: Plant,
}

/// Throws the seat at an end (+1 or -1) with `v0` and lets it come back.
fn throw(side: f64, v0: f64, hysteresis_spm: f64, step_s: f64) -> Impact {
    let config = free(step_s, hysteresis_spm);
    let body = rigid_60();
    let mut plant = Plant::new(
        config,
        body,
        Plant::balance_n(&config, &body),
        side * (TRAVEL_M - 0.002),
    );
    plant.set_travel_rate(side * v0);
    let (mut compression, mut loop_j, mut last) = (0.0_f64, 0.0, (0.0, side * v0));
    for _ in 0..(0.3 / step_s) as usize {
        plant.step(0.0, 0.0, Drive::None, 0);
        compression = compression.max(side * plant.travel() - TRAVEL_M);
        let now = (MASS_KG * plant.seat_accel(), plant.travel_rate());
        loop_j -= 0.5 * step_s * (last.0 * last.1 + now.0 * now.1);
        last = now;
        if side * plant.travel() < TRAVEL_M - 0.002 {
            break;
        }
    }
    Impact {
        rebound_mps: -side * plant.travel_rate(),
        compression_m: compression,
        loop_j,
        plant,
    }
}

/// At 0.02 ms: the force has no second derivative at the face, h^2.5 of about 1e-11.
#[test]
fn rebound_and_compression() {
    for c in [0.0, 0.3, 1.2, 3.0] {
        for v0 in [0.05, 0.3, 1.0, 1.8] {
            let impact = throw(-1.0, v0, c, 0.000_02);
            let v1 = rebound(v0, c);
            assert!(
                (impact.rebound_mps - v1).abs() < 2e-6 * v0,
                "c {c} v0 {v0}: {} {v1}",
                impact.rebound_mps
            );
            // The deepest sample is within half a step of the deepest point.
            let deepest = (2.5 * MASS_KG * potential(v0, c) / STIFFNESS).powf(0.4);
            assert!(
                (impact.compression_m - deepest).abs() < 2e-5 * deepest,
                "c {c} v0 {v0}: {} {deepest}",
                impact.compression_m
            );
            assert_eq!(impact.plant.stops().contacts, 1);
            // In the step that meets the face the bumper has begun to brake.
            assert!((impact.plant.stops().speed_max_mps - v0).abs() < 1e-6);
        }
    }
}

/// What is lost of the kinetic energy is the area of the force-travel loop.
#[test]
fn energy_lost_is_the_hysteresis_loop() {
    for (c, v0) in [(0.0, 0.5), (0.5, 0.5), (1.2, 1.0)] {
        let impact = throw(1.0, v0, c, 0.000_02);
        let lost = 0.5 * MASS_KG * (v0 * v0 - impact.rebound_mps.powi(2));
        assert!(
            (lost - impact.loop_j).abs() < 2e-5 * MASS_KG * v0 * v0,
            "{lost} {}",
            impact.loop_j
        );
        assert_eq!(lost > 0.01, c > 0.0, "c {c}: {lost} J lost");
    }
}

/// More hysteresis, or more speed with it, leaves a smaller share: e falls.
#[test]
fn restitution_falls_with_hysteresis_and_speed() {
    let restitution = |v0: f64, c: f64| throw(-1.0, v0, c, 0.000_05).rebound_mps / v0;
    let shares = [0.0, 0.3, 0.6, 1.2, 2.4].map(|c| restitution(0.8, c));
    assert!((shares[0] - 1.0).abs() < 1e-5);
    assert!(shares.windows(2).all(|p| p[1] < p[0] - 0.01), "{shares:?}");
    let faster = [0.1, 0.4, 1.0, 2.0].map(|v| restitution(v, 1.2));
    assert!(faster.windows(2).all(|p| p[1] < p[0] - 0.01), "{faster:?}");
    // Small c v: e = 1 - 2/3 c v0 (series of the closed form).
    let small = restitution(0.05, 0.2);
    assert!(
        (small - (1.0 - 2.0 / 3.0 * 0.2 * 0.05)).abs() < 1e-4,
        "{small}"
    );
}

/// Both ends are mirror images, at the plant step of the default rig too.
#[test]
fn ends_are_mirror_images() {
    for step_s in [0.000_05, 0.0005] {
        let up = throw(1.0, 0.7, 1.2, step_s);
        let down = throw(-1.0, 0.7, 1.2, step_s);
        assert!((up.rebound_mps - down.rebound_mps).abs() < 1e-12);
        assert!((up.compression_m - down.compression_m).abs() < 1e-12);
    }
    // 0.5 ms is a thirtieth of the contact: still within 0.1 % of the closed form.
    let coarse = throw(1.0, 0.7, 1.2, 0.0005).rebound_mps;
    assert!((coarse / rebound(0.7, 1.2) - 1.0).abs() < 1e-3, "{coarse}");
}

/// A bumper pushes and never pulls: drawn away fast, the seat is not held back.
#[test]
fn bumper_never_pulls() {
    let config = free(0.0001, 3.0);
    let body = rigid_60();
    let mut plant = Plant::new(
        config,
        body,
        Plant::balance_n(&config, &body),
        TRAVEL_M + 0.01,
    );
    plant.set_travel_rate(-1.0);
    while plant.travel() > TRAVEL_M {
        plant.step(0.0, 0.0, Drive::None, 0);
        assert!(plant.seat_accel() <= 0.0 && plant.travel_rate() <= -1.0);
    }
    // 1 + c v < 0 throughout: no force at all.
    assert!((plant.travel_rate() + 1.0).abs() < 1e-12);
}

/// One meeting for one visit; the next after the seat has been away.
#[test]
fn meetings_are_counted_once() {
    let config = Config {
        viscous_nspm: 40.0,
        ..free(0.0005, 1.2)
    };
    let mut plant = balanced(config, rigid_60());
    plant.set_travel_rate(0.4);
    let mut visits = 0;
    let mut inside = false;
    for _ in 0..20_000 {
        plant.step(0.0, 0.0, Drive::None, 0);
        let over = plant.travel().abs() > TRAVEL_M;
        visits += u32::from(over && !inside);
        inside = over;
    }
    assert!(visits >= 2, "{visits}");
    assert_eq!(plant.stops().contacts, visits);
    plant.forget_stops();
    assert_eq!(plant.stops().contacts, 0);
    assert!(plant.stops().speed_max_mps == 0.0);
}
