//! Exposure meter against the saw-tooth burst of ISO 8041-1 and closed forms.

use host_sim::exposure::running_rms::{ExponentialWindow, LinearWindow};
use host_sim::exposure::{ExposureError, ExposureFigures, ExposureMeter, Weighting};
use std::f64::consts::{PI, SQRT_2};

const BURST: &str = include_str!("../../reference/exposure/saw_tooth_burst.csv");

/// Meter after all samples of a signal given as a function of time.
fn measure(
    weighting: Weighting,
    sample_rate_hz: f64,
    duration_s: f64,
    skip_s: f64,
    signal: impl Fn(f64) -> f64,
) -> ExposureFigures {
    let mut meter = ExposureMeter::new(weighting, sample_rate_hz, skip_s).unwrap();
    for k in 0..(duration_s * sample_rate_hz).round() as u64 {
        meter.push(signal(k as f64 / sample_rate_hz));
    }
    meter.figures().unwrap()
}

/// A row of ISO 8041-1:2017, Table 6.
struct SawTooth {
    rate_rad_s: f64,
    first_burst_s: f64,
    repeat_s: f64,
    duration_s: f64,
}

const WHOLE_BODY: SawTooth = SawTooth {
    rate_rad_s: 100.0,
    first_burst_s: 1.0,
    repeat_s: 10.0,
    duration_s: 60.0,
};

const LOW_FREQUENCY: SawTooth = SawTooth {
    rate_rad_s: 2.5,
    first_burst_s: 40.0,
    repeat_s: 400.0,
    duration_s: 2400.0,
};

/// Saw-tooth burst: linear rise and vertical fall, every burst from one upward
/// zero crossing to another. `cycles` 0 is the continuous saw-tooth.
fn saw_tooth(row: &SawTooth, time_s: f64, cycles: f64) -> f64 {
    let since_start_s = if cycles == 0.0 {
        time_s
    } else {
        (time_s - row.first_burst_s).rem_euclid(row.repeat_s)
    };
    let turns = since_start_s * row.rate_rad_s / (2.0 * PI);
    if cycles > 0.0 && (time_s < row.first_burst_s || turns >= cycles) {
        return 0.0;
    }
    2.0 * (turns + 0.5).fract() - 1.0
}

/// Largest relative difference from ISO 8041-1:2017, Table 8, of one weighting.
fn worst_burst_error(weighting: Weighting, sample_rate_hz: f64) -> f64 {
    let name = format!("{weighting:?},");
    let rows: Vec<Vec<f64>> = BURST
        .lines()
        .filter_map(|line| line.strip_prefix(&name))
        .map(|line| line.split(',').map(|cell| cell.parse().unwrap()).collect())
        .collect();
    assert_eq!(rows.len(), 6);
    let mut worst = 0.0_f64;
    for row in rows {
        let got = measure(weighting, sample_rate_hz, WHOLE_BODY.duration_s, 0.0, |t| {
            saw_tooth(&WHOLE_BODY, t, row[0])
        });
        for (got, printed) in [
            (got.weighted_rms_mps2, row[1]),
            (got.vdv_mps175, row[2]),
            (got.mtvv_mps2, row[3]),
            (got.mtvv_exponential_mps2, row[4]),
        ] {
            worst = worst.max((got / printed - 1.0).abs());
        }
    }
    println!(
        "{weighting:?} at {sample_rate_hz} Hz: {:.3} %",
        100.0 * worst
    );
    worst
}

/// ISO 8041-1:2017, 5.9, Table 8 (as transcribed by phonometry), all cells.
/// The standard allows 10 % (VDV 12 %); these limits are our own.
#[test]
fn saw_tooth_burst_at_1_khz() {
    for (weighting, limit) in [
        (Weighting::BandLimiting, 0.01),
        (Weighting::Wk, 0.01),
        (Weighting::Wd, 0.03),
        (Weighting::We, 0.03),
        (Weighting::Wj, 0.01),
        (Weighting::Wb, 0.01),
    ] {
        let worst = worst_burst_error(weighting, 1000.0);
        assert!(worst <= limit, "{weighting:?}: {worst}");
    }
}

/// The same at other rates: the filter is designed for the rate given. At
/// 400 Hz the sampled saw-tooth itself is poor (25 samples a cycle), so only
/// the limits of the standard are asked for there.
#[test]
fn saw_tooth_burst_at_other_rates() {
    for (sample_rate_hz, limit) in [(400.0, 0.10), (5000.0, 0.01), (20_000.0, 0.01)] {
        for weighting in [Weighting::BandLimiting, Weighting::Wk] {
            let worst = worst_burst_error(weighting, sample_rate_hz);
            assert!(
                worst <= limit,
                "{weighting:?} at {sample_rate_hz} Hz: {worst}"
            );
        }
    }
}

/// ISO 8041-1:2017, 5.9, Table 9, r.m.s. column of Wf (as transcribed by
/// phonometry). The standard allows 10 %; phonometry itself comes within
/// 2.3 %. Our limit: 3 %.
#[test]
fn saw_tooth_burst_of_wf() {
    for (cycles, printed) in [
        (1.0, 0.0197),
        (2.0, 0.0236),
        (4.0, 0.0304),
        (8.0, 0.0416),
        (16.0, 0.0571),
        (0.0, 0.176),
    ] {
        let duration_s = LOW_FREQUENCY.duration_s;
        let got = measure(Weighting::Wf, 400.0, duration_s, 0.0, |t| {
            saw_tooth(&LOW_FREQUENCY, t, cycles)
        });
        let error = got.weighted_rms_mps2 / printed - 1.0;
        println!("Wf, {cycles} cycles: {:.3} %", 100.0 * error);
        assert!(error.abs() <= 0.03, "{cycles} cycles: {error}");
    }
}

/// Closed forms of a sine of amplitude A behind a gain W at 8 Hz: r.m.s.
/// W A/sqrt 2, VDV W A (3/8 T)^(1/4), crest factor sqrt 2, both MTVV the
/// r.m.s.; a sine of weighted r.m.s. 1 for 60 s has VDV 3.08007. Settled for
/// 30 s first.
#[test]
fn steady_sine() {
    let gain = Weighting::Wk.factor(8.0);
    let amplitude = SQRT_2 / gain;
    let figures = measure(Weighting::Wk, 1000.0, 90.0, 30.0, |t| {
        amplitude * (2.0 * PI * 8.0 * t).sin()
    });
    let close = |got: f64, expected: f64, share: f64| {
        assert!(
            (got / expected - 1.0).abs() <= share,
            "{got}, expected {expected}"
        );
    };
    // 0.1 %: the digital filter at 8 Hz; the crest factor is free of it.
    close(figures.weighted_rms_mps2, 1.0, 1e-3);
    close(figures.vdv_mps175, 3.08007, 1e-3);
    close(figures.mtvv_mps2, 1.0, 1e-3);
    // The exponential window ripples at 16 Hz by 1/(2 w tau) = 0.5 %.
    close(figures.mtvv_exponential_mps2, 1.0, 6e-3);
    close(figures.crest_factor.unwrap(), SQRT_2, 1e-3);
    close(figures.peak_mps2, amplitude, 1e-3);
    close(figures.weighted_peak_mps2, SQRT_2, 2e-3);
    assert!((figures.duration_s - 60.0).abs() < 1e-9);
    let exact = (figures.vdv_mps175 / figures.weighted_rms_mps2).powi(4);
    close(exact, 1.5 * 60.0, 1e-6);
}

/// ISO 8041-1:2017: the running r.m.s. of a steady sine is within 2 % of the
/// linear mean (as transcribed by phonometry).
#[test]
fn running_rms_of_a_steady_sine() {
    let figures = measure(Weighting::Wk, 1000.0, 120.0, 30.0, |t| {
        (2.0 * PI * 15.915_494 * t).sin()
    });
    assert!((figures.mtvv_mps2 / figures.weighted_rms_mps2 - 1.0).abs() <= 0.02);
    assert!((figures.mtvv_exponential_mps2 / figures.weighted_rms_mps2 - 1.0).abs() <= 0.02);
}

/// Closed form: after a step to the constant a the exponential running r.m.s.
/// is a sqrt(1 - exp(-t/tau)).
#[test]
fn step_response_of_the_exponential_window() {
    let mut window = ExponentialWindow::new(1000.0);
    for k in 1..=5000 {
        window.push_square(4.0);
        let time_s = f64::from(k) / 1000.0;
        let expected = 2.0 * (1.0 - (-time_s).exp()).sqrt();
        assert!((window.rms() - expected).abs() < 1e-12);
    }
}

/// Closed form: the linear window of a burst of n samples of a in an empty
/// record is a sqrt(n/fs) while it is shorter than the window, then a.
#[test]
fn linear_window_of_a_burst() {
    for (length, expected) in [
        (1, (0.001_f64).sqrt()),
        (250, 0.5),
        (1000, 1.0),
        (1500, 1.0),
    ] {
        let mut window = LinearWindow::new(1000.0);
        for k in 0..10_000 {
            window.push_square(if (1234..1234 + length).contains(&k) {
                9.0
            } else {
                0.0
            });
        }
        assert!((window.largest_rms() - 3.0 * expected).abs() < 1e-12);
    }
}

/// A huge shock long past leaves nothing in the linear window: a fresh sum
/// replaces the running one every second, so rounding cannot pile up. (Adding
/// and taking away 1e20 alone would leave an error near 1e4.)
#[test]
fn linear_window_does_not_drift() {
    let mut window = LinearWindow::new(1000.0);
    window.push_square(1e20);
    for _ in 0..2500 {
        window.push_square(0.25);
    }
    assert!((window.rms() - 0.5).abs() < 1e-12, "{}", window.rms());
}

/// During the skipped time the filter settles and nothing is measured: a
/// constant offset of 9.81 m/s2 switched on at 0 leaves no peak, no dose.
#[test]
fn skipped_time_is_not_measured() {
    let offset = |_: f64| 9.81;
    let raw = measure(Weighting::Wk, 1000.0, 60.0, 0.0, offset);
    let settled = measure(Weighting::Wk, 1000.0, 60.0, 20.0, offset);
    assert!(raw.weighted_peak_mps2 > 1.0);
    assert!(settled.weighted_peak_mps2 < 1e-9);
    assert!(settled.vdv_mps175 < 1e-9 && settled.mtvv_mps2 < 1e-9);
    assert!((settled.duration_s - 40.0).abs() < 1e-9);
    assert!((settled.peak_mps2 - 9.81).abs() < 1e-12);
}

/// Figures scale with the amplitude; the crest factor does not.
#[test]
fn figures_are_linear() {
    let signal = |t: f64| (2.0 * PI * 3.0 * t).sin() + 0.5 * (2.0 * PI * 11.0 * t).cos();
    let one = measure(Weighting::Wd, 500.0, 30.0, 2.0, signal);
    let ten = measure(Weighting::Wd, 500.0, 30.0, 2.0, |t| 10.0 * signal(t));
    for (one, ten) in [
        (one.weighted_rms_mps2, ten.weighted_rms_mps2),
        (one.vdv_mps175, ten.vdv_mps175),
        (one.mtvv_mps2, ten.mtvv_mps2),
        (one.mtvv_exponential_mps2, ten.mtvv_exponential_mps2),
        (one.peak_mps2, ten.peak_mps2),
    ] {
        assert!((ten / one / 10.0 - 1.0).abs() < 1e-12);
    }
    assert!((one.crest_factor.unwrap() - ten.crest_factor.unwrap()).abs() < 1e-9);
}

/// Bad samples are never swallowed.
#[test]
fn non_finite_samples_are_an_error() {
    for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        // Also when it comes while the filter still settles.
        for skip_s in [0.0, 1.0] {
            let mut meter = ExposureMeter::new(Weighting::Wk, 1000.0, skip_s).unwrap();
            for k in 0..3000 {
                meter.push(if k == 700 || k == 900 { bad } else { 1.0 });
            }
            let expected = ExposureError::NonFiniteSamples {
                count: 2,
                first_index: 700,
                pushed: 3000,
            };
            assert_eq!(meter.figures(), Err(expected));
        }
    }
}

/// Samples whose squares overflow are an error too, not an infinite figure.
#[test]
fn overflow_is_an_error() {
    for huge in [1e100, 1e200, f64::MAX] {
        let mut meter = ExposureMeter::new(Weighting::Wk, 1000.0, 0.0).unwrap();
        for k in 0..100 {
            meter.push(if k % 2 == 0 { huge } else { -huge });
        }
        assert!(matches!(
            meter.figures(),
            Err(ExposureError::Overflow { .. })
        ));
    }
}

/// No samples, only skipped samples, wrong settings.
#[test]
fn nothing_measured_is_an_error() {
    let mut meter = ExposureMeter::new(Weighting::Wk, 1000.0, 1.0).unwrap();
    for _ in 0..1000 {
        meter.push(0.0);
    }
    let expected = ExposureError::NoSamples {
        pushed: 1000,
        skipped: 1000,
    };
    assert_eq!(meter.figures(), Err(expected));
    meter.push(0.0);
    let figures = meter.figures().unwrap();
    assert_eq!(
        (figures.weighted_rms_mps2, figures.crest_factor),
        (0.0, None)
    );
    for skip_s in [-1.0, f64::NAN, f64::INFINITY, 1e6] {
        let error = ExposureMeter::new(Weighting::Wk, 1000.0, skip_s).unwrap_err();
        assert!(matches!(
            error,
            ExposureError::Field {
                field: "skip_s",
                ..
            }
        ));
    }
}

/// The serialised field names are the ones reports use.
#[test]
fn figures_serialise_with_units_in_the_names() {
    let figures = measure(Weighting::Wk, 1000.0, 2.0, 0.0, |t| (30.0 * t).sin());
    let json = serde_json::to_value(figures).unwrap();
    for field in [
        "duration_s",
        "weighted_rms_mps2",
        "vdv_mps175",
        "mtvv_mps2",
        "mtvv_exponential_mps2",
        "crest_factor",
        "weighted_peak_mps2",
        "peak_mps2",
    ] {
        assert!(json[field].is_f64(), "{field}");
    }
    assert_eq!(json["weighting"], "Wk");
}
