//! The linear law against the law itself: the firmware's whole cycle in f64 with one reading pushed for one
//! step, by finite difference. What the linear law freezes (mass, preload, forecast, coil, mode) is free
//! there. And its forecast against the one that the law works out.

use becalm_tests::margins::{law_point, quiet_rig};
use firmware::{Cycle, Marks, Mode, SensorFrame, Switches, estimate};
use host_sim::body::BodyKind;
use host_sim::design;
use host_sim::margins::forecast::Learner;
use host_sim::margins::law::Law;
use host_sim::margins::linearise::{SETTLE_STEPS, linearise};
use host_sim::margins::point::{Bench, Doing, Point};
use host_sim::rig::Rig;
use nalgebra::DMatrix;

/// A frame of a seat at rest at mid travel; `pushed` counts on floor acceleration, seat acceleration, travel.
fn frame(sequence: u16, current: i16, pushed: [i16; 3]) -> SensorFrame {
    SensorFrame {
        sequence,
        floor_accel: pushed[0],
        seat_accel: pushed[1],
        travel: pushed[2],
        current,
        supply: 4800,
        coil_temperature: 250,
        // Armed after the law's first step, as it demands.
        switches: Switches(
            if sequence > 0 { Switches::ARM } else { 0 }
                | Switches::STOP_CIRCUIT
                | Switches::OCCUPANT,
        ),
        marks: Marks(0),
    }
}

#[test]
fn impulse_responses_are_those_of_the_cycle() {
    let rig = quiet_rig();
    let parameters = design::parameters(&rig).unwrap();
    let mut cycle = Cycle::<f64>::new(&parameters).unwrap();
    // Until isolation is full, the start of the observer is over and the mass has come to rest.
    let start_s = parameters.estimate.start.last().unwrap().until_s;
    let settle = (start_s / parameters.timing.step_s) as u16 + 2000;
    let mut inside = None;
    for k in 0..settle {
        inside = Some(cycle.watch(&frame(k, 0, [0; 3])).1);
    }
    let inside = inside.unwrap();
    assert_eq!(cycle.mode(), Mode::Active);
    let mut point = law_point(1000.0 * inside.mass);
    point.friction = 0.0;
    let law = linearise(&parameters, &point).unwrap();
    assert_eq!(law.steps.len(), 1);
    let law = &law.steps[0];

    for (reading, counts, per_count) in [
        (0, 100_i16, rig.sensors.floor_accel.per_count),
        (1, 100, rig.sensors.seat_accel.per_count),
        (2, 100, rig.sensors.travel.per_count),
    ] {
        let (mut plain, mut pushed) = (cycle.clone(), cycle.clone());
        let mut x = DMatrix::zeros(law.a.nrows(), 1);
        let (mut worst, mut largest) = (0.0_f64, 0.0_f64);
        for k in 0..400_u16 {
            let mut push = [0; 3];
            if k == 0 {
                push[reading] = counts;
            }
            let current = |cycle: &mut Cycle<f64>, push| {
                cycle.watch(&frame(settle + k, 0, push)).1.drive.current
            };
            let found = current(&mut pushed, push) - current(&mut plain, [0; 3]);
            let mut u = DMatrix::zeros(3, 1);
            u[(reading, 0)] = f64::from(push[reading]) * per_count;
            let expected = (&law.c * &x + &law.d * &u)[(0, 0)];
            x = &law.a * &x + &law.b * &u;
            worst = worst.max((found - expected).abs());
            largest = largest.max(expected.abs());
        }
        println!("reading {reading}: largest {largest:.5} A, worst difference {worst:.2e} A");
        assert!(largest > 5.0e-4);
        // The mass moves a little.
        assert!(worst < 1.0e-3 * largest, "reading {reading}");
    }
}

/// At every kind of operating point, the turns of the look-ahead included: the stages in f64 with a reading
/// pushed a little, by central difference.
#[test]
fn every_operating_point_is_linearised_exactly() {
    let rig = Rig::default_machine().unwrap();
    let bench = Bench::new(&rig).unwrap();
    let doings = (Doing::ISOLATING.into_iter()).chain([0.0, 0.5, 0.8].map(Doing::Braking));
    let mut periodic = 0;
    for doing in doings {
        let mut point = Point::plain(&rig, 80.0, BodyKind::TwoMass);
        point.doing = doing;
        point.friction.rate_mps = 0.1;
        let (parameters, at) = (
            bench.parameters_at(&point),
            bench.law_point(&point).unwrap(),
        );
        let law = linearise(&parameters, &at).unwrap();
        periodic += usize::from(law.steps.len() == 2);
        let mut settled = Law::<f64>::new(&parameters, at).unwrap();
        for _ in 0..SETTLE_STEPS {
            settled.step([0.0; 3]);
        }
        settled.hold();
        for (reading, size) in [(0, 1.0e-3), (1, 1.0e-3), (2, 1.0e-6)] {
            let [mut up, mut down] = [settled.clone(), settled.clone()];
            let mut x = DMatrix::zeros(law.steps[0].a.ncols(), 1);
            let (mut worst, mut largest) = (0.0_f64, 0.0_f64);
            for k in 0..200 {
                let push = |sign: f64| {
                    let mut push = [0.0; 3];
                    push[reading] = if k == 0 { sign * size } else { 0.0 };
                    push
                };
                let found =
                    (up.step(push(1.0)).current - down.step(push(-1.0)).current) / (2.0 * size);
                let step = &law.steps[k % law.steps.len()];
                let mut u = DMatrix::zeros(3, 1);
                u[(reading, 0)] = if k == 0 { 1.0 } else { 0.0 };
                let expected = (&step.c * &x + &step.d * &u)[(0, 0)];
                x = &step.a * &x + &step.b * &u;
                worst = worst.max((found - expected).abs());
                largest = largest.max(expected.abs());
            }
            println!(
                "{}: reading {reading}: {:.1e} of {largest:.3}",
                doing.name(),
                worst / largest
            );
            // The clamp's square root and quotient bend; the peak of a rough floor fades in 10 s, and with
            // it what is added to the look-ahead's answer. Else it is rounding.
            let bound = match doing {
                Doing::Braking(_) => 2.0e-4,
                Doing::FollowingRough => 0.02,
                _ => 1.0e-9,
            };
            assert!(
                worst < bound * largest,
                "{} reading {reading}",
                doing.name()
            );
        }
    }
    assert!(periodic >= 5, "{periodic} points take turns");
}

#[test]
fn the_frozen_forecast_is_the_laws_own() {
    let parameters = design::parameters(&quiet_rig()).unwrap();
    let config = parameters
        .estimate
        .build::<f64>(&parameters.timing)
        .unwrap();
    let mut state = estimate::State::<f64>::default();
    let mut learner = Learner::new(&parameters);
    let mut past = Vec::new();
    let mut worst = 0.0_f64;
    for k in 0..20_000 {
        let t = f64::from(k) * 0.001;
        let accel = 2.0 * (9.0 * t).sin() + 1.5 * (23.0 * t + 1.0).cos() + 0.5 * (51.0 * t).sin();
        let motion = state.step(&config, &estimate::Input::sound(accel, accel, 0.0));
        learner.step(motion.floor_velocity);
        past.push(motion.floor_velocity);
        if k < 2000 || k % 37 != 0 {
            continue;
        }
        let map = learner.map();
        let first = usize::from(motion.turn == shared_math::Turn::Even);
        for (i, &ahead) in motion.floor_ahead.iter().enumerate() {
            let recent = past.iter().rev().step_by(estimate::SAMPLE_STEPS);
            let row = &map[2 * i + first];
            let frozen: f64 = row.iter().zip(recent).map(|(a, v)| a * v).sum();
            worst = worst.max((frozen - ahead).abs());
        }
    }
    println!("worst difference {worst:.2e} m");
    assert!(worst < 1.0e-6);
}
