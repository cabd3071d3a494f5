//! Names, options and the catalogue: what is refused, and that the message says what is expected.

use host_sim::floor::{FloorError, FloorSpec, build, catalogue, model_density};

fn refusal(spec: &FloorSpec, rate_hz: f64) -> String {
    match build(spec, rate_hz) {
        Ok(_) => panic!("'{}' was accepted", spec.name),
        Err(error) => error.to_string(),
    }
}

#[test]
fn bad_names_and_options_say_what_is_expected() {
    for (name, words) in [
        ("", vec!["unknown floor ''", "hauler", ".csv"]),
        ("Hauler", vec!["unknown floor 'Hauler'", "hauler", "road-h"]),
        ("road-i", vec!["unknown floor 'road-i'"]),
        ("noise.txt", vec!["unknown floor 'noise.txt'", ".csv"]),
        (
            "edge:depth=1",
            vec![
                "'edge'",
                "no option 'depth'",
                "flank (a number from 0.005 to 10 s)",
            ],
        ),
        ("edge:flank", vec!["'edge'", "key=value"]),
        ("edge:", vec!["key=value"]),
        ("edge:flank=", vec!["'flank'", "0.005 to 10 s"]),
        ("edge:flank=soft", vec!["'soft'", "0.005 to 10 s"]),
        ("edge:flank=NaN", vec!["'NaN'", "0.005 to 10 s"]),
        ("edge:flank=inf", vec!["'inf'"]),
        ("edge:flank=-1", vec!["'-1'"]),
        ("edge:flank=0.6", vec!["'flank'", "'hold'"]),
        ("edge:flank=0.1,flank=0.2", vec!["each option once"]),
        ("sine:rms=1,amp=1", vec!["either rms or amp"]),
        ("sine:f=1000", vec!["0.05 to 200 Hz"]),
        ("sine:f=200", vec!["an eighth of the sample rate"]),
        ("steps:dwell=4,ramp=3", vec!["half of the dwell"]),
        ("chirp:from=2,to=2", vec!["another frequency"]),
        ("chirp:time=2,ramp=2", vec!["half of the time"]),
        ("bump:time=0", vec!["0.01 to 60 s"]),
        ("hauler:low=1", vec!["no option 'low'", "no options"]),
        ("road-c:speed=0", vec!["'speed'", "1 to 60 m/s"]),
        (
            "x.csv:colour=red",
            vec!["no option 'colour'", "accel=COLUMN", "unit=m/s2 or g"],
        ),
        ("x.csv:unit=ft", vec!["'ft'", "unit=m/s2 or g"]),
        ("x.csv:fade=-1", vec!["fade_s", "0 to 60 s"]),
        ("x.csv:highpass=NaN", vec!["high_pass_hz", "0.005 to 2 Hz"]),
        ("/nowhere/x.csv", vec!["/nowhere/x.csv", "cannot be read"]),
    ] {
        let message = refusal(&FloorSpec::named(name), 1000.0);
        for word in words {
            assert!(
                message.contains(word),
                "'{name}': \"{message}\" lacks \"{word}\""
            );
        }
    }
}

#[test]
fn bad_fields_are_refused() {
    let spec = FloorSpec::named("hauler");
    for level in [-1.0, 101.0, f64::NAN, f64::INFINITY] {
        let spec = FloorSpec {
            level,
            ..spec.clone()
        };
        assert!(refusal(&spec, 1000.0).contains("level"));
    }
    for speed_mps in [0.0, -5.0, f64::NAN, 1e9] {
        let spec = FloorSpec {
            speed_mps,
            ..spec.clone()
        };
        assert!(refusal(&spec, 1000.0).contains("speed_mps"));
    }
    for rate_hz in [0.0, -1.0, 50.0, 1e9, f64::NAN] {
        assert!(refusal(&spec, rate_hz).contains("sample_rate_hz"));
    }
    // Waves of 2.83 cycle/m at 60 m/s need more than 340 Hz.
    let error = build(&FloorSpec::named("road-a:speed=60"), 300.0)
        .err()
        .unwrap();
    assert!(matches!(error, FloorError::Corner { .. }));
    assert!(error.to_string().contains("half of the sample rate"));
}

#[test]
fn every_floor_of_the_catalogue_runs_at_several_rates() {
    let entries = catalogue().unwrap();
    assert_eq!(entries.len(), 20);
    for entry in &entries {
        println!(
            "{:8} rms {:8.4} peak {:?} band {:?} {:?} {} [{}]",
            entry.name,
            entry.rms_mps2,
            entry.peak_mps2,
            entry.band_hz,
            entry.origin,
            entry.about,
            entry.options
        );
        assert!(entry.rms_mps2 > 0.0 && !entry.about.is_empty());
        for rate_hz in [400.0, 1000.0, 8000.0] {
            let mut source = build(&FloorSpec::named(entry.name), rate_hz).unwrap();
            let mut moved = false;
            // Single events come at 12 s.
            for _ in 0..(13.0 * rate_hz) as usize {
                let accel = source.next_accel();
                assert!(accel.is_finite(), "{}", entry.name);
                moved |= accel != 0.0;
            }
            assert!(moved, "{}", entry.name);
        }
        let density = model_density(&FloorSpec::named(entry.name), 1000.0, &[2.0]).unwrap();
        assert_eq!(density.is_some(), entry.random, "{}", entry.name);
    }
}

/// Road speed: the option goes before the ride's speed; options do not change the noise.
#[test]
fn road_speed() {
    let by_option = FloorSpec::named("road-b:speed=20");
    let by_field = FloorSpec {
        speed_mps: 20.0,
        ..FloorSpec::named("road-b")
    };
    let mut a = build(&by_option, 1000.0).unwrap();
    let mut b = build(&by_field, 1000.0).unwrap();
    for _ in 0..1000 {
        assert_eq!(a.next_accel(), b.next_accel());
    }
}

/// A floor in a scenario file; unknown keys are refused.
#[test]
fn spec_from_text() {
    let text = r#"{"name": "ride.csv", "level": 1.5, "recording": {"accel": 3, "time": "t", "unit": "g"}}"#;
    let spec: FloorSpec = serde_json::from_str(text).unwrap();
    assert_eq!(spec.level, 1.5);
    assert_eq!(spec.seed, 1);
    assert_eq!(spec.recording.fade_s, 0.5);
    assert_eq!(
        spec.recording.accel,
        Some(host_sim::floor::Column::Number(3))
    );
    assert!(serde_json::from_str::<FloorSpec>(r#"{"nam": "sine"}"#).is_err());
    assert!(serde_json::from_str::<FloorSpec>(r#"{"recording": {"unit": "ft"}}"#).is_err());
}
