//! Small bounds against OSQP (least r.m.s.) and HiGHS by scipy (least peak): another formulation, another solver.
//! Vectors: `reference/bound/make_bound.py`.

use host_sim::bound::{Aim, Comfort, KnotState, Program, SolverStatus, Start, TravelRule};
use host_sim::floor::FloorState;
use serde_json::Value;

fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

fn whole(value: &Value) -> usize {
    usize::try_from(value.as_u64().expect("a whole number")).expect("small")
}

#[test]
fn the_least_is_that_of_other_solvers() {
    let data: Value =
        serde_json::from_str(include_str!("../../reference/bound/bound.json")).expect("JSON");
    let sample_s = number(&data["sample_s"]);
    let knot_samples = whole(&data["knot_samples"]);
    let cases = data["cases"].as_array().expect("cases");
    assert_eq!(cases.len(), 6);
    for case in cases {
        let floor: Vec<f64> = case["floor_mps2"]
            .as_array()
            .expect("samples")
            .iter()
            .map(number)
            .collect();
        let (limit_m, expected) = (number(&case["limit_m"]), number(&case["value_mps2"]));
        let rms = case["kind"] == "rms";
        let counted = (whole(&data["skip"]), floor.len() - 1);
        let program = Program {
            floor_mps2: &floor,
            sample_s,
            knot_samples,
            checks: whole(&data["checks"]),
            counted,
            aim: if rms {
                Aim::Rms(Comfort::Wk)
            } else {
                Aim::Peak
            },
            travel: TravelRule::Limit(limit_m),
            start: Start::Rest,
        };
        let motion = program.solve(|| false).expect("a motion");
        assert_eq!(motion.status, SolverStatus::Solved);
        let found = if rms {
            let squares = program.weighted_squares(&motion, counted.0, counted.1);
            (squares / (counted.1 - counted.0) as f64).sqrt()
        } else {
            motion.peak_mps2
        };
        println!("{} {limit_m}: {found} {expected}", case["kind"]);
        assert!(
            (found / expected - 1.0).abs() < 1.0e-3,
            "{} {limit_m}: {found}, other solver {expected}",
            case["kind"]
        );
        feasible(&program, &motion.knots, limit_m);
    }
}

/// The motion, integrated afresh from its accelerations, keeps to the travel at every knot, and its own travel is
/// what it says.
fn feasible(program: &Program<'_>, knots: &[KnotState], limit_m: f64) {
    let accel = |knot: &KnotState| knot.accel_mps2.expect("chosen");
    let mut relative = FloorState {
        accel_mps2: accel(&knots[0]) - program.floor_mps2[0],
        ..FloorState::default()
    };
    let mut worst = 0.0_f64;
    for (k, pair) in knots.windows(2).enumerate() {
        let apart = (relative.displacement_m - pair[0].travel_m).abs();
        assert!(apart < 1.0e-6, "knot {k}: {apart} m apart");
        for j in 1..=program.knot_samples {
            let share = j as f64 / program.knot_samples as f64;
            let seat = accel(&pair[0]) + share * (accel(&pair[1]) - accel(&pair[0]));
            let floor = program.floor_mps2[k * program.knot_samples + j];
            relative = relative.after(seat - floor, program.sample_s, 1.0);
            relative.accel_mps2 = seat - floor;
        }
        worst = worst.max(relative.displacement_m.abs());
    }
    assert!(worst < limit_m + 1.0e-6, "{worst} m of {limit_m} m");
}

#[test]
fn a_request_to_stop_is_heard() {
    let floor: Vec<f64> = (0..2001).map(|k| (f64::from(k) * 0.01).sin()).collect();
    let program = Program {
        floor_mps2: &floor,
        sample_s: 0.001,
        knot_samples: 10,
        checks: 5,
        counted: (0, 2000),
        aim: Aim::Peak,
        travel: TravelRule::Limit(0.01),
        start: Start::Rest,
    };
    let error = program.solve(|| true).expect_err("stopped");
    assert!(error.to_string().contains("interrupted"), "{error}");
}
