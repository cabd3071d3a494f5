//! Daily exposure and SEAT value against worked examples.

use host_sim::exposure::daily::{
    ACTION_A8_MPS2, LIMIT_A8_MPS2, daily_vdv_mps175, partial_a8_mps2, seconds_to_action,
    seconds_to_action_vdv, seconds_to_limit, seconds_to_limit_vdv,
};
use host_sim::exposure::seat_value::{corrected_to_input, mean_of_runs, seat_over_floor};
use host_sim::exposure::{
    Axis, DailyExposure, ExposureError, ExposureMeter, PartialExposure, SeatValue, Weighting,
};

const HOUR_S: f64 = 3600.0;

fn task(axis: Axis, weighted_rms_mps2: f64, hours: f64) -> PartialExposure {
    PartialExposure {
        axis,
        weighted_rms_mps2,
        vdv_mps175: 0.0,
        measured_s: 60.0,
        exposure_s: hours * HOUR_S,
    }
}

fn z_day(tasks: &[(f64, f64)]) -> f64 {
    let partials: Vec<_> = tasks.iter().map(|&(a, h)| task(Axis::Z, a, h)).collect();
    DailyExposure::from_partials(&partials).unwrap().a8_mps2()
}

/// ISO 5349-2, Annex E, and ISO 5349-1, 5.3 (as transcribed by phonometry).
/// Hand-arm values, but the arithmetic of A(8) is the same. Printed to one
/// decimal.
#[test]
fn worked_examples_of_a8() {
    let to_last_digit = |got: f64, printed: f64| {
        assert!((got - printed).abs() <= 0.05, "{got}, printed {printed}");
    };
    // E.2.1: 7.4 m/s2 for 2.5 h; E.2.4: 14.6 m/s2 for 4000 s.
    to_last_digit(partial_a8_mps2(7.4, 2.5 * HOUR_S).unwrap(), 4.1);
    to_last_digit(partial_a8_mps2(14.6, 4000.0).unwrap(), 5.4);
    // E.3: three tasks with partial values 2.3, 2.1 and 1.8 make 3.6.
    to_last_digit(partial_a8_mps2(4.6, 2.0 * HOUR_S).unwrap(), 2.3);
    to_last_digit(partial_a8_mps2(6.0, HOUR_S).unwrap(), 2.1);
    to_last_digit(partial_a8_mps2(3.6, 2.0 * HOUR_S).unwrap(), 1.8);
    to_last_digit(z_day(&[(4.6, 2.0), (6.0, 1.0), (3.6, 2.0)]), 3.6);
    // ISO 5349-1, 5.3: 2.0 for 1 h, 3.5 for 3 h, 10 for 0.5 h make 3.4.
    to_last_digit(z_day(&[(2.0, 1.0), (3.5, 3.0), (10.0, 0.5)]), 3.4);
}

/// Directive 2002/44/EC, Annex, Part B, point 1: the largest of 1.4 x, 1.4 y
/// and z. Values as in phonometry's tests.
#[test]
fn worst_axis_decides() {
    let day = |x, y, z| {
        let partials = [
            task(Axis::X, x, 8.0),
            task(Axis::Y, y, 8.0),
            task(Axis::Z, z, 8.0),
        ];
        DailyExposure::from_partials(&partials).unwrap().a8_mps2()
    };
    assert!((day(0.5, 0.2, 0.6) - 0.7).abs() < 1e-12);
    assert!((day(0.35, 0.28, 0.62) - 0.62).abs() < 1e-12);
    assert!((day(0.0, 0.5, 0.6) - 0.7).abs() < 1e-12);
}

/// Closed form, values of Directive 2002/44/EC, Article 3: at 1 m/s2 the
/// action value is reached after 2.00 h and the limit value after 10.58 h.
#[test]
fn time_to_action_and_limit() {
    let action_s = seconds_to_action(1.0).unwrap().unwrap();
    let limit_s = seconds_to_limit(1.0).unwrap().unwrap();
    assert!((action_s / HOUR_S - 2.0).abs() < 1e-12);
    assert!((limit_s / HOUR_S - 10.58).abs() < 1e-12);
    // After that time the daily exposure is the value itself.
    let back = |a: f64, seconds: f64| partial_a8_mps2(a, seconds).unwrap();
    assert!((back(1.0, action_s) - ACTION_A8_MPS2).abs() < 1e-12);
    let seconds = seconds_to_limit(0.83).unwrap().unwrap();
    assert!((back(0.83, seconds) - LIMIT_A8_MPS2).abs() < 1e-12);
    // At rest: never.
    assert_eq!(seconds_to_action(0.0), Ok(None));
    assert_eq!(seconds_to_limit(0.0), Ok(None));
}

/// VDV scales with the fourth root of time: 16 times as long doubles it.
/// Values 9.1 and 21 m/s^1.75 of Directive 2002/44/EC, Article 3.
#[test]
fn vdv_over_the_day() {
    assert!((daily_vdv_mps175(4.55, 1800.0, 8.0 * HOUR_S).unwrap() - 9.1).abs() < 1e-12);
    let seconds = seconds_to_action_vdv(4.55, 1800.0).unwrap().unwrap();
    assert!((seconds - 8.0 * HOUR_S).abs() < 1e-6);
    let seconds = seconds_to_limit_vdv(10.5, 600.0).unwrap().unwrap();
    assert!((seconds - 9600.0).abs() < 1e-6);
    assert_eq!(seconds_to_action_vdv(0.0, 60.0), Ok(None));
    // Two equal tasks: fourth root of two. One axis does not add to another.
    let half = PartialExposure {
        vdv_mps175: 6.0,
        ..task(Axis::Y, 0.3, 60.0 / HOUR_S)
    };
    let day = DailyExposure::from_partials(&[half, half]).unwrap();
    assert!((day.vdv_mps175() - 1.4 * 6.0 * 2f64.powf(0.25)).abs() < 1e-12);
    assert_eq!(day.vdv_per_axis_mps175[0], 0.0);
}

/// An empty day, and input that is not a number or negative.
#[test]
fn odd_days() {
    let day = DailyExposure::from_partials(&[]).unwrap();
    assert_eq!((day.a8_mps2(), day.vdv_mps175()), (0.0, 0.0));
    for bad in [f64::NAN, f64::INFINITY, -1.0] {
        assert!(seconds_to_action(bad).is_err());
        assert!(seconds_to_limit_vdv(bad, 60.0).is_err());
        assert!(seconds_to_limit_vdv(1.0, bad).is_err());
        assert!(DailyExposure::from_partials(&[task(Axis::X, bad, 1.0)]).is_err());
        assert!(DailyExposure::from_partials(&[task(Axis::X, 1.0, bad)]).is_err());
    }
    let text = seconds_to_action(-1.0).unwrap_err().to_string();
    assert!(
        text.contains("weighted_rms_mps2") && text.contains("-1"),
        "{text}"
    );
}

/// ISO 10326-1:2016, 10.2.1 to 10.2.3, worked arithmetic of a public
/// repository: platform 1.02/1.00/0.99, seat 0.72/0.70/0.71, intended 1.10
/// give SEAT 0.7076 and 0.7784 m/s2.
#[test]
fn seat_value_of_three_runs() {
    let platform = mean_of_runs(&[1.02, 1.00, 0.99]).unwrap();
    let seat = mean_of_runs(&[0.72, 0.70, 0.71]).unwrap();
    let seat_value = seat_over_floor(seat, platform).unwrap().unwrap();
    assert!((seat_value - 0.7076).abs() <= 5e-5, "{seat_value}");
    assert!((corrected_to_input(seat_value, 1.10) - 0.7784).abs() <= 5e-5);
}

/// A run more than 5 % off the mean is refused and named (10.2.1).
#[test]
fn runs_that_spread_are_refused() {
    assert!(mean_of_runs(&[1.0, 1.0, 1.07]).is_ok());
    let error = mean_of_runs(&[1.0, 1.0, 1.2]).unwrap_err();
    assert!(matches!(error, ExposureError::RunSpread { run: 3, .. }));
    assert!(mean_of_runs(&[]).is_err());
    assert!(mean_of_runs(&[1.0, f64::NAN]).is_err());
    assert_eq!(mean_of_runs(&[0.0, 0.0]), Ok(0.0));
}

/// Half the floor's motion on the seat is a SEAT value of 0.5 both ways.
#[test]
fn seat_value_from_meters() {
    let figures = |scale: f64, seconds: u32| {
        let mut meter = ExposureMeter::new(Weighting::Wk, 1000.0, 0.0).unwrap();
        for k in 0..seconds * 1000 {
            meter.push(scale * (0.03 * f64::from(k)).sin());
        }
        meter.figures().unwrap()
    };
    let floor = figures(1.0, 20);
    let value = SeatValue::from_figures(&figures(0.5, 20), &floor).unwrap();
    assert!((value.by_rms.unwrap() - 0.5).abs() < 1e-12);
    assert!((value.by_vdv.unwrap() - 0.5).abs() < 1e-12);
    let still = SeatValue::from_figures(&floor, &figures(0.0, 20)).unwrap();
    assert_eq!((still.by_rms, still.by_vdv), (None, None));
    let shorter = SeatValue::from_figures(&figures(0.5, 19), &floor);
    assert!(matches!(
        shorter,
        Err(ExposureError::DurationMismatch { .. })
    ));
}
