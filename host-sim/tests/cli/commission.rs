//! `becalm commission`: exit codes, table, record.

use crate::common::Bench;
use serde_json::Value;

#[test]
fn a_sound_machine_is_armed() {
    let bench = Bench::new();
    let run = bench.run(&["commission"]);
    assert_eq!((run.code, run.err.as_str()), (0, ""));
    assert!(run.out.lines().all(|line| line.chars().count() <= 80));
    assert!(run.out.contains("the law may be armed"), "{}", run.out);
    assert_eq!(run.out.matches("agrees").count(), 15, "{}", run.out);
    assert_eq!(bench.listing(), Vec::<String>::new());
    // The same again, to the letter.
    assert_eq!(bench.run(&["commission", "--seed", "1"]).out, run.out);
    assert_ne!(bench.run(&["commission", "--seed", "2"]).out, run.out);
}

#[test]
fn a_wrong_machine_is_refused_and_named() {
    let bench = Bench::new();
    for (name, item) in [
        ("drive-sign", "sign of the drive"),
        ("current-sign", "sign of the current sensor"),
        ("travel-sign", "sign of travel"),
        ("seat-polarity", "seat accel. polarity"),
        ("floor-polarity", "floor accel. polarity"),
        ("force-constant:0.7", "force constant"),
        ("mass:1.5", "moving mass"),
        ("friction:3", "dry friction"),
    ] {
        let run = bench.run(&["commission", "--wrong", name]);
        assert_eq!(run.code, 1, "{name}: {}", run.out);
        assert!(run.out.lines().all(|line| line.chars().count() <= 80));
        assert_eq!(run.out.matches("REFUSED").count(), 1, "{}", run.out);
        assert!(
            run.err.ends_with(&format!("not armed: {item}\n")),
            "{}",
            run.err
        );
    }
    let run = bench.run(&["commission", "--wrong", "force-constant:0.2"]);
    assert_eq!(run.code, 1);
    assert!(
        run.err.contains("gave up: the largest current moves"),
        "{}",
        run.err
    );
}

#[test]
fn the_record_is_one_object() {
    let bench = Bench::new();
    let run = bench.run(&["commission", "--json", "--wrong", "mass:1.5"]);
    assert_eq!(run.code, 1);
    let record: Value = serde_json::from_str(&run.out).unwrap();
    assert_eq!(record["armed"], Value::Bool(false));
    assert_eq!(record["truth"]["moving_mass_kg"], 42.0);
    let found = record["finding"]["moving_mass_kg"].as_f64().unwrap();
    assert!((found / 42.0 - 1.0).abs() < 0.02, "{found}");
    assert_eq!(record["finding"]["verdicts"].as_array().unwrap().len(), 15);
}

#[test]
fn bad_usage_is_told() {
    let bench = Bench::new();
    for (args, told) in [
        (vec!["commission", "--wrong", "mass"], "expected drive-sign"),
        (vec!["commission", "--wrong", "mass:99"], "0.2 to 5"),
        (vec!["commission", "--wrong", "mass:nan"], "0.2 to 5"),
        (
            vec!["commission", "--wrong", "travel-sign:1"],
            "expected drive-sign",
        ),
        (vec!["commission", "--seed", "-1"], "--seed"),
        (vec!["commission", "--rig", "none.toml"], "none.toml"),
    ] {
        let run = bench.run(&args);
        assert_eq!((run.code, run.out.as_str()), (2, ""), "{args:?}");
        assert!(
            run.err.starts_with("becalm: error:") && run.err.contains(told),
            "{}",
            run.err
        );
    }
}

/// A value that the commissioning test cannot use is told with file, line and field.
#[test]
fn a_rig_that_cannot_be_commissioned() {
    let bench = Bench::new();
    let shown = bench.run(&["rig", "show"]).out;
    for (from, to, told) in [
        (
            "low_hz = 4.5 ",
            "low_hz = 40.0",
            "firmware.commission.low_hz",
        ),
        (
            "rest_s = 3.0",
            "rest_s = -3.0",
            "firmware.commission.rest_s",
        ),
        (
            "force_tolerance = \"@commission-force-constant\"",
            "force_tolerance = 9.0",
            "firmware.commission.force_tolerance",
        ),
    ] {
        assert!(shown.contains(from), "{from}");
        bench.write("rig.toml", shown.replacen(from, to, 1));
        let run = bench.run(&["commission", "--rig", "rig.toml"]);
        assert_eq!(run.code, 2, "{}", run.out);
        assert!(
            run.err.contains(told) && run.err.contains("rig.toml:"),
            "{}",
            run.err
        );
    }
}
