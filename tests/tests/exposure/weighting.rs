//! Frequency weightings against the printed tables of ISO 8041-1 and ISO 2631-1.

use host_sim::exposure::biquad::Biquad;
use host_sim::exposure::error::{MAXIMUM_SAMPLE_RATE_HZ, MINIMUM_SAMPLE_RATE_HZ};
use host_sim::exposure::{ExposureError, Weighting, WeightingFilter};
use std::f64::consts::PI;

const ANNEX_B: &str = include_str!("../../reference/exposure/annex_b_factors.csv");
const ANNEX_B_WF: &str = include_str!("../../reference/exposure/annex_b_wf.csv");
const TABLE_3: &str = include_str!("../../reference/exposure/iso2631_1_table_3.csv");

/// Rows of a reference table, without comments and the heading.
fn rows(text: &str) -> impl Iterator<Item = Vec<&str>> {
    text.lines()
        .filter(|line| !line.starts_with('#'))
        .skip(1)
        .map(|line| line.split(',').collect())
}

fn number(text: &str) -> f64 {
    text.parse().expect("reference tables hold numbers")
}

/// Exact one-third-octave centre.
fn centre_hz(n: f64) -> f64 {
    10f64.powf(n / 10.0)
}

/// All printed factors of Annex B: weighting, centre in Hz, factor.
fn annex_b_factors() -> Vec<(Weighting, f64, f64)> {
    let mut all = Vec::new();
    for row in rows(ANNEX_B) {
        let frequency_hz = centre_hz(number(row[0]));
        all.push((Weighting::Wk, frequency_hz, number(row[2])));
        all.push((Weighting::Wd, frequency_hz, number(row[4])));
        all.push((Weighting::Wj, frequency_hz, number(row[6])));
    }
    for row in rows(ANNEX_B_WF) {
        all.push((Weighting::Wf, centre_hz(number(row[0])), number(row[2])));
    }
    all
}

/// Half a unit of the fourth significant digit.
fn half_unit_of_fourth_digit(printed: f64) -> f64 {
    0.5 * 10f64.powi(printed.log10().floor() as i32 - 3)
}

/// Regions of ISO 8041-1:2017, Table 4: transition frequencies in Hz.
fn transition_frequencies_hz(weighting: Weighting) -> [f64; 4] {
    if weighting == Weighting::Wf {
        [-13.0, -9.0, -4.0, 0.0].map(centre_hz)
    } else {
        [-6.0, -2.0, 18.0, 22.0].map(centre_hz)
    }
}

/// Limits of ISO 8041-1:2017, Table 5 (as transcribed by phonometry 3.3.0):
/// too low, too high (shares of the factor), phase deviation in degrees.
fn limits(weighting: Weighting, frequency_hz: f64) -> (f64, f64, Option<f64>) {
    let [ft1, ft2, ft3, ft4] = transition_frequencies_hz(weighting);
    let near = |a: f64, b: f64| (a / b - 1.0).abs() < 1e-9;
    let at_or_below = |a: f64, b: f64| a < b || near(a, b);
    if at_or_below(frequency_hz, ft1) || at_or_below(ft4, frequency_hz) {
        (1.0, 0.26, None)
    } else if at_or_below(ft2, frequency_hz) && at_or_below(frequency_hz, ft3) {
        (0.11, 0.12, Some(6.0))
    } else {
        (0.21, 0.26, Some(12.0))
    }
}

/// Relative error and phase error in degrees of the digital filter.
fn digital_error(filter: &WeightingFilter, weighting: Weighting, frequency_hz: f64) -> (f64, f64) {
    let ratio = filter.response(frequency_hz) / weighting.response(frequency_hz);
    (ratio.norm() - 1.0, ratio.arg().to_degrees())
}

/// ISO 8041-1:2017, Annex B: every printed factor, to its last digit.
#[test]
fn formula_gives_the_printed_factors() {
    let factors = annex_b_factors();
    assert_eq!(factors.len(), 3 * 37 + 21);
    for (weighting, frequency_hz, printed) in factors {
        let got = weighting.factor(frequency_hz);
        // 1e-6 of a unit for values that lie on the rounding edge.
        let allowed = half_unit_of_fourth_digit(printed) * (1.0 + 1e-6);
        assert!(
            (got - printed).abs() <= allowed,
            "{weighting:?} at {frequency_hz:.4} Hz: {got}, printed {printed}"
        );
    }
}

/// Phases of Wk and Wd as phonometry 3.3.0 computes them (one decimal), and
/// the printed cells of Annex B: Wk n = 12 -61.84, Wb n = 0 +42.42, Wf n = -4
/// -162.1 degrees (the last as carried by a public repository).
#[test]
fn formula_gives_the_phases() {
    let apart = |a: f64, b: f64| {
        let turn = (a - b).rem_euclid(360.0);
        turn.min(360.0 - turn)
    };
    let phase = |weighting: Weighting, n: f64| weighting.response(centre_hz(n)).arg().to_degrees();
    for row in rows(ANNEX_B) {
        let n = number(row[0]);
        for (weighting, printed) in [(Weighting::Wk, row[3]), (Weighting::Wd, row[5])] {
            let error = apart(phase(weighting, n), number(printed));
            assert!(
                error <= 0.0501,
                "{weighting:?} n = {n}: {error} degrees off"
            );
        }
    }
    assert!(apart(phase(Weighting::Wk, 12.0), -61.84) <= 0.005);
    assert!(apart(phase(Weighting::Wb, 0.0), 42.42) <= 0.005);
    assert!(apart(phase(Weighting::Wf, -4.0), -162.1) <= 0.05);
}

/// ISO 8041-1:2017, Table 1: factors at the reference frequency, 100 rad/s
/// (Wf: 2.5 rad/s), as transcribed by phonometry.
#[test]
fn formula_gives_the_factors_at_the_reference_frequency() {
    for (weighting, rate_rad_s, printed) in [
        (Weighting::Wk, 100.0, 0.7718),
        (Weighting::Wd, 100.0, 0.1261),
        (Weighting::We, 100.0, 0.06287),
        (Weighting::Wj, 100.0, 1.019),
        (Weighting::Wb, 100.0, 0.8126),
        (Weighting::Wf, 2.5, 0.3888),
    ] {
        let got = weighting.factor(rate_rad_s / (2.0 * PI));
        let allowed = half_unit_of_fourth_digit(printed);
        assert!((got - printed).abs() <= allowed, "{weighting:?}: {got}");
    }
}

/// Band limiting alone, ISO 8041-1:2017, Table B.8: 0.9874 at 1 Hz, 0.8457 at
/// 80 Hz; phases 90.06 and -89.68 degrees at the corners (as transcribed by
/// phonometry).
#[test]
fn formula_gives_the_band_limiting_column() {
    let band = Weighting::BandLimiting;
    assert!((band.factor(centre_hz(0.0)) - 0.9874).abs() <= 5e-5);
    assert!((band.factor(centre_hz(19.0)) - 0.8457).abs() <= 5e-5);
    for (n, degrees) in [(-4.0, 90.06), (20.0, -89.68)] {
        let got = band.response(centre_hz(n)).arg().to_degrees();
        assert!((got - degrees).abs() <= 0.01, "n = {n}: {got}");
    }
}

/// ISO 2631-1:1997, Table 3, at nominal frequencies: the rounded formula is
/// within one unit of the last digit. The cell 212 of Wd at 10 Hz is a misprint: the formula and Annex B
/// of ISO 8041-1 (201.7) agree on 202.
#[test]
fn formula_gives_table_3_at_nominal_frequencies() {
    let mut read_cells = 0;
    for row in rows(TABLE_3) {
        let frequency_hz = number(row[0]);
        let check = |weighting: Weighting, text: &str| {
            let unit = if text.contains('.') { 0.1 } else { 1.0 };
            let got = 1000.0 * weighting.factor(frequency_hz);
            let units_apart = (got / unit).round() - (number(text) / unit).round();
            assert!(
                units_apart.abs() <= 1.0,
                "{weighting:?} at {frequency_hz} Hz: {got}, table {text}"
            );
        };
        check(Weighting::Wk, row[1]);
        match row[3] {
            "read" => {
                check(Weighting::Wd, row[2]);
                read_cells += 1;
            }
            "misprint" => {
                let got = 1000.0 * Weighting::Wd.factor(frequency_hz);
                assert_eq!(got.round(), 202.0);
                assert!((got - number(row[2])).abs() > 9.0);
            }
            other => assert_eq!(other, "memory"),
        }
    }
    assert_eq!(read_cells, 19);
}

/// The digital filter at 1 kHz and at the lowest rate, against the limits of
/// ISO 8041-1:2017, Table 5 (printed factor, formula phase) at every centre
/// below half the sample rate.
#[test]
fn digital_filter_is_inside_the_iso_8041_limits() {
    for sample_rate_hz in [MINIMUM_SAMPLE_RATE_HZ, 1000.0] {
        for (weighting, frequency_hz, printed) in annex_b_factors() {
            if frequency_hz >= sample_rate_hz / 2.0 {
                continue;
            }
            let filter = WeightingFilter::new(weighting, sample_rate_hz).unwrap();
            let error = filter.response(frequency_hz).norm() / printed - 1.0;
            let (_, phase) = digital_error(&filter, weighting, frequency_hz);
            let (low, high, phase_limit) = limits(weighting, frequency_hz);
            assert!(
                -low <= error && error <= high,
                "{weighting:?}, {sample_rate_hz} Hz, at {frequency_hz:.3} Hz: {error}"
            );
            assert!(
                phase_limit.is_none_or(|limit| phase.abs() <= limit),
                "{weighting:?}, {sample_rate_hz} Hz, at {frequency_hz:.3} Hz: {phase} degrees"
            );
        }
    }
}

/// The same limits for all weightings and more rates, against the formula, and
/// no more than +26 % anywhere up to half the sample rate.
#[test]
fn digital_filter_keeps_the_limits_at_other_rates() {
    for sample_rate_hz in [
        400.0, 441.0, 512.0, 700.0, 1024.0, 2000.0, 8000.0, 48_000.0, 100_000.0,
    ] {
        for weighting in Weighting::ALL {
            let filter = WeightingFilter::new(weighting, sample_rate_hz).unwrap();
            assert!(filter.biquads().all(Biquad::is_stable));
            for n in -17..27 {
                let frequency_hz = centre_hz(f64::from(n));
                if frequency_hz >= sample_rate_hz / 2.0 {
                    continue;
                }
                let (error, phase) = digital_error(&filter, weighting, frequency_hz);
                let (low, high, phase_limit) = limits(weighting, frequency_hz);
                assert!(
                    -low <= error && error <= high,
                    "{weighting:?} {sample_rate_hz} {n}"
                );
                assert!(phase_limit.is_none_or(|limit| phase.abs() <= limit));
            }
            for step in 1..1000 {
                let frequency_hz = sample_rate_hz * f64::from(step) / 2000.0;
                let (error, _) = digital_error(&filter, weighting, frequency_hz);
                assert!(
                    error <= 0.26,
                    "{weighting:?} {sample_rate_hz} {frequency_hz}: {error}"
                );
            }
        }
    }
}

/// Our own, tighter limits: the table in the documentation of the filter.
#[test]
fn digital_filter_keeps_its_documented_error() {
    for (sample_rate_hz, inner, outer) in [
        (400.0, (0.042, 2.5), (0.042, 8.2)),
        (1000.0, (0.0052, 0.55), (0.011, 1.2)),
    ] {
        for weighting in Weighting::ALL {
            let filter = WeightingFilter::new(weighting, sample_rate_hz).unwrap();
            for n in -17..=21 {
                let (error, phase) = digital_error(&filter, weighting, centre_hz(f64::from(n)));
                let within = |(share, degrees)| error.abs() <= share && phase.abs() <= degrees;
                let text = format!("{weighting:?} {sample_rate_hz} Hz n = {n}: {error} {phase}");
                if weighting == Weighting::Wf {
                    assert!(n > 0 || within((1e-4, 0.01)), "{text}");
                } else if (-2..=18).contains(&n) {
                    assert!(within(inner), "{text}");
                } else {
                    assert!(within(outer), "{text}");
                }
            }
        }
    }
}

/// The running filter has the response its coefficients promise: amplitude of
/// a steady 8 Hz sine after 20 s (closed form: Fourier sum over whole cycles).
#[test]
fn filter_in_time_has_its_response() {
    for weighting in Weighting::ALL {
        if weighting == Weighting::Wf {
            continue; // 8 Hz is far outside its band
        }
        let mut filter = WeightingFilter::new(weighting, 1000.0).unwrap();
        let (mut real, mut imaginary) = (0.0, 0.0);
        for k in 0..21_000 {
            let angle = 2.0 * PI * 8.0 * f64::from(k) / 1000.0;
            let output = filter.step(angle.sin());
            if k >= 20_000 {
                real += output * angle.sin() / 500.0;
                imaginary += output * angle.cos() / 500.0;
            }
        }
        let expected = filter.response(8.0);
        assert!((real - expected.re).abs() < 1e-6, "{weighting:?}");
        assert!((imaginary - expected.im).abs() < 1e-6, "{weighting:?}");
    }
}

/// A rate that is too low, too high or not a number is refused, and the text
/// says what is needed.
#[test]
fn wrong_rates_are_refused() {
    for sample_rate_hz in [
        0.0,
        -1000.0,
        100.0,
        399.9,
        MAXIMUM_SAMPLE_RATE_HZ * 1.01,
        f64::NAN,
    ] {
        let error = WeightingFilter::new(Weighting::Wk, sample_rate_hz).unwrap_err();
        assert!(matches!(error, ExposureError::SampleRate { .. }));
        let text = error.to_string();
        assert!(text.contains("400 Hz to 100000 Hz"), "{text}");
    }
}

/// Common practice, no source: vertical vibration counts most between 4 and
/// 8 Hz, near the main resonance of the seated body at 4 to 5 Hz; the weight
/// at 20 Hz is still above 0.6 (sight), so isolation must hold to about 32 Hz.
#[test]
fn wk_is_largest_near_the_resonance_of_the_body() {
    let largest = (1..1000)
        .map(|step| f64::from(step) * 0.1)
        .max_by(|a, b| {
            Weighting::Wk
                .factor(*a)
                .total_cmp(&Weighting::Wk.factor(*b))
        })
        .unwrap();
    assert!((4.0..8.0).contains(&largest), "{largest} Hz");
    assert!(Weighting::Wk.factor(20.0) > 0.6);
    assert!(Weighting::Wk.factor(31.5) > 0.4);
}
