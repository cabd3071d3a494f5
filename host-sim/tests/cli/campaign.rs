//! `becalm faults`.

use crate::common::Bench;
use serde_json::Value;

fn json(text: &str) -> Value {
    serde_json::from_str(text).unwrap()
}

/// A few cases: one fault that latches at once, one that is not felt, one of people.
const FEW: [&str; 16] = [
    "faults",
    "--only",
    "supply-gain",
    "--only",
    "supply-stuck",
    "--only",
    "disarmed",
    "--floor",
    "ballast",
    "--floor",
    "edge",
    "--level",
    "1",
    "--quick",
    "--hours",
    "0.01",
];

#[test]
fn the_record_has_its_keys_and_each_worst_case_its_command() {
    let bench = Bench::new();
    let run = bench.run(&[&FEW[..], &["--json"]].concat());
    assert_eq!(bench.listing(), Vec::<String>::new());
    let record = json(&run.out);
    assert_eq!(record["cases"], 6);
    for key in [
        "dangerous",
        "dangerous_detected",
        "coverage",
        "false_alarms",
        "broken_limits",
    ] {
        assert!(record.get(key).is_some(), "{key}");
    }
    assert!(record["false_alarm_hours"].as_f64().unwrap() >= 0.01);
    let broken = record["broken_limits"].as_array().unwrap();
    assert_eq!(run.code, i32::from(!broken.is_empty()), "{}", run.err);
    let worst = record["worst"].as_array().unwrap();
    assert_eq!(worst.len(), 3);
    for case in worst {
        let command = case["command"].as_str().unwrap();
        let words: Vec<&str> = command.split(' ').skip(1).chain(["--json"]).collect();
        let ride = json(&bench.run(&words).out);
        assert_eq!(
            ride["travel"]["contact_speed_max_mps"], case["contact_speed_mps"],
            "{command}"
        );
        assert_eq!(ride["seat"]["peak_mps2"], case["peak_mps2"], "{command}");
        if case["fault"] == "supply-gain" {
            assert_eq!(ride["faults"][0]["noticed_after_s"], case["detection_s"]);
        }
    }
}

#[test]
fn a_campaign_that_was_cut_off_is_taken_up_and_gives_the_same_files() {
    let bench = Bench::new();
    let few = |out: &str, threads: &str| {
        let run = bench.run(&[&FEW[..], &["--out", out, "--threads", threads]].concat());
        assert!(
            run.out
                .lines()
                .any(|l| l.contains("supply-stuck") && l.contains(" . .")),
            "{}",
            run.out
        );
        run
    };
    few("whole", "1");
    let files = |out: &str| {
        ["faults.html", "faults.json", "cases.jsonl"]
            .map(|name| bench.read(&format!("{out}/{name}")))
    };
    let whole = files("whole");
    assert!(whole[0].contains("not an assessment"));
    // The middle of a line is where it was stopped.
    let cut = &whole[2][..whole[2].len() * 2 / 3];
    bench.write("cut/cases.jsonl", cut);
    let run = few("cut", "2");
    assert!(run.err.contains("are known already"), "{}", run.err);
    assert_eq!(files("cut"), whole);
    // Under another rig nothing is known.
    let rig = bench
        .run(&["rig", "show"])
        .out
        .replace("empty_mass_kg = 28.0", "empty_mass_kg = 29.0");
    bench.write("r.toml", rig);
    let other = bench.run(&[&FEW[..], &["--out", "cut", "--rig", "r.toml"]].concat());
    assert!(!other.err.contains("are known already"), "{}", other.err);
    assert_ne!(bench.read("cut/faults.json"), whole[1]);
}

#[test]
fn what_is_not_known_or_not_ours_is_refused() {
    let bench = Bench::new();
    bench.refused(&["faults", "--only", "travl"], &["--only travl", "sensor"]);
    bench.refused(&["faults", "--floor", "moon"], &["moon"]);
    bench.refused(&["faults", "--onset", "0.1"], &["0.2 to 100"]);
    bench.write("mine/cases.jsonl", "mine\n");
    bench.refused(
        &[&FEW[..], &["--out", "mine"]].concat(),
        &["was not made by becalm"],
    );
}
