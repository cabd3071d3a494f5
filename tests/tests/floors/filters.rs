//! Butterworth filters and resampling against scipy 1.17.1.

use becalm_tests::floors::{assert_close, number, numbers, reference};
use host_sim::floor::butterworth::{Cascade, Section, Side, design};
use host_sim::floor::resample::{anti_alias, even_grid, interpolate, is_even};
use serde_json::Value;

fn sections(order: u64, side: Side, corner_hz: f64) -> Vec<Section> {
    match order {
        2 => design::<1>(side, corner_hz, 1000.0).unwrap().to_vec(),
        _ => design::<2>(side, corner_hz, 1000.0).unwrap().to_vec(),
    }
}

/// Product of polynomials.
fn product(a: &[f64], b: &[f64]) -> Vec<f64> {
    let mut result = vec![0.0; a.len() + b.len() - 1];
    for (i, x) in a.iter().enumerate() {
        for (j, y) in b.iter().enumerate() {
            result[i + j] += x * y;
        }
    }
    result
}

fn polynomials(sections: &[Section], order: usize) -> (Vec<f64>, Vec<f64>) {
    let mut b = vec![1.0];
    let mut a = vec![1.0];
    for section in sections {
        b = product(&b, &section.b);
        a = product(&a, &[1.0, section.a[0], section.a[1]]);
    }
    b.truncate(order + 1);
    a.truncate(order + 1);
    (b, a)
}

/// scipy.signal.butter: coefficients and gains.
#[test]
fn coefficients_match_scipy() {
    for case in reference()["butterworth"].as_array().unwrap() {
        let order = case["order"].as_u64().unwrap();
        let side = match &case["side"] {
            Value::String(side) if side == "low" => Side::Low,
            _ => Side::High,
        };
        let corner_hz = number(&case["corner_hz"]);
        let ours = sections(order, side, corner_hz);
        let (b, a) = polynomials(&ours, order as usize);
        // Both expand products of sections; the sums cancel to about 1e-15 of the largest term.
        assert_close(&b, &numbers(&case["b"]), 1e-12, "numerator");
        assert_close(&a, &numbers(&case["a"]), 1e-12, "denominator");
        for (f, gain) in numbers(&case["f_hz"]).iter().zip(numbers(&case["gain"])) {
            let h: f64 = ours.iter().map(|s| s.response(*f, 1000.0).norm()).product();
            // At low corners the denominator is a difference of numbers near 1: (1 - pole)^2 is
            // about 1e-7 at 0.05 Hz, so 1e-16 of rounding shows as 1e-9.
            assert!(
                (h - gain).abs() < 1e-7 * gain.max(1e-3),
                "{corner_hz} {f}: {h} {gain}"
            );
        }
    }
}

/// Values printed to 12 decimals from scipy 1.17.1; the analogue denominators are the classical ones
/// (1, sqrt 2, 1 and 1, 2.613126, 3.414214, 2.613126, 1).
#[test]
fn coefficients_as_printed() {
    let (b, a) = polynomials(&sections(2, Side::Low, 30.0), 2);
    assert_close(
        &b,
        &[0.007_820_208_033, 0.015_640_416_067, 0.007_820_208_033],
        1e-10,
        "b",
    );
    assert_close(
        &a,
        &[1.0, -1.734_725_768_809, 0.766_006_600_943],
        1e-12,
        "a",
    );
    let (b, a) = polynomials(&sections(4, Side::Low, 75.0), 4);
    let unit = 0.001_782_609_992;
    assert_close(&b, &[1.0, 4.0, 6.0, 4.0, 1.0].map(|k| k * unit), 1e-9, "b");
    let printed = [
        1.0,
        -2.773_682_317_549,
        3.019_038_699_424,
        -1.504_765_051_425,
        0.287_930_429_421,
    ];
    assert_close(&a, &printed, 1e-12, "a");
}

/// By definition: 1/sqrt 2 at the prewarped corner.
#[test]
fn corner_gain_and_settled_state() {
    let sections = design::<2>(Side::Low, 40.0, 1000.0).unwrap();
    let mut cascade = Cascade::new(sections);
    let corner = cascade.response(40.0, 1000.0).norm();
    assert!((corner - 0.5_f64.sqrt()).abs() < 1e-12);
    cascade.settle(3.0);
    for _ in 0..100 {
        assert!((cascade.step(3.0) - 3.0).abs() < 1e-12);
    }
    let mut high = Cascade::new(design::<1>(Side::High, 0.05, 1000.0).unwrap());
    high.settle(9.8);
    // The state is about 1e7 times more sensitive than the output at this corner.
    assert!(high.step(9.8).abs() < 1e-8);
    assert!(design::<1>(Side::High, 500.0, 1000.0).is_err());
    assert!(design::<1>(Side::High, 0.0, 1000.0).is_err());
    assert!(design::<1>(Side::High, f64::NAN, 1000.0).is_err());
}

/// scipy.signal.sosfiltfilt with its default padding.
#[test]
fn anti_alias_matches_scipy() {
    let case = &reference()["filtfilt"];
    let mut values = numbers(&case["values"]);
    anti_alias(
        &mut values,
        number(&case["from_hz"]),
        number(&case["to_hz"]),
    )
    .unwrap();
    assert_close(&values, &numbers(&case["filtered"]), 1e-11, "filtered");
    for short in 1..6 {
        let mut few = vec![2.5; short];
        anti_alias(&mut few, 250.0, 100.0).unwrap();
        assert_close(&few, &vec![2.5; short], 1e-9, "a constant passes");
    }
}

/// The gains that the documentation of the low-pass claims: |H|^2 of fourth order.
#[test]
fn anti_alias_gain_as_documented() {
    let cascade = Cascade::new(design::<2>(Side::Low, 400.0, 10_000.0).unwrap());
    let both_ways = |f: f64| cascade.response(f, 10_000.0).norm_sqr();
    assert!((both_ways(400.0) - 0.5).abs() < 1e-12);
    assert!((both_ways(100.0) - 1.0).abs() < 1e-4);
    assert!(
        (0.02..0.05).contains(&both_ways(600.0)),
        "{}",
        both_ways(600.0)
    );
    assert!(both_ways(900.0) < 0.002, "{}", both_ways(900.0));
}

/// A straight line is its own linear interpolation.
#[test]
fn even_grid_of_uneven_line() {
    let time: Vec<f64> = (0..50)
        .map(|i| f64::from(i) + 0.3 * f64::from(i).sin())
        .collect();
    assert!(!is_even(&time));
    let values = time.iter().map(|t| 2.0 * t - 5.0).collect();
    let (rate_hz, even) = even_grid(&time, values);
    assert!((rate_hz - 49.0 / (time[49] - time[0])).abs() < 1e-12);
    for (i, value) in even.iter().enumerate() {
        let t = time[0] + i as f64 / rate_hz;
        assert!((value - (2.0 * t - 5.0)).abs() < 1e-12);
    }
    let mut cursor = 0;
    assert!(
        (interpolate(&[0.0, 1.0, 3.0], &[1.0, 2.0, 0.0], &mut cursor, 2.0) - 1.0).abs() < 1e-15
    );
    assert!((interpolate(&[0.0, 1.0, 3.0], &[1.0, 2.0, 0.0], &mut cursor, 9.0)).abs() < 1e-15);
}
