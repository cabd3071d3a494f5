//! Spectral estimates against scipy.signal.welch, csd and coherence (1.17.1), and chi-square bounds.

use becalm_tests::floors::{assert_close, number, numbers, reference};
use host_sim::spectrum::{Welch, density_bounds_95, independent_averages, welch};

#[test]
fn matches_scipy() {
    let case = &reference()["welch"];
    let (x, y) = (numbers(&case["x"]), numbers(&case["y"]));
    let (fs, segment) = (
        number(&case["fs"]),
        case["segment"].as_u64().unwrap() as usize,
    );
    let mut estimate = Welch::new(fs, segment).unwrap();
    for (a, b) in x.iter().zip(&y) {
        estimate.push(*a, *b);
    }
    let result = estimate.finish().unwrap();
    // scipy averages segments in another order; the rest is rounding of the transform.
    assert_close(
        &result.frequency_hz,
        &numbers(&case["f"]),
        1e-14,
        "frequency",
    );
    assert_close(
        &result.input_density,
        &numbers(&case["pxx"]),
        1e-12,
        "input",
    );
    assert_close(
        &result.output_density,
        &numbers(&case["pyy"]),
        1e-12,
        "output",
    );
    let re: Vec<f64> = result.cross_density.iter().map(|c| c.re).collect();
    let im: Vec<f64> = result.cross_density.iter().map(|c| c.im).collect();
    assert_close(&re, &numbers(&case["pxy_re"]), 1e-12, "cross, real");
    assert_close(&im, &numbers(&case["pxy_im"]), 1e-12, "cross, imaginary");
    assert_close(
        &result.coherence(),
        &numbers(&case["coherence"]),
        1e-12,
        "coherence",
    );
    // H1 = Pxy / Pxx of scipy's values.
    let h1: Vec<f64> = result.transfer().iter().map(|h| h.re).collect();
    let theirs: Vec<f64> = numbers(&case["pxy_re"])
        .iter()
        .zip(numbers(&case["pxx"]))
        .map(|(c, p)| c / p)
        .collect();
    assert_close(&h1, &theirs, 1e-10, "transfer");
    let single = welch(x.iter().copied(), fs, segment).unwrap();
    assert_close(&single.density, &numbers(&case["pxx"]), 1e-12, "one signal");
    assert_eq!(single.segments, 16);
}

/// scipy.stats.chi2 quantiles; the approximation is documented as better than 1 %.
#[test]
fn bounds_match_chi_square() {
    for case in reference()["chi2"].as_array().unwrap() {
        let (low, high) = density_bounds_95(number(&case["freedom"]) / 2.0);
        assert!(
            (low / number(&case["low"]) - 1.0).abs() < 0.01,
            "{low} {case}"
        );
        assert!(
            (high / number(&case["high"]) - 1.0).abs() < 0.01,
            "{high} {case}"
        );
    }
    // The correlation of half-overlapping Hann windows is 1/6, so that its square is 1/36.
    let correlation = number(&reference()["hann_half_overlap_correlation"]);
    assert!((correlation - 1.0 / 6.0).abs() < 1e-12);
    assert_eq!(independent_averages(0), 0.0);
    assert_eq!(independent_averages(1), 1.0);
    // Many segments: 18/19 of their number.
    assert!((independent_averages(1_000_000) / 1e6 - 18.0 / 19.0).abs() < 1e-6);
}

#[test]
fn refuses_what_cannot_be() {
    assert!(Welch::new(1000.0, 7).is_err());
    assert!(Welch::new(1000.0, 6).is_err());
    assert!(Welch::new(0.0, 64).is_err());
    assert!(Welch::new(f64::NAN, 64).is_err());
    assert!(welch([1.0; 63], 1000.0, 64).is_err());
    let silent = welch([0.0; 640], 1000.0, 64).unwrap();
    assert!(silent.density.iter().all(|d| *d == 0.0));
    let mut none = Welch::new(1.0, 8).unwrap();
    (0..64).for_each(|_| none.push(0.0, 0.0));
    let none = none.finish().unwrap();
    assert!(none.coherence().iter().all(|c| *c == 0.0));
}
