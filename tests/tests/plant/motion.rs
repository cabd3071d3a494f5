//! The plant's motion against closed forms of one degree of freedom (textbook material: base
//! excitation, skyhook, free decay, Coulomb friction; e.g. Rao, Mechanical Vibrations).
#![allow(
    clippy::approx_constant,
    reason = "printed table values, four decimals each"
)]

use becalm_tests::plant::{Phasor, balanced, over, quiet, ride_sine, rigid_60};
use host_sim::body::{Body, BodyKind};
use host_sim::plant::{Config, Drive, Plant};
use std::f64::consts::TAU;

const MASS_KG: f64 = 80.0;
/// sqrt(2000 N/m / 80 kg).
const OMEGA: f64 = 5.0;

/// Frequency ratios and damping ratios with the printed transmissibilities: T = sqrt((1 + (2 z r)^2)
/// / ((1 - r^2)^2 + (2 z r)^2)), computed from the formula, to four decimals.
const PASSIVE: [(f64, [f64; 3]); 6] = [
    // z, T(1), T(2), T(5)
    (0.1, [5.0990, 0.3559, 0.0589]),
    (0.2, [2.6926, 0.4125, 0.0928]),
    (0.3, [1.9437, 0.4834, 0.1307]),
    (0.5, [1.4142, 0.6202, 0.2080]),
    (0.7071, [1.2247, 0.7276, 0.2854]),
    (1.0, [1.1180, 0.8246, 0.3865]),
];

fn damped(ratio: f64, step_s: f64) -> Config {
    Config {
        viscous_nspm: 2.0 * ratio * MASS_KG * OMEGA,
        ..quiet(step_s)
    }
}

/// Seat over floor acceleration and travel over floor displacement, magnitudes.
fn measured_passive(ratio: f64, r: f64, steps_per_cycle: u32) -> (f64, f64) {
    let f_hz = r * OMEGA / TAU;
    let period_s = 1.0 / (f_hz * f64::from(steps_per_cycle));
    let mut plant = balanced(damped(ratio, period_s), rigid_60());
    // The start fades as exp(-z w t): down to 1e-7.
    let settle = (16.0 / (ratio * OMEGA) * f_hz).ceil() as u32;
    let (mut seat, mut floor, mut travel) =
        (Phasor::default(), Phasor::default(), Phasor::default());
    ride_sine(
        &mut plant,
        period_s,
        f_hz,
        1.0,
        (settle, 1),
        |_, _| Drive::None,
        |t, a, plant| {
            seat.push(f_hz, t, plant.seat_accel());
            floor.push(f_hz, t, a);
            travel.push(f_hz, t, plant.travel());
        },
    );
    let omega = TAU * f_hz;
    (
        seat.size() / floor.size(),
        travel.size() * omega * omega / floor.size(),
    )
}

fn passive_closed_form(z: f64, r: f64) -> f64 {
    let damping = 2.0 * z * r;
    (1.0 + damping * damping).sqrt() / (1.0 - r * r).hypot(damping)
}

/// The floor goes straight between 800 knots a cycle, whose fundamental is 5e-6 smaller than the
/// sine's; the printed table has four decimals.
#[test]
fn passive_transmissibility() {
    for (z, [one, two, five]) in PASSIVE {
        for (r, printed) in [(1.0, one), (2.0, two), (5.0, five)] {
            let (seat, travel) = measured_passive(z, r, 800);
            assert!(
                (seat - printed).abs() < 6e-5 + 1e-5 * seat,
                "z {z} r {r}: {seat}"
            );
            let closed = r * r / (1.0 - r * r).hypot(2.0 * z * r);
            assert!(
                (travel - closed).abs() < 2e-5 * closed.max(1.0),
                "z {z} r {r}: travel {travel}"
            );
        }
        for r in [0.5, 0.8, 1.5, 3.0] {
            let (seat, _) = measured_passive(z, r, 800);
            let closed = passive_closed_form(z, r);
            assert!(
                (seat - closed).abs() < 2e-5 * closed,
                "z {z} r {r}: {seat} {closed}"
            );
        }
        let (seat, _) = measured_passive(z, 2.0_f64.sqrt(), 800);
        assert!((seat - 1.0).abs() < 2e-5, "z {z}: T(sqrt 2) = {seat}");
    }
}

/// Peak of the passive transmissibility at r = sqrt(sqrt(1 + 8 z^2) - 1) / (2 z); printed T_peak.
#[test]
fn passive_peak() {
    for (z, r_peak, t_peak) in [
        (0.1, 0.9903, 5.1228),
        (0.3, 0.9302, 1.9946),
        (1.0, 0.7071, 1.1547),
    ] {
        let r = ((1.0_f64 + 8.0 * z * z).sqrt() - 1.0).sqrt() / (2.0 * z);
        assert!((r - r_peak).abs() < 6e-5);
        let at = |r| measured_passive(z, r, 800).0;
        let peak = at(r);
        assert!((peak - t_peak).abs() < 1e-4, "{peak}");
        assert!(at(0.97 * r) < peak && at(1.03 * r) < peak);
    }
}

/// Skyhook: a force against the seat's absolute velocity gives T = 1 / sqrt((1 - r^2)^2 + (2 z r)^2).
/// The motor makes the force: 20 000 periods a cycle, the current loop two periods behind, so the
/// force lags by 0.8 mrad, which moves T by at most 2 z r * 0.8e-3.
#[test]
fn skyhook_transmissibility() {
    // z; T at r = 1, sqrt 2, 2, 5, to four decimals from the formula.
    let table = [
        (0.3, [1.6667, 0.7625, 0.3095, 0.0413]),
        (0.7071, [0.7071, 0.4472, 0.2425, 0.0400]),
        (1.0, [0.5000, 0.3333, 0.2000, 0.0385]),
    ];
    for (z, printed) in table {
        for (r, printed) in [1.0, 2.0_f64.sqrt(), 2.0, 5.0].into_iter().zip(printed) {
            let omega = r * OMEGA;
            let f_hz = omega / TAU;
            let period_s = 1.0 / (f_hz * 20_000.0);
            let config = Config {
                current_loop_radps: 0.5 / period_s,
                supply_v: 1.0e4,
                chopper_v: 2.0e4,
                ..quiet(period_s)
            };
            let mut plant = balanced(config, rigid_60());
            let (mut seat, mut floor) = (Phasor::default(), Phasor::default());
            let amplitude = 0.5;
            let per_current = 2.0 * z * MASS_KG * OMEGA / config.force_constant_npa;
            let settle = (12.0 / (z * OMEGA) * f_hz).ceil() as u32;
            ride_sine(
                &mut plant,
                period_s,
                f_hz,
                amplitude,
                (settle, 1),
                |plant, t| {
                    let floor_velocity = -amplitude / omega * (omega * t).cos();
                    Drive::Current(-per_current * (plant.travel_rate() + floor_velocity))
                },
                |t, a, plant| {
                    seat.push(f_hz, t, plant.seat_accel());
                    floor.push(f_hz, t, a);
                },
            );
            let t = seat.size() / floor.size();
            assert!(
                (t - printed).abs() < 6e-5 + 2.0 * z * r * 0.8e-3 * printed,
                "z {z} r {r}: {t} against {printed}"
            );
        }
    }
}

/// Free decay: x0 exp(-z w t) (cos(wd t) + z w / wd sin(wd t)), and the logarithmic decrement
/// 2 pi z / sqrt(1 - z^2) a cycle.
#[test]
fn free_decay() {
    for z in [0.05, 0.2, 0.5] {
        let wd = OMEGA * (1.0_f64 - z * z).sqrt();
        let per_cycle = 2500;
        let step_s = TAU / wd / f64::from(per_cycle);
        let config = damped(z, step_s);
        let body = rigid_60();
        let x0 = 0.04;
        let mut plant = Plant::new(config, body, Plant::balance_n(&config, &body), x0);
        let mut at_cycle = vec![x0];
        for k in 1..=5 * per_cycle {
            plant.step(0.0, 0.0, Drive::None, 0);
            let t = f64::from(k) * step_s;
            let closed =
                x0 * (-z * OMEGA * t).exp() * ((wd * t).cos() + z * OMEGA / wd * (wd * t).sin());
            assert!((plant.travel() - closed).abs() < 1e-11, "z {z} t {t}");
            if k % per_cycle == 0 {
                at_cycle.push(plant.travel());
            }
        }
        let decrement = TAU * z / (1.0 - z * z).sqrt();
        for pair in at_cycle.windows(2) {
            let ours = (pair[0] / pair[1]).ln();
            assert!((ours - decrement).abs() < 1e-6, "z {z}: {ours} {decrement}");
        }
    }
}

/// F / k, by the rest position and by settling; on the bumper k_b x^1.5 carries what is left.
#[test]
fn static_deflection() {
    let config = damped(1.0, 0.001);
    let body = rigid_60();
    let balance = Plant::balance_n(&config, &body);
    assert!((balance - 80.0 * 9.806_65).abs() < 1e-9);
    let rest = Plant::rest_travel(&config, &body, balance - 50.0);
    assert!((rest + 50.0 / 2000.0).abs() < 1e-9);
    let mut plant = Plant::new(config, body, balance - 50.0, 0.0);
    for _ in 0..10_000 {
        plant.step(0.0, 0.0, Drive::None, 0);
    }
    assert!((plant.travel() + 0.025).abs() < 1e-9, "{}", plant.travel());

    let short = Config {
        travel_m: 0.045,
        ..config
    };
    let rest = Plant::rest_travel(&short, &body, balance - 500.0);
    let over = -rest - 0.045;
    let carried = 2000.0 * -rest + 2.0e6 * over.powf(1.5);
    assert!(over > 0.0 && (carried - 500.0).abs() < 1e-6, "{carried}");
}

/// Coulomb friction alone takes 4 F / k of amplitude a cycle, 2 F / k each half, in the time of the
/// frictionless half cycle, and the seat stops inside F / k (textbook closed form).
#[test]
fn coulomb_decay() {
    let friction = 20.0;
    let step_s = 0.0005;
    let config = Config {
        coulomb_n: friction,
        stiction_n: friction,
        ..quiet(step_s)
    };
    let body = rigid_60();
    let mut plant = Plant::new(config, body, Plant::balance_n(&config, &body), 0.095);
    let mut turns = Vec::new();
    let mut last = 0.0;
    for k in 1..12_000 {
        plant.step(0.0, 0.0, Drive::None, 0);
        let rate = plant.travel_rate();
        if rate * last < 0.0 || (rate == 0.0 && last != 0.0) {
            turns.push((k as f64 * step_s, plant.travel()));
        }
        last = rate;
    }
    let expected = [-0.075, 0.055, -0.035, 0.015, 0.005];
    assert_eq!(turns.len(), expected.len(), "{turns:?}");
    for (n, ((time, travel), expected)) in turns.iter().zip(expected).enumerate() {
        // Seen at the end of the step in which it turns: 1/2 * 2 m/s2 * step^2.
        assert!((travel - expected).abs() < 5e-7, "{travel} {expected}");
        let half_cycle = TAU / OMEGA / 2.0;
        assert!(
            (time - half_cycle * (n as f64 + 1.0)).abs() <= step_s,
            "{time}"
        );
    }
    assert!((plant.travel() - 0.005).abs() < 2e-7, "{}", plant.travel());
    assert!(plant.travel_rate() == 0.0);
}

/// Below breakaway the seat moves with the floor, and one newton more moves it.
#[test]
fn sticking_and_breakaway() {
    let config = Config {
        coulomb_n: 40.0,
        stiction_n: 60.0,
        ..quiet(0.001)
    };
    let peak_held = 60.0 / MASS_KG;
    for (share, moves) in [(0.99, false), (1.02, true)] {
        let mut plant = balanced(config, rigid_60());
        let mut largest = 0.0_f64;
        ride_sine(
            &mut plant,
            0.001,
            1.0,
            share * peak_held,
            (0, 2),
            |_, _| Drive::None,
            |_, floor, plant| {
                largest = largest.max(plant.travel().abs());
                if !moves {
                    assert!((plant.seat_accel() - floor).abs() < 1e-15);
                }
            },
        );
        assert_eq!(largest > 1e-4, moves, "{share}: {largest}");
    }
}

/// Force that jumps about breakaway makes the seat start and turn within single steps. Whatever it
/// does, travel changes by the trapezoid of the rate within 1/8 of the step squared times the change of
/// acceleration (trapezoid rule; 400 N on 80 kg both ways: 10 m/s2), so it never jumps.
#[test]
fn chatter_about_breakaway_never_jumps() {
    let step_s = 0.0005;
    let config = Config {
        coulomb_n: 45.0,
        stiction_n: 52.0,
        viscous_nspm: 160.0,
        ..quiet(step_s)
    };
    let mut plant = balanced(config, rigid_60());
    let mut random = 0x9E37_79B9_7F4A_7C15_u64;
    let (mut turns, mut rests) = (0, 0);
    for k in 0..400_000_u32 {
        random ^= random >> 12;
        random ^= random << 25;
        random ^= random >> 27;
        let size = if k % 2000 < 1900 { 70.0 } else { 400.0 };
        let share =
            (random.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 11) as f64 / (1_u64 << 53) as f64;
        let amperes = (2.0 * share - 1.0) * size / config.force_constant_npa;
        let before = (plant.travel(), plant.travel_rate());
        plant.step(0.0, 0.0, Drive::Current(amperes), 0);
        let after = (plant.travel(), plant.travel_rate());
        let missed = after.0 - before.0 - 0.5 * step_s * (before.1 + after.1);
        assert!(
            missed.abs() <= step_s * step_s * 10.0 / 8.0,
            "step {k}: {before:?} to {after:?} misses {missed:e} m"
        );
        turns += u32::from(before.1 * after.1 < 0.0);
        rests += u32::from(before.1 != 0.0 && after.1 == 0.0);
    }
    assert!(turns + rests > 2_000, "{turns} turns, {rests} rests");
}

/// The integral of seat less floor acceleration is the travel rate, that of the rate the travel;
/// trapezoid rule at 0.1 ms. Friction jumps cost half a step of 2 F / m each: 1.1 m/s2 * 0.05 ms.
#[test]
fn acceleration_agrees_with_rate() {
    let step_s = 0.0001;
    for (coulomb, tolerance) in [(0.0, 2e-7), (45.0, 4e-4)] {
        let config = Config {
            coulomb_n: coulomb,
            stiction_n: 1.3 * coulomb,
            viscous_nspm: 160.0,
            ..quiet(step_s)
        };
        let body = Body::new(BodyKind::TwoMass, 60.0);
        let mut plant = balanced(config, body);
        let (mut rate, mut travel) = (0.0, 0.0);
        let mut last = (0.0, 0.0);
        ride_sine(
            &mut plant,
            step_s,
            1.6,
            2.0,
            (0, 6),
            |_, _| Drive::None,
            |_, floor, plant| {
                let now = (plant.seat_accel() - floor, plant.travel_rate());
                rate += 0.5 * step_s * (last.0 + now.0);
                travel += 0.5 * step_s * (last.1 + now.1);
                last = now;
                assert!((rate - now.1).abs() < tolerance, "{rate} {}", now.1);
                assert!(
                    (travel - plant.travel()).abs() < 1e-7,
                    "{travel} {}",
                    plant.travel()
                );
            },
        );
        assert!(plant.travel().abs() > 1e-4 || plant.travel_rate().abs() > 1e-3);
    }
}

/// With a sprung body the seat's transmissibility is (k + j w c) / (k + j w c - w^2 (m + M(w))), M
/// the body's apparent mass m0 + sum m (k + j w c)/(k - m w^2 + j w c), written out here again.
#[test]
fn body_acts_by_its_apparent_mass() {
    for kind in [BodyKind::Rigid, BodyKind::OneMass, BodyKind::TwoMass] {
        let body = Body::new(kind, 60.0);
        for f_hz in [0.8, 2.0, 4.0, 5.0, 8.0, 16.0] {
            let period_s = 1.0 / (f_hz * 1000.0);
            let config = Config {
                viscous_nspm: 300.0,
                ..quiet(period_s)
            };
            let mut plant = balanced(config, body);
            let (mut seat, mut floor) = (Phasor::default(), Phasor::default());
            let settle = (12.0 * f_hz).ceil() as u32;
            ride_sine(
                &mut plant,
                period_s,
                f_hz,
                1.0,
                (settle, 1),
                |_, _| Drive::None,
                |t, a, plant| {
                    seat.push(f_hz, t, plant.seat_accel());
                    floor.push(f_hz, t, a);
                },
            );
            let w = TAU * f_hz;
            let mut apparent = (body.base_kg, 0.0);
            for s in body.sprung.iter().filter(|s| s.mass_kg > 0.0) {
                let up = (s.stiffness_npm, w * s.damper_nspm);
                let q = over(up, (up.0 - s.mass_kg * w * w, up.1));
                apparent.0 += s.mass_kg * q.0;
                apparent.1 += s.mass_kg * q.1;
            }
            let support = (config.spring_npm, w * config.viscous_nspm);
            let closed = over(
                support,
                (
                    support.0 - w * w * (config.seat_kg + apparent.0),
                    support.1 - w * w * apparent.1,
                ),
            );
            let ours = over(seat.value(), floor.value());
            let error = (ours.0 - closed.0).hypot(ours.1 - closed.1);
            assert!(
                error < 2e-5 * closed.0.hypot(closed.1).max(0.1),
                "{kind:?} {f_hz} Hz: {ours:?} {closed:?}"
            );
        }
    }
}
