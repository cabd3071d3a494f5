//! Parts of the commissioning test: least squares against numpy, the approximate sine against the true one.

use firmware::commission::least_squares::{LeastSquares, Row};
use serde_json::Value;
use shared_math::trig::{SINE_ERROR, sine};
use std::f64::consts::TAU;

fn numbers(value: &Value) -> Vec<f64> {
    let list = value.as_array().expect("a list");
    list.iter().map(|x| x.as_f64().expect("a number")).collect()
}

/// Against `numpy.linalg.lstsq` in double precision on the same numbers. Rotations are backward stable: the error is that of
/// a system changed by some roundings, so at most `n eps (condition |x| + condition^2 |miss| / norm)`
/// (Golub and Van Loan, section 5.3, from memory), here with n = rows times unknowns.
#[test]
fn least_squares_is_that_of_numpy() {
    let text = include_str!("../../reference/commission/least_squares.json");
    let reference: Value = serde_json::from_str(text).expect("JSON");
    let cases = reference["cases"].as_array().expect("cases");
    assert!(cases.len() > 10);
    for case in cases {
        let (name, b, truth) = (&case["name"], numbers(&case["b"]), numbers(&case["x"]));
        let mut ours = LeastSquares::default();
        for (row, right) in case["a"].as_array().expect("rows").iter().zip(&b) {
            let mut line: Row = [0.0; 5];
            for (to, from) in line.iter_mut().zip(numbers(row).iter().chain([right])) {
                *to = *from as f32;
            }
            ours.add(line);
        }
        let (x, miss) = ours.solve().expect("determined");
        let of = |key: &str| case[key].as_f64().expect("a number");
        let (condition, norm, rows) = (of("condition"), of("norm"), b.len() as f64);
        let length = truth.iter().map(|x| x * x).sum::<f64>().sqrt();
        let left = of("miss") * rows.sqrt();
        let roundings = 4.0 * rows * f64::from(f32::EPSILON);
        let bound = roundings * (condition * length + condition * condition * left / norm);
        for (ours, truth) in x.iter().zip(&truth) {
            let error = (f64::from(*ours) - truth).abs();
            assert!(error <= bound, "{name}: {error} beyond {bound}");
        }
        let size = b.iter().map(|b| b * b).sum::<f64>().sqrt();
        let error = (f64::from(miss) - of("miss")).abs();
        assert!(error <= roundings * size, "{name}: miss {miss}");
    }
}

/// Rows that leave an unknown open, or are no numbers, give no answer.
#[test]
fn what_is_not_determined_is_not_answered() {
    assert!(LeastSquares::default().solve().is_none());
    let mut open = LeastSquares::default();
    for _ in 0..9 {
        open.add([1.0, 2.0, 0.0, 1.0, 3.0]);
    }
    assert!(open.solve().is_none());
    for bad in [f32::NAN, f32::INFINITY, f32::NEG_INFINITY] {
        for place in 0..5 {
            let mut rows = LeastSquares::default();
            for i in 0..4 {
                let mut row: Row = [0.0; 5];
                row[i] = 1.0;
                rows.add(row);
            }
            let mut row: Row = [1.0; 5];
            row[place] = bad;
            rows.add(row);
            assert!(rows.solve().is_none(), "{bad} at {place}");
        }
    }
}

/// The sine that the test current is made of, over the turn it is used in, and over the stated range.
#[test]
fn the_rough_sine_is_as_rough_as_stated() {
    let worst = |turns: f64| {
        (0..=200_000)
            .map(|n| {
                let x = TAU * turns * (f64::from(n) / 100_000.0 - 1.0);
                (f64::from(sine(x as f32)) - x.sin()).abs()
            })
            .fold(0.0, f64::max)
    };
    for turns in [0.5, 1.0] {
        let error = worst(turns);
        assert!(error < f64::from(SINE_ERROR), "{error} over {turns} turns");
        // Rough it is; were it exact, nothing would need explaining.
        assert!(error > 1.0e-4, "{error}");
    }
}
