//! Margins against python-control 0.10.2 (stability_margins, disk_margins), on loops that Becalm exported:
//! `reference/margins/*.json`, made with `becalm margins --export` as make_reference.py says. And what is
//! exported today against the loop it came from.

use host_sim::body::BodyKind;
use host_sim::margins::export::{System, export};
use host_sim::margins::margin::{Margins, margins_of};
use host_sim::margins::point::{Bench, Doing, Point};
use host_sim::margins::state_space::{C64, Response, StateSpace, spectral_radius};
use host_sim::rig::Rig;
use nalgebra::DMatrix;
use serde_json::Value;
use std::f64::consts::PI;
use std::path::Path;

/// Where the loop is broken, and which reading that is.
const PLACES: [(&str, Option<usize>); 3] = [
    ("actuator", None),
    ("seat accelerometer", Some(1)),
    ("travel sensor", Some(2)),
];

fn read(name: &str) -> Value {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("reference/margins/{name}"));
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

fn system(value: &Value) -> StateSpace {
    let matrix = |key: &str| {
        let rows: Vec<Vec<f64>> = serde_json::from_value(value[key].clone()).unwrap();
        DMatrix::from_fn(rows.len(), rows[0].len(), |i, j| rows[i][j])
    };
    StateSpace {
        a: matrix("a"),
        b: matrix("b"),
        c: matrix("c"),
        d: matrix("d"),
    }
}

/// Margins from the matrices alone, with the loop put together here.
fn from_matrices(law: &StateSpace, plant: &StateSpace, dt: f64, place: Option<usize>) -> Margins {
    let (law, plant) = (Response::new(law), Response::new(plant));
    let gain = |omega: f64| {
        let z = C64::from_polar(1.0, omega * dt);
        let (k, g) = (law.at(z), plant.at(z));
        let path = |j: usize| k[(0, j)] * g[(j, 0)];
        let all: C64 = (0..3).map(path).sum();
        match place {
            None => -all,
            Some(j) => -path(j) / (1.0 - (all - path(j))),
        }
    };
    margins_of(&gain, PI / dt)
}

fn closed_pole(law: &StateSpace, plant: &StateSpace) -> f64 {
    let (n, m) = (plant.a.nrows(), law.a.nrows());
    let mut a = DMatrix::zeros(n + m, n + m);
    a.view_mut((0, 0), (n, n))
        .copy_from(&(&plant.a + &plant.b * &law.d * &plant.c));
    a.view_mut((0, n), (n, m)).copy_from(&(&plant.b * &law.c));
    a.view_mut((n, 0), (m, n)).copy_from(&(&law.b * &plant.c));
    a.view_mut((n, n), (m, m)).copy_from(&law.a);
    spectral_radius(&a)
}

#[test]
fn margins_are_those_of_python_control() {
    let reference = read("reference.json");
    for name in ["isolating", "one_mass", "braking"] {
        let data = read(&format!("{name}.json"));
        let dt = data["sample_time_s"].as_f64().unwrap();
        let (law, plant) = (system(&data["law"]), system(&data["plant"]));
        for (place, reading) in PLACES {
            let wanted = &reference[name][place];
            let found = from_matrices(&law, &plant, dt, reading);
            let at = (data["places"].as_array().unwrap().iter())
                .position(|p| p.as_str() == Some(place))
                .unwrap();
            for (key, value) in [
                ("gain_margin_up_db", found.gain_margin_up_db),
                ("gain_margin_down_db", found.gain_margin_down_db),
                ("phase_margin_deg", found.phase_margin_deg),
                ("delay_margin_s", found.delay_margin_s),
                ("disk_margin", found.disk_margin),
            ] {
                let exported = &data["margins"][at][key];
                let Some(wanted) = wanted[key].as_f64() else {
                    assert!(
                        value.is_infinite() && exported.is_null(),
                        "{name} {place} {key}"
                    );
                    continue;
                };
                // 1 % was asked for; they agree to 1e-6.
                for value in [value, exported.as_f64().unwrap()] {
                    assert!(
                        (value / wanted - 1.0).abs() < 1.0e-6,
                        "{name} {place} {key}: {value}, python-control {wanted}"
                    );
                }
            }
        }
        let pole = reference[name]["largest_pole"].as_f64().unwrap();
        // Several poles near one: eigenvalues are good to some 1e-9.
        assert!((closed_pole(&law, &plant) - pole).abs() < 1.0e-8);
        assert!((data["largest_pole"].as_f64().unwrap() - pole).abs() < 1.0e-8);
    }
}

/// The exported matrices of today's law give today's margins.
#[test]
fn the_export_is_the_loop() {
    let rig = Rig::default_machine().unwrap();
    let bench = Bench::new(&rig).unwrap();
    let matrices = |s: &System| system(&serde_json::to_value(s).unwrap());
    for (kg, body, doing) in [
        (60.0, BodyKind::TwoMass, Doing::Isolating),
        (130.0, BodyKind::Rigid, Doing::Braking(0.5)),
    ] {
        let point = Point {
            doing,
            ..Point::plain(&rig, kg, body)
        };
        let export = export(&bench, &point).unwrap();
        let (law, plant) = (matrices(&export.law), matrices(&export.plant));
        assert_eq!(export.law.states.len(), law.a.nrows());
        assert_eq!(export.plant.states.len(), plant.a.nrows());
        assert!((closed_pole(&law, &plant) - export.largest_pole).abs() < 1.0e-9);
        for (place, reading) in PLACES {
            let found = from_matrices(&law, &plant, export.sample_time_s, reading);
            let at = export.places.iter().position(|p| *p == place).unwrap();
            let wanted = export.margins[at];
            for (a, b) in [
                (found.gain_margin_up_db, wanted.gain_margin_up_db),
                (found.phase_margin_deg, wanted.phase_margin_deg),
                (found.disk_margin, wanted.disk_margin),
                (found.delay_margin_s, wanted.delay_margin_s),
            ] {
                assert!(a == b || (a / b - 1.0).abs() < 1.0e-6, "{place}: {a} {b}");
            }
        }
    }
}
