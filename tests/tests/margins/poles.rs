//! Margins against poles: a factor just within a margin leaves every pole inside the unit circle, one just
//! beyond does not. The factor stands in the matrices of the closed loop, in both steps where the law
//! repeats after two, so that this knows nothing of frequency responses.

use host_sim::body::BodyKind;
use host_sim::margins::linearise::{LinearLaw, linearise};
use host_sim::margins::loops::{Break, ClosedLoop, LawResponse};
use host_sim::margins::margin;
use host_sim::margins::plant_model::LinearPlant;
use host_sim::margins::point::{Bench, Doing, Point};
use host_sim::margins::state_space::{C64, StateSpace};
use host_sim::margins::vary::Truth;
use host_sim::rig::Rig;
use nalgebra::{DMatrix, Schur};
use std::f64::consts::TAU;

/// Largest magnitude of the closed loop's poles with a complex factor at one place.
fn radius(plant: &StateSpace, law: &LinearLaw, place: Break, factor: C64) -> f64 {
    let complex = |m: &DMatrix<f64>| m.map(|x| C64::new(x, 0.0));
    let (pa, pb, pc) = (complex(&plant.a), complex(&plant.b), complex(&plant.c));
    let mut whole: Option<DMatrix<C64>> = None;
    for step in &law.steps {
        let (mut b, mut d) = (complex(&step.b), complex(&step.d));
        let (la, mut c) = (complex(&step.a), complex(&step.c));
        let reading = match place {
            Break::Actuator => None,
            Break::FloorAccel => Some(0),
            Break::SeatAccel => Some(1),
            Break::Travel => Some(2),
        };
        match reading {
            None => {
                c *= factor;
                d *= factor;
            }
            Some(j) => {
                b.column_mut(j).iter_mut().for_each(|x| *x *= factor);
                d.column_mut(j).iter_mut().for_each(|x| *x *= factor);
            }
        }
        let n = pa.nrows();
        let (after, before) = la.shape();
        let mut a = DMatrix::zeros(n + after, n + before);
        a.view_mut((0, 0), (n, n))
            .copy_from(&(&pa + &pb * &d * &pc));
        a.view_mut((0, n), (n, before)).copy_from(&(&pb * &c));
        a.view_mut((n, 0), (after, n)).copy_from(&(&b * &pc));
        a.view_mut((n, n), (after, before)).copy_from(&la);
        whole = Some(match whole {
            Some(last) => a * last,
            None => a,
        });
    }
    let schur = Schur::new(whole.unwrap());
    let most = (schur.eigenvalues().unwrap().iter()).fold(0.0, |m, z| f64::max(m, z.norm()));
    most.powf(1.0 / law.steps.len() as f64)
}

#[test]
fn margins_stand_where_a_pole_leaves_the_unit_circle() {
    let rig = Rig::default_machine().unwrap();
    let bench = Bench::new(&rig).unwrap();
    let mut checked = 0;
    for (kg, body, doing) in [
        (40.0, BodyKind::TwoMass, Doing::Isolating),
        (130.0, BodyKind::Rigid, Doing::FollowingNearest),
        (80.0, BodyKind::TwoMass, Doing::FollowingSeveral),
        (130.0, BodyKind::Rigid, Doing::Braking(0.8)),
    ] {
        let point = Point {
            doing,
            ..Point::plain(&rig, kg, body)
        };
        // Without the forecast's past the matrices are small; the other tests have it.
        let mut at = bench.law_point(&point).unwrap();
        at.forecast = Default::default();
        let law = linearise(&bench.parameters_at(&point), &at).unwrap();
        let response = LawResponse::new(&law);
        let machine = Truth::of(&rig).machine(&bench, &point);
        let plant = LinearPlant::new(&machine);
        let closed = ClosedLoop {
            law: &response,
            plant: &plant,
        };
        let system = plant.system();
        let all = margin::margins(&closed, machine.step_s);
        for (place, m) in Break::ALL.into_iter().zip(all) {
            let stable = |factor: C64| radius(&system, &law, place, factor) < 1.0;
            if place == Break::FloorAccel {
                // No loop: no factor matters.
                assert!(m.gain_margin_up_db.is_infinite() && m.delay_margin_s.is_infinite());
                assert!([0.0, 0.1, 10.0, -10.0].map(|k| stable(C64::new(k, 0.0))) == [true; 4]);
                continue;
            }
            let words = format!("{} {}: {m:?}", point.words(), place.name());
            for (db, sign) in [(m.gain_margin_up_db, 1.0), (m.gain_margin_down_db, -1.0)] {
                let gain = |share: f64| C64::new(10.0_f64.powf(sign * share * db / 20.0), 0.0);
                if db.is_finite() {
                    assert!(stable(gain(0.99)) && !stable(gain(1.01)), "{words}");
                    checked += 1;
                }
            }
            let turn = |share: f64, sign: f64| {
                C64::from_polar(1.0, sign * share * m.phase_margin_deg.to_radians())
            };
            assert!(
                stable(turn(0.99, 1.0)) && stable(turn(0.99, -1.0)),
                "{words}"
            );
            assert!(
                !(stable(turn(1.01, 1.0)) && stable(turn(1.01, -1.0))),
                "{words}"
            );
            // The disk: (1 + d/2) / (1 - d/2), |d| the disk margin.
            let disk = |share: f64| {
                (0..90).all(|i| {
                    let d = C64::from_polar(0.5 * share * m.disk_margin, f64::from(i) * TAU / 90.0);
                    stable((1.0 + d) / (1.0 - d))
                })
            };
            assert!(disk(0.98), "{words}");
            if law.steps.len() == 1 {
                assert!(!disk(1.02), "{words}");
            } else {
                // One factor for both steps is less than a periodic loop's margin reckons with.
                assert!(!disk(1.3), "{words}");
            }
            checked += 2;
        }
    }
    assert!(checked > 30, "{checked}");
}
