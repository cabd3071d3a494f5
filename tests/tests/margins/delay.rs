//! The delay margin in the nonlinear bench: with an extra delay of 10 % less than the margin a small
//! disturbance dies out, with 10 % more it grows. The firmware's whole cycle runs on the plant, at
//! steps of 25 us so that a delay need not be whole control periods. Friction is off, sensors are fine
//! and without noise: what is left is what the linear model says.

use becalm_tests::margins::{law_point, quiet_rig};
use firmware::{Cycle, DriveFrame, Mode, Switches};
use host_sim::body::{Body, BodyKind};
use host_sim::design;
use host_sim::machine::adjuster;
use host_sim::margins::linearise::linearise;
use host_sim::margins::loops::{Break, ClosedLoop, LawResponse};
use host_sim::margins::margin;
use host_sim::margins::plant_model::{LinearPlant, Machine};
use host_sim::plant::{Config, Drive, Plant};
use host_sim::sensors::{SensorBank, Truth};
use std::collections::VecDeque;
use std::f64::consts::{PI, TAU};

/// Plant steps in a control period.
const FINE: usize = 40;
/// Rise, levelling, learning of mass and bias, s.
const SETTLE_S: f64 = 16.0;
/// How long the floor swings before that, s.
const SWING_S: f64 = 12.0;
/// Windows after the kick, in periods of the crossover: where the first begins, where the last begins, how
/// long they are.
const WINDOWS: (f64, f64, f64) = (2.0, 8.0, 2.0);

struct Seen {
    /// R.m.s. seat acceleration in a window after the kick and in a later one, m/s^2.
    early: f64,
    late: f64,
    mass_kg: f64,
}

/// A ride on a still floor; at the end the extra delay begins and the floor gives a kick.
fn ride(kg: f64, kind: BodyKind, extra_s: f64, crossover_hz: f64) -> Seen {
    let rig = quiet_rig();
    let step = rig.timing.step_s;
    let body = Body::new(kind, kg * rig.seat.on_seat_share);
    let mut config = Config::active(&rig, 0.0, 0.0);
    config.step_s = step / FINE as f64;
    config.substeps = 1;
    let preload = f64::from(rig.firmware.weigh.preload_n);
    let rest = Plant::rest_travel(&config, &body, preload);
    let mut plant = Plant::new(config, body, preload, rest);
    let mut sensors = SensorBank::new(&rig.sensors, step, 1, &Truth::of(&plant, 0.0));
    let mut cycle = Cycle::<f64>::new(&design::parameters(&rig).unwrap()).unwrap();
    let settle = (SETTLE_S / step) as usize;
    let steps = settle + ((WINDOWS.1 + WINDOWS.2) / crossover_hz / step) as usize;
    // Commands with the fine step from which each acts; the last one acts until the next does.
    let mut waiting: VecDeque<(usize, DriveFrame)> = VecDeque::new();
    let mut acting = DriveFrame::default();
    let mut windows = [(0.0, 0.0); 2];
    let mut mass_kg = 0.0;
    let transport = rig.timing.transport_steps * FINE;
    let extra = (extra_s / config.step_s).round() as usize;
    let accel = |time: f64| {
        // A push of 40 ms, 1 m/s2, and back.
        let t = time - SETTLE_S;
        if (0.0..0.04).contains(&t) {
            1.0 * (TAU * t / 0.04).sin()
        } else if t < -SETTLE_S + SWING_S {
            // Before: a swing that comes and goes moves the seat, from which the mass is learnt. This is the
            // derivative of the velocity 0.08 sin^2(pi t / SWING_S) sin(w t).
            let (w, slow) = (TAU * 1.5, PI / SWING_S);
            0.08 * (slow * (2.0 * slow * time).sin() * (w * time).sin()
                + (slow * time).sin().powi(2) * w * (w * time).cos())
        } else {
            0.0
        }
    };
    for k in 0..steps {
        let time = k as f64 * step;
        // Armed after the law's first step, as it demands.
        let arm = if k > 0 { Switches::ARM } else { 0 };
        let switches = Switches(arm | Switches::STOP_CIRCUIT | Switches::OCCUPANT);
        let frame = sensors.sample(&Truth::of(&plant, accel(time)), time, switches);
        let (drive, inside) = cycle.watch(&frame);
        let late = transport + if k >= settle { extra } else { 0 };
        waiting.push_back((k * FINE + late, drive));
        if k == settle {
            assert_eq!(cycle.mode(), Mode::Active);
            // Nearer than any limit of the look-ahead.
            let travel = plant.travel();
            assert!(travel.abs() < 0.015 && adjuster(&drive) == 0, "{travel} m");
            mass_kg = 1000.0 * inside.mass;
        }
        for n in 0..FINE {
            while waiting.front().is_some_and(|w| w.0 <= k * FINE + n) {
                acting = waiting.pop_front().unwrap().1;
            }
            let at = |n: usize| accel(time + n as f64 * config.step_s);
            plant.step(
                at(n),
                at(n + 1),
                Drive::of(&acting, &rig),
                adjuster(&acting),
            );
        }
        let after = time - SETTLE_S;
        for (window, from) in windows.iter_mut().zip([WINDOWS.0, WINDOWS.1]) {
            let periods = after * crossover_hz - from;
            if (0.0..WINDOWS.2).contains(&periods) {
                *window = (window.0 + plant.seat_accel().powi(2), window.1 + 1.0);
            }
        }
    }
    let [early, late] = windows.map(|(sum, n): (f64, f64)| (sum / n).sqrt());
    Seen {
        early,
        late,
        mass_kg,
    }
}

fn margin_s(kg: f64, kind: BodyKind, mass_kg: f64) -> (f64, f64, f64) {
    let rig = quiet_rig();
    let law = linearise(&design::parameters(&rig).unwrap(), &law_point(mass_kg)).unwrap();
    let response = LawResponse::new(&law);
    let machine = Machine::of(&rig, Body::new(kind, kg * rig.seat.on_seat_share));
    let plant = LinearPlant::new(&machine);
    let closed = ClosedLoop {
        law: &response,
        plant: &plant,
    };
    let margin = margin::margins(&closed, machine.step_s)[Break::Actuator as usize];
    // The same by the poles of the loop with the delay in it, exactly discretised.
    let largest = |extra: f64| {
        let mut late = machine;
        late.delay_s += extra;
        let plant = LinearPlant::new(&late);
        ClosedLoop {
            law: &response,
            plant: &plant,
        }
        .largest_pole()
    };
    let (mut low, mut high) = (0.0, 2.0 * margin.delay_margin_s);
    for _ in 0..30 {
        let mid = 0.5 * (low + high);
        if largest(mid) < 1.0 {
            low = mid;
        } else {
            high = mid;
        }
    }
    (margin.delay_margin_s, low, margin.crossover_hz)
}

#[test]
fn delay_margin_is_that_of_the_nonlinear_bench() {
    for (kg, kind) in [
        (40.0, BodyKind::TwoMass),
        (80.0, BodyKind::TwoMass),
        (130.0, BodyKind::Rigid),
    ] {
        let usual = ride(kg, kind, 0.0, 20.0);
        let (margin, by_poles, crossover_hz) = margin_s(kg, kind, usual.mass_kg);
        println!(
            "{kg} kg {}: mass {:.1} kg, delay margin {:.3} ms by phase, {:.3} ms by poles",
            kind.name(),
            usual.mass_kg,
            1e3 * margin,
            1e3 * by_poles
        );
        let within = ride(kg, kind, 0.9 * margin, crossover_hz);
        let beyond = ride(kg, kind, 1.1 * margin, crossover_hz);
        println!(
            "   10 % below: {:.4} -> {:.4} m/s2; 10 % above: {:.4} -> {:.4}",
            within.early, within.late, beyond.early, beyond.late
        );
        assert!(within.late < 0.5 * within.early, "10 % below: grows");
        assert!(beyond.late > 1.5 * beyond.early, "10 % above: dies out");
        // A delay of a held command is not quite that of a sine.
        assert!((margin / by_poles - 1.0).abs() < 0.03);
    }
}
