//! Recordings (invented, `reference/recordings`) against the documented path written in numpy and
//! scipy 1.17.1, and columns read for exposure.

use becalm_tests::floors::{assert_close, number, numbers, recording, reference};
use host_sim::floor::recording::Recording;
use host_sim::floor::{
    AccelUnit, Column, ColumnChoice, FloorSource, FloorSpec, RecordingOptions, build, read_columns,
};
use std::path::Path;

/// Stamps to floor: interpolation, anti-alias, mean, fade, high-pass. The last 200 samples of the
/// reference lie beyond the end, where the high-pass rings down.
#[test]
fn path_matches_scipy() {
    for case in reference()["recordings"].as_array().unwrap() {
        let file = recording(case["file"].as_str().unwrap());
        let options = case["options"].as_str().unwrap();
        let name = if options.is_empty() {
            file.clone()
        } else {
            format!("{file}:{options}")
        };
        let mut source = build(&FloorSpec::named(&name), 1000.0).unwrap();
        let theirs = numbers(&case["accel"]);
        let every = case["every"].as_u64().unwrap() as usize;
        let ours: Vec<f64> = (0..theirs.len() * every)
            .map(|_| source.next_accel())
            .collect();
        let ours: Vec<f64> = ours.into_iter().step_by(every).collect();
        // 1e-9: the state of the 0.05 Hz high-pass is about 1e7 times rounding.
        assert_close(&ours, &theirs, 1e-9, &name);
    }
}

#[test]
fn gravity_and_rates_are_reported() {
    let load = |file: &str, options: &RecordingOptions| {
        Recording::load(Path::new(&recording(file)), options, 1.0, 1000.0).unwrap()
    };
    let options = RecordingOptions {
        accel: Some(Column::from("AZ")),
        ..RecordingOptions::default()
    };
    let uneven = load("uneven_120hz.csv", &options);
    assert!(uneven.gravity_included());
    assert!((uneven.mean_mps2() - 9.81).abs() < 0.1);
    assert!((uneven.file_rate_hz() - 120.0).abs() < 4.0);
    assert!(!uneven.evened());
    let even = load("even_100hz.csv", &RecordingOptions::default());
    assert!(!even.gravity_included());
    assert_eq!(even.duration_s(), Some(3.99));
    assert!(load("fast_uneven_1500hz.csv", &RecordingOptions::default()).evened());
    for case in reference()["recordings"].as_array().unwrap() {
        if case["file"] == "even_100hz.csv" {
            assert!((even.mean_mps2() - number(&case["mean"])).abs() < 1e-12);
        }
    }
}

/// Without fade and high-pass, an even recording at the control rate passes through, less its mean.
#[test]
fn bare_recording_passes_through() {
    let spec = FloorSpec {
        level: 2.0,
        ..FloorSpec::named(&format!(
            "{}:fade=0,highpass=0",
            recording("even_100hz.csv")
        ))
    };
    let mut source = build(&spec, 400.0).unwrap();
    let columns = read_columns(
        Path::new(&recording("even_100hz.csv")),
        &ColumnChoice::default(),
    )
    .unwrap();
    assert_eq!(columns.names, ["'accel'"]);
    assert!((columns.sample_rate_hz - 100.0).abs() < 1e-9);
    let values = &columns.accel_mps2[0];
    let area: f64 = values.windows(2).map(|p| 0.005 * (p[0] + p[1])).sum();
    for (index, value) in values.iter().enumerate() {
        let accel = source.next_accel();
        assert!(
            (accel - 2.0 * (value - area / 3.99)).abs() < 1e-10,
            "{index}"
        );
        for _ in 0..3 {
            source.next_accel();
        }
    }
    assert_eq!(source.next_accel(), 0.0);
}

/// Several columns at the file's own rate, without filters; gravity stays in.
#[test]
fn columns_for_exposure() {
    let choice = ColumnChoice {
        time: None,
        accel: vec![Column::Number(3), Column::from("ax [m/s2]")],
        unit: AccelUnit::Mps2,
    };
    let columns = read_columns(Path::new(&recording("uneven_120hz.csv")), &choice).unwrap();
    assert_eq!(columns.names, ["'az [m/s2]'", "'ax [m/s2]'"]);
    assert_eq!(columns.accel_mps2[0].len(), 360);
    assert_eq!(columns.accel_mps2[1].len(), 360);
    assert!((columns.mean_mps2[0] - 9.81).abs() < 0.1);
    assert!(columns.mean_mps2[1].abs() < 0.1);
    let g = ColumnChoice {
        unit: AccelUnit::G,
        ..ColumnChoice::default()
    };
    let columns = read_columns(Path::new(&recording("fast_2500hz.csv")), &g).unwrap();
    assert!((columns.sample_rate_hz - 2500.0).abs() < 1e-6);
    let peak = columns.accel_mps2[0]
        .iter()
        .fold(0.0, |m: f64, a| m.max(a.abs()));
    assert!((2.0..4.0).contains(&peak), "{peak}");
}
