//! Digital second-order sections against those of scipy.

use host_sim::exposure::biquad::Biquad;
use host_sim::exposure::{Weighting, WeightingFilter};
use std::f64::consts::{FRAC_1_SQRT_2, PI};

/// Sections at 1 kHz from scipy 1.17.1 (`bilinear`, no prewarp), 12 decimals.
/// High-pass, transition and step are these; the low-pass is treated
/// differently, so its line checks the transform itself.
#[test]
fn sections_are_the_bilinear_ones() {
    let sections = |weighting| {
        let filter = WeightingFilter::new(weighting, 1000.0).unwrap();
        filter.biquads().copied().collect::<Vec<_>>()
    };
    let close = |got: Biquad, [b0, b1, b2, a1, a2]: [f64; 5]| {
        let pairs = [
            (got.b0, b0),
            (got.b1, b1),
            (got.b2, b2),
            (got.a1, a1),
            (got.a2, a2),
        ];
        for (got, expected) in pairs {
            assert!(
                (got - expected).abs() <= 1e-12,
                "{got} instead of {expected}"
            );
        }
    };
    let wk = sections(Weighting::Wk);
    let high_pass = [
        0.998224425959,
        -1.996448851918,
        0.998224425959,
        -1.996445699252,
        0.996452004584,
    ];
    let transition = [
        0.038361670159,
        0.002899072229,
        -0.035462597930,
        -1.877020477623,
        0.882818622080,
    ];
    let step = [
        0.996601106679,
        -1.976807985278,
        0.980426065702,
        -1.976698612206,
        0.977136545454,
    ];
    let transition_wd = [
        0.006259983831,
        0.0000781740945,
        -0.006181809737,
        -1.980094773132,
        0.980251121321,
    ];
    let low_pass = [
        0.063964384856,
        0.127928769711,
        0.063964384856,
        -1.168260667193,
        0.424118206616,
    ];
    close(wk[0], high_pass);
    close(wk[1], transition);
    close(wk[3], step);
    close(sections(Weighting::Wd)[1], transition_wd);
    let corner = 2.0 * PI * 100.0;
    let denominator = [1.0, corner / FRAC_1_SQRT_2, corner * corner];
    let numerator = [0.0, 0.0, corner * corner];
    close(Biquad::bilinear(numerator, denominator, 1000.0), low_pass);
}

/// Prewarped Butterworth sections at 1 kHz from scipy 1.17.1 (`butter`).
#[test]
fn prewarped_sections_are_those_of_scipy() {
    let quadratic = |corner_hz: f64| {
        let corner = 2.0 * PI * corner_hz;
        [1.0, corner / FRAC_1_SQRT_2, corner * corner]
    };
    let low = quadratic(100.0);
    let got = Biquad::bilinear_exact_at([0.0, 0.0, low[2]], low, 1000.0, 100.0);
    for (got, expected) in [
        (got.b0, 0.067455273889),
        (got.b1, 0.134910547778),
        (got.a1, -1.142980502540),
        (got.a2, 0.412801598096),
    ] {
        assert!((got - expected).abs() <= 1e-12);
    }
    let got = Biquad::bilinear_exact_at([1.0, 0.0, 0.0], quadratic(0.4), 1000.0, 0.4);
    for (got, expected) in [
        (got.b0, 0.998224425025),
        (got.b1, -1.996448850050),
        (got.a1, -1.996445697381),
        (got.a2, 0.996452002719),
    ] {
        assert!((got - expected).abs() <= 1e-12);
    }
}
