//! Spinal response and risk of ISO 2631-5:2018.

use host_sim::exposure::spine::{
    PeakDose, combined_daily_dose_mps2, daily_dose_mps2, seat_to_spine_response,
};
use host_sim::exposure::{ExposureError, SpineFilter, SpineMeter, SpineRiskModel};
use std::f64::consts::PI;

const ANNEX_D: &str = include_str!("../../reference/exposure/spine_filter_256_hz.csv");

/// Magnitude of the table filter of Annex D at a frequency.
fn annex_d_magnitude(frequency_hz: f64) -> f64 {
    let (mut b, mut a) = ((0.0, 0.0), (0.0, 0.0));
    let rows = ANNEX_D
        .lines()
        .filter(|line| !line.starts_with('#'))
        .skip(1);
    for (k, row) in rows.enumerate() {
        let (tap_b, tap_a) = row.split_once(',').unwrap();
        let (tap_b, tap_a): (f64, f64) = (tap_b.parse().unwrap(), tap_a.parse().unwrap());
        let (sine, cosine) = (2.0 * PI * frequency_hz / 256.0 * k as f64).sin_cos();
        b = (b.0 + tap_b * cosine, b.1 - tap_b * sine);
        a = (a.0 + tap_a * cosine, a.1 - tap_a * sine);
    }
    f64::hypot(b.0, b.1) / f64::hypot(a.0, a.1)
}

/// Magnitudes of Formula 1, computed with scipy 1.17.1 from the constants
/// phonometry transcribes; three decimals.
#[test]
fn formula_gives_the_computed_magnitudes() {
    for (frequency_hz, magnitude) in [
        (0.0, 1.0),
        (0.5, 1.003),
        (1.0, 1.012),
        (2.0, 1.056),
        (3.0, 1.164),
        (4.0, 1.417),
        (4.5, 1.565),
        (5.0, 1.543),
        (6.0, 1.143),
        (8.0, 0.873),
        (10.0, 0.822),
        (20.0, 0.705),
        (40.0, 0.328),
        (80.0, 0.006),
    ] {
        let got = seat_to_spine_response(frequency_hz).norm();
        assert!(
            (got - magnitude).abs() <= 5.01e-4,
            "{frequency_hz} Hz: {got}"
        );
    }
}

/// ISO 2631-5:2018, clause 5.2: a realisation is within 0.04 up to 40 Hz and
/// 0.08 up to 80 Hz. Ours is held to tighter numbers of its own, and is also
/// compared with the filter of Annex D, which has that tolerance itself.
#[test]
fn digital_filter_is_inside_the_tolerance() {
    for (sample_rate_hz, own_limit) in [
        (400.0, 0.009),
        (1000.0, 0.0015),
        (2000.0, 4e-4),
        (20_000.0, 1e-5),
    ] {
        let filter = SpineFilter::new(sample_rate_hz).unwrap();
        for step in 0..=800 {
            let frequency_hz = f64::from(step) * 0.1;
            let got = filter.response(frequency_hz).norm();
            let error = (got - seat_to_spine_response(frequency_hz).norm()).abs();
            assert!(
                error <= own_limit,
                "{sample_rate_hz}, {frequency_hz} Hz: {error}"
            );
            let allowed = if frequency_hz <= 40.0 { 0.04 } else { 0.08 };
            let apart = (got - annex_d_magnitude(frequency_hz)).abs();
            assert!(
                apart <= allowed,
                "{sample_rate_hz}, {frequency_hz} Hz: {apart}"
            );
        }
    }
}

fn dose_of(sample_rate_hz: f64, seconds: f64, signal: impl Fn(f64) -> f64) -> (f64, f64) {
    let mut meter = SpineMeter::new(sample_rate_hz, 0.0).unwrap();
    for k in 0..(seconds * sample_rate_hz).round() as u64 {
        meter.push(signal(k as f64 / sample_rate_hz));
    }
    let figures = meter.figures().unwrap();
    (figures.dose_mps2, figures.largest_peak_mps2)
}

/// Reference: the analogue filter in state space, integrated with scipy 1.17.1
/// (`cont2discrete`, first-order hold, 20 kHz), peaks and Formula 3 in numpy.
/// Shock: 12 m/s2 sin^2 over 0.1 s. Upward and downward shocks differ by more
/// than five times, so this also fixes the sign. Limit at 1 kHz: 0.1 %.
#[test]
fn dose_of_a_shock_and_of_a_sine() {
    let shock = |t: f64| {
        if (0.5..0.6).contains(&t) {
            12.0 * (PI * (t - 0.5) / 0.1).sin().powi(2)
        } else {
            0.0
        }
    };
    let sine = |t: f64| 3.0 * (2.0 * PI * 4.5 * t).sin() + 2.0 * (2.0 * PI * 11.0 * t).sin();
    let check = |(dose, peak): (f64, f64), expected: (f64, f64)| {
        assert!(
            (dose / expected.0 - 1.0).abs() < 1e-3,
            "{dose}, expected {}",
            expected.0
        );
        assert!(
            (peak / expected.1 - 1.0).abs() < 1e-3,
            "{peak}, expected {}",
            expected.1
        );
    };
    check(dose_of(1000.0, 4.0, shock), (13.334661, 12.462299));
    check(dose_of(1000.0, 4.0, |t| -shock(t)), (2.512888, 2.348375));
    check(dose_of(1000.0, 4.0, sine), (9.782029, 6.305662));
}

/// ISO 2631-5:2018, clause 5.3: a peak is the largest value between two zero
/// crossings, only positive ones count. Example of phonometry's tests.
#[test]
fn peaks_are_the_largest_of_each_positive_stretch() {
    let mut dose = PeakDose::default();
    for value in [0.0, 1.0, 3.0, 2.0, -1.0, -4.0, 5.0, 1.0] {
        dose.push(value);
    }
    let expected = 1.07 * (3f64.powi(6) + 5f64.powi(6)).powf(1.0 / 6.0);
    assert!((dose.dose_mps2() - expected).abs() < 1e-12);
}

/// ISO 2631-5:2018, Annex C, worked example (as transcribed by phonometry):
/// five peaks of 40 m/s2 a day, male 82 kg, from age 20 on for 20 years, 120
/// days a year. Printed: dose 55.97, stress 1.623 MPa, R 1.22, P 0.37.
#[test]
fn worked_example_of_annex_c() {
    let mut dose = PeakDose::default();
    for _ in 0..5 {
        dose.push(40.0);
        dose.push(-1.0);
    }
    let daily = daily_dose_mps2(dose.dose_mps2(), 28_800.0, 28_800.0).unwrap();
    assert!((daily - 55.97).abs() <= 5e-3, "{daily}");
    assert!((daily - 55.9679).abs() <= 5e-5, "{daily}");
    let male = SpineRiskModel::MALE_82_KG;
    let stress = male.daily_stress_mpa(daily);
    assert!((stress - 1.623).abs() <= 5e-4, "{stress}");
    let r = male.stress_variable(stress, 20.0, 20, 120.0).unwrap();
    assert!((r - 1.2200).abs() <= 5e-5, "{r}");
    let p = male.injury_probability(r);
    assert!((p - 0.3672).abs() <= 5e-5, "{p}");
    assert!((p - 0.37).abs() <= 5e-3);
    // Note 5, female 64 kg: stress 1.40 MPa; R is printed as 0.97, the
    // formula gives 0.9621 (an inconsistency of the note in its last digit).
    let female = SpineRiskModel::FEMALE_64_KG;
    let stress = female.daily_stress_mpa(daily);
    assert!((stress - 1.40).abs() <= 5e-3);
    let r = female.stress_variable(stress, 20.0, 20, 120.0).unwrap();
    assert!((r - 0.9621).abs() <= 5e-5, "{r}");
    assert!((r - 0.97).abs() <= 0.01);
}

/// ISO 2631-5:2018, Table C.2 (as transcribed by phonometry): R for 10, 50 and
/// 90 % risk, printed to two decimals. 0.01 in R is up to 0.014 in P.
#[test]
fn risk_levels_of_table_c2() {
    for (model, levels) in [
        (SpineRiskModel::MALE_82_KG, [0.72, 1.42, 2.17]),
        (SpineRiskModel::FEMALE_64_KG, [0.52, 0.87, 1.20]),
    ] {
        for (r, risk) in levels.into_iter().zip([0.10, 0.50, 0.90]) {
            let p = model.injury_probability(r);
            assert!((p - risk).abs() <= 0.014, "R {r}: {p}");
        }
        assert_eq!(model.injury_probability(0.0), 0.0);
        assert!(model.injury_probability(f64::NAN).is_nan());
    }
}

/// Formulae 4 and 5: 64 times the time doubles the dose; tasks add by sixth
/// powers.
#[test]
fn daily_dose() {
    assert!((daily_dose_mps2(20.0, 450.0, 28_800.0).unwrap() - 40.0).abs() < 1e-12);
    let both = combined_daily_dose_mps2(&[30.0, 30.0]);
    assert!((both - 30.0 * 2f64.powf(1.0 / 6.0)).abs() < 1e-12);
    assert_eq!(combined_daily_dose_mps2(&[]), 0.0);
    assert!(daily_dose_mps2(20.0, 0.0, 28_800.0).is_err());
    assert!(daily_dose_mps2(f64::NAN, 1.0, 1.0).is_err());
}

/// Bad samples, bad settings, a spine that is used up.
#[test]
fn errors_are_clear() {
    let mut meter = SpineMeter::new(1000.0, 0.5).unwrap();
    assert!(matches!(
        meter.figures(),
        Err(ExposureError::NoSamples { .. })
    ));
    for k in 0..1000 {
        meter.push(if k == 3 { f64::NAN } else { 1.0 });
    }
    let expected = ExposureError::NonFiniteSamples {
        count: 1,
        first_index: 3,
        pushed: 1000,
    };
    assert_eq!(meter.figures(), Err(expected));
    let mut meter = SpineMeter::new(1000.0, 0.0).unwrap();
    for _ in 0..1000 {
        meter.push(1e60);
    }
    assert!(matches!(
        meter.figures(),
        Err(ExposureError::Overflow { .. })
    ));
    assert!(matches!(
        SpineMeter::new(256.0, 0.0),
        Err(ExposureError::SampleRate { .. })
    ));
    let male = SpineRiskModel::MALE_82_KG;
    for (stress, age, years, days) in [
        (1.0, 20.0, 120, 120.0),
        (1.0, 20.0, 0, 120.0),
        (-1.0, 20.0, 20, 120.0),
        (1.0, f64::NAN, 20, 120.0),
        (1.0, 20.0, 20, 0.0),
    ] {
        assert!(male.stress_variable(stress, age, years, days).is_err());
    }
}
