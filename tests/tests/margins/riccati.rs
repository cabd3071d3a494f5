//! The observer's design: Riccati equation, Kalman gains, the default rig's observer.

use host_sim::design::{kalman_gain, parameters, riccati};
use host_sim::rig::{ObserverDesign, Rig, Sensor};
use nalgebra::{DMatrix, SMatrix};
use serde_json::Value;

fn matrix(rows: usize, columns: usize, values: &[f64]) -> DMatrix<f64> {
    DMatrix::from_row_slice(rows, columns, values)
}

fn reference() -> Value {
    serde_json::from_str(include_str!("../../reference/design/design.json")).expect("JSON")
}

fn read(value: &Value) -> DMatrix<f64> {
    let rows = value.as_array().expect("rows");
    let flat: Vec<f64> = rows
        .iter()
        .flat_map(|r| r.as_array().expect("a row"))
        .map(|x| x.as_f64().expect("a number"))
        .collect();
    matrix(rows.len(), flat.len() / rows.len(), &flat)
}

/// Spectral radius of the closed loop that a solution belongs to.
fn closed_loop(a: &DMatrix<f64>, b: &DMatrix<f64>, r: &DMatrix<f64>, x: &DMatrix<f64>) -> f64 {
    let s = (r + b.transpose() * x * b)
        .try_inverse()
        .expect("positive definite");
    radius(&(a - b * s * b.transpose() * x * a))
}

fn radius(a: &DMatrix<f64>) -> f64 {
    a.complex_eigenvalues()
        .iter()
        .map(|e| e.norm())
        .fold(0.0, f64::max)
}

/// Example 1 of the DAREX collection (Abels and Benner 1999), as scipy's own tests carry it; closed
/// form X = (1 + sqrt 5) / 2 * Q.
#[test]
fn darex_example_1() {
    let x = riccati(
        &matrix(2, 2, &[4.0, 3.0, -4.5, -3.5]),
        &matrix(2, 1, &[1.0, -1.0]),
        &matrix(2, 2, &[9.0, 6.0, 6.0, 4.0]),
        &matrix(1, 1, &[1.0]),
    )
    .expect("a solution");
    let golden = 0.5 * (1.0 + 5.0_f64.sqrt());
    let closed = matrix(2, 2, &[9.0, 6.0, 6.0, 4.0]) * golden;
    assert!((&x - &closed).amax() < 1e-12 * closed.amax(), "{x}");
    for (ours, printed) in x.iter().zip([14.56231, 9.70820, 9.70820, 6.47214]) {
        assert!((ours - printed).abs() < 6e-6);
    }
}

/// x = x - x^2 / (1 + x) + 1: the golden ratio.
#[test]
fn scalar_golden_ratio() {
    let one = matrix(1, 1, &[1.0]);
    let x = riccati(&one, &one, &one, &one).expect("a solution")[(0, 0)];
    assert!((x - 1.618_033_988_749_895).abs() < 1e-14, "{x}");
}

/// 24 random cases of 1 to 8 states, most of them unstable, many with singular Q, against
/// scipy.linalg.solve_discrete_are (its own residual is below 1e-11 in these).
#[test]
fn random_cases_against_scipy() {
    let reference = reference();
    let mut unstable = 0;
    for case in reference["riccati"].as_array().expect("cases") {
        let [a, b, q, r, theirs] = ["a", "b", "q", "r", "x"].map(|k| read(&case[k]));
        let ours = riccati(&a, &b, &q, &r).expect("a solution");
        let error = (&ours - &theirs).amax() / theirs.amax();
        assert!(error < 1e-9, "{error:e} in {case}");
        assert!(closed_loop(&a, &b, &r, &ours) < 1.0);
        unstable += usize::from(radius(&a) > 1.0);
    }
    assert!(unstable >= 5, "{unstable} unstable cases");
}

/// No stabilising solution: the unstable mode is out of reach, or out of sight of the cost on the
/// unit circle; a singular R.
#[test]
fn impossible_cases_are_refused() {
    let eye = matrix(2, 2, &[1.0, 0.0, 0.0, 1.0]);
    let one = matrix(1, 1, &[1.0]);
    let zero = matrix(1, 1, &[0.0]);
    let apart = matrix(2, 2, &[2.0, 0.0, 0.0, 0.5]);
    assert!(riccati(&apart, &matrix(2, 1, &[0.0, 1.0]), &eye, &one).is_err());
    assert!(riccati(&apart, &matrix(2, 1, &[1.0, 0.0]), &eye, &one).is_ok());
    assert!(
        riccati(&one, &one, &zero, &one).is_err(),
        "integrator without cost"
    );
    assert!(riccati(&one, &one, &one, &zero).is_err(), "singular R");
    let nan = matrix(1, 1, &[f64::NAN]);
    assert!(riccati(&nan, &one, &one, &one).is_err());
    // a = 2 without cost: X = 0 solves the equation, but only X = 3 stabilises. Doubling from Q = 0
    // cannot find it, so it must refuse.
    assert!(riccati(&matrix(1, 1, &[2.0]), &one, &zero, &one).is_err());
    // An observer that does not see a drifting state.
    assert!(kalman_gain(&eye, &matrix(1, 2, &[1.0, 0.0]), &eye, &one).is_err());
}

/// Kalata's tracking index L = sigma_w T^2 / sigma_v. Two states: r = (4 + L - sqrt(8 L + L^2)) / 4,
/// alpha = 1 - r^2, beta = 2 (2 - alpha) - 4 sqrt(1 - alpha) (Kalata 1984, as two open-source filter
/// libraries carry it). Printed to six decimals.
#[test]
fn alpha_beta() {
    for (index, alpha, beta) in [
        (0.01, 0.131_851, 0.009_317_45),
        (0.1, 0.36, 0.08),
        (1.0_f64, 0.75, 0.5),
    ] {
        for t in [0.001, 1.0] {
            let noise = matrix(2, 1, &[0.5 * t * t, t]);
            let sigma_w = index / (t * t);
            let k = kalman_gain(
                &matrix(2, 2, &[1.0, t, 0.0, 1.0]),
                &matrix(1, 2, &[1.0, 0.0]),
                &(&noise * noise.transpose() * sigma_w * sigma_w),
                &matrix(1, 1, &[1.0]),
            )
            .expect("a gain");
            let r = (4.0 + index - (8.0 * index + index * index).sqrt()) / 4.0;
            let closed = 1.0 - r * r;
            assert!((k[(0, 0)] - closed).abs() < 1e-9, "{k}");
            assert!((k[(0, 0)] - alpha).abs() < 6e-7);
            assert!((k[(1, 0)] * t - beta).abs() < 6e-7, "{k}");
        }
    }
}

/// Three states: with s from s^3 + (L/2 - 3) s^2 + (L/2 + 3) s - 1 = 0, alpha = 1 - s^2, beta =
/// 2 (1 - s)^2, K3 T^2 = beta^2 / (2 alpha).
#[test]
fn alpha_beta_gamma() {
    for (index, alpha, beta, third) in [
        (0.01, 0.350_067, 0.075_129_0, 0.008_061_84),
        (0.1, 0.604_759, 0.275_754, 0.062_868_2),
        (1.0_f64, 0.864_318, 0.797_962, 0.368_350),
    ] {
        let noise = matrix(3, 1, &[0.5, 1.0, 1.0]);
        let k = kalman_gain(
            &matrix(3, 3, &[1.0, 1.0, 0.5, 0.0, 1.0, 1.0, 0.0, 0.0, 1.0]),
            &matrix(1, 3, &[1.0, 0.0, 0.0]),
            &(&noise * noise.transpose() * index * index),
            &matrix(1, 1, &[1.0]),
        )
        .expect("a gain");
        for (ours, printed) in k.iter().zip([alpha, beta, third]) {
            assert!((ours - printed).abs() < 6e-7, "L {index}: {k}");
        }
        let s = (1.0 - k[(0, 0)]).sqrt();
        let cubic = s.powi(3) + (0.5 * index - 3.0) * s * s + (0.5 * index + 3.0) * s - 1.0;
        assert!(cubic.abs() < 1e-8, "{cubic}");
        assert!((k[(2, 0)].powi(2) / (1.0 - k[(0, 0)]) - index * index).abs() < 1e-8);
    }
}

type Gains = [[f32; 2]; 6];

fn near(ours: &Gains, theirs: &Value, what: &str) {
    let theirs = read(theirs);
    for (i, row) in ours.iter().enumerate() {
        for (j, &k) in row.iter().enumerate() {
            // Kept in single precision; scipy and doubling agree to 1e-7 of each gain.
            let expected = theirs[(i, j)];
            let scale = expected.abs().max(1e-6 * theirs.column(j).amax());
            assert!(
                (f64::from(k) - expected).abs() < 1e-5 * scale,
                "{what} [{i}][{j}]: {k} {expected}"
            );
        }
    }
}

/// The rig's observer against solve_discrete_are, from the noise figures that the script read out of
/// the default rig (they are committed with the result, so tuning the rig does not break this).
#[test]
fn observer_gains_against_scipy() {
    let reference = reference();
    let o = &reference["observer"];
    let mut rig = Rig::default_machine().expect("the default rig");
    let sensor = |v: &Value| -> Sensor { serde_json::from_value(v.clone()).expect("a sensor") };
    rig.timing.step_s = o["timing"]["step_s"].as_f64().expect("a number");
    rig.firmware.timing.step_s = rig.timing.step_s as f32;
    // What is said of a lost accelerometer has no part in these gains.
    let ObserverDesign {
        floor_wander_mps2_psqrts,
        model_mps2,
        ..
    } = rig.observer;
    let mut design = o["observer"].clone();
    design["floor_wander_mps2_psqrts"] = floor_wander_mps2_psqrts.into();
    design["model_mps2"] = model_mps2.into();
    rig.observer = serde_json::from_value::<ObserverDesign>(design).expect("a design");
    rig.sensors.floor_accel = sensor(&o["floor_accel"]);
    rig.sensors.seat_accel = sensor(&o["seat_accel"]);
    rig.sensors.travel = sensor(&o["travel"]);
    let ours = parameters(&rig).expect("parameters").estimate;
    near(&ours.gains, &o["gains"], "gains");
    near(&ours.start[0].gains, &o["start_gains"], "start gains");
}

/// Prediction and correction of the estimator, written out: x <- (I - K C) A x. Its poles lie inside
/// the unit circle for the default rig as it is now, in the single precision the firmware gets.
#[test]
fn observer_poles_inside_the_unit_circle() {
    let rig = Rig::default_machine().expect("the default rig");
    let t = rig.timing.step_s;
    let h = 0.5 * t * t;
    let a = SMatrix::<f64, 6, 6>::from_row_slice(&[
        1.0, t, -h, 0.0, 0.0, 0.0, //
        0.0, 1.0, -t, 0.0, 0.0, 0.0, //
        0.0, 0.0, 1.0, 0.0, 0.0, 0.0, //
        0.0, 0.0, h, 1.0, t, -h, //
        0.0, 0.0, t, 0.0, 1.0, -t, //
        0.0, 0.0, 0.0, 0.0, 0.0, 1.0,
    ]);
    let ours = parameters(&rig).expect("parameters").estimate;
    let start = ours.start.iter().map(|stage| ("start", stage.gains));
    for (what, gains) in start.chain([("steady", ours.gains)]) {
        let mut kc = SMatrix::<f64, 6, 6>::zeros();
        for (i, row) in gains.iter().enumerate() {
            kc[(i, 0)] = f64::from(row[0]);
            kc[(i, 3)] = f64::from(row[1]);
        }
        let closed = (SMatrix::<f64, 6, 6>::identity() - kc) * a;
        let largest = closed
            .complex_eigenvalues()
            .iter()
            .map(|e| e.norm())
            .fold(0.0, f64::max);
        // The slowest, the biases, is forgotten with a time constant of a minute at the latest.
        assert!(largest < 1.0 - t / 60.0, "{what}: {largest}");
    }
}
