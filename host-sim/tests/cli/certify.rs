//! `becalm certify`: keys, files, exit codes, wrong input.

use serde_json::Value;
use std::process::{Command, Output};

fn certify(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_becalm"))
        .arg("certify")
        .args(arguments)
        .output()
        .expect("the command")
}

fn json(output: &Output) -> Value {
    serde_json::from_slice(&output.stdout).expect("one JSON object")
}

#[test]
fn the_default_rig_holds() {
    let folder = tempfile::tempdir().expect("a folder");
    let out = folder.path().join("certificate");
    let output = certify(&["--json", "--out", out.to_str().expect("a path")]);
    assert_eq!(output.status.code(), Some(0));
    let record = json(&output);
    for key in [
        "holds",
        "floor_acceleration_bound_mps2",
        "touch_speed_bound_mps",
        "mass_min_kg",
        "mass_max_kg",
        "assumptions",
        "boxes",
        "smallest_margin",
        "counter_example",
        "seconds",
    ] {
        assert!(record.get(key).is_some(), "{key}");
    }
    assert_eq!(record["holds"], true);
    assert!(record["counter_example"].is_null() && record["ride"].is_null());
    assert!(record["touch_speed_bound_mps"].as_f64().expect("a number") <= 0.10);
    let text = std::fs::read_to_string(out.join("certificate.json")).expect("the certificate");
    let kept: Value = serde_json::from_str(&text).expect("JSON");
    assert_eq!(kept["law"], record["law"]);
    let picture = std::fs::read_to_string(out.join("certificate.svg")).expect("the picture");
    assert!(picture.contains("proven set"));
    assert!(!out.join("progress.json").exists());
}

/// Half the force: refused, with a floor on which a ride meets a stop too fast.
#[test]
fn half_the_force_is_refused() {
    let folder = tempfile::tempdir().expect("a folder");
    let rig = include_str!("../../rigs/default.toml")
        .replace("current_max_a = 95.0", "current_max_a = 47.5");
    let file = folder.path().join("weak.toml");
    std::fs::write(&file, rig).expect("a rig");
    let out = folder.path().join("certificate");
    let output = certify(&[
        "--json",
        "--rig",
        file.to_str().expect("a path"),
        "--out",
        out.to_str().expect("a path"),
    ]);
    assert_eq!(output.status.code(), Some(1));
    let record = json(&output);
    assert_eq!(record["holds"], false);
    assert!(record["counter_example"].is_object());
    assert!(
        record["ride"]["contact_speed_mps"]
            .as_f64()
            .expect("a ride")
            > 0.10
    );
    let csv = std::fs::read_to_string(out.join("counter_example.csv")).expect("the floor");
    assert!(csv.contains("time_s,accel_mps2"));
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(said.contains("a limit is broken"), "{said}");
}

#[test]
fn wrong_input_is_named() {
    let output = certify(&["--rig", "no-such-rig.toml"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).contains("no-such-rig.toml"));
}
