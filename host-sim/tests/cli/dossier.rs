//! `becalm limits`, `becalm dossier` and `becalm compare`: usage, bad input, and a comparison of rides.

use crate::common::Bench;
use serde_json::Value;

#[test]
fn limits_are_listed() {
    let bench = Bench::new();
    let run = bench.run(&["limits", "--json"]);
    assert_eq!((run.code, run.err.as_str()), (0, ""));
    let record: Value = serde_json::from_str(&run.out).expect("JSON");
    let limits = record["limits"].as_array().expect("a list");
    assert!(limits.len() > 60);
    for limit in limits {
        for field in ["source", "protects", "command"] {
            assert!(
                limit[field].as_str().is_some_and(|text| !text.is_empty()),
                "{limit}"
            );
        }
        assert!(!limit["enforced"].as_array().expect("a list").is_empty());
        assert!(!limit["demonstrated"].as_array().expect("a list").is_empty());
    }
    let run = bench.run(&["limits", "peak-current"]);
    assert!(
        run.code == 0
            && run.out.contains("at most 95 A")
            && run.out.contains("firmware.limit.current_max_a"),
        "{}",
        run.out
    );
    let run = bench.run(&["limits", "peek"]);
    assert!(
        run.code == 2 && run.err.contains("peek: no limit begins so: expected an id"),
        "{}",
        run.err
    );
}

/// A rig's own number is that rig's limit.
#[test]
fn a_rig_brings_its_own_limits() {
    let bench = Bench::new();
    let text = host_sim::rig::Rig::default_text().replace("\"@peak-current\"", "60.0");
    bench.write("own.toml", &text);
    let run = bench.run(&["limits", "peak-current", "--rig", "own.toml"]);
    assert!(run.out.contains("at most 60 A"), "{}{}", run.out, run.err);
    bench.write("bad.toml", text.replace("\"@clamp-accel\"", "\"@clamp\""));
    let run = bench.run(&["limits", "--rig", "bad.toml"]);
    assert_eq!(run.code, 2);
    for words in [
        "bad.toml:",
        "firmware.arrest.accel_max_mps2",
        "`@clamp` is no limit: expected a number",
    ] {
        assert!(run.err.contains(words), "{}", run.err);
    }
}

#[test]
fn wrong_folders_are_refused() {
    let bench = Bench::new();
    bench.write("file.json", "{\"version\": 7}");
    for (arguments, words) in [
        (
            &["dossier", "verify", "nowhere"][..],
            "nowhere: cannot be read",
        ),
        (
            &["dossier", "verify", "file.json"],
            "version: 7: expected 1",
        ),
        (
            &["compare", "file.json", "file.json"],
            "JSON of something else: expected a dossier",
        ),
        (&["compare", "file.json"], "required"),
        (&["dossier", "--quick", "verify", "x"], "cannot be used"),
    ] {
        let run = bench.run(arguments);
        assert_eq!(run.code, 2, "{arguments:?} {}", run.err);
        assert!(run.err.contains(words), "{arguments:?} {}", run.err);
    }
}

/// The same ride twice: no regression. A rougher one against it: worse. The other way round: better.
#[test]
fn rides_are_compared() {
    let bench = Bench::new();
    for (name, level) in [("one", "1"), ("again", "1"), ("rough", "2.5")] {
        let run = bench.run(&[
            "ride",
            "--no-bound",
            "--seconds",
            "8",
            "--skip",
            "4",
            "--level",
            level,
            "--out",
            name,
            "--quiet",
        ]);
        assert_eq!(run.code, 0, "{}", run.err);
    }
    let run = bench.run(&["compare", "one", "again", "--json"]);
    assert_eq!(run.code, 0, "{}", run.err);
    let same: Value = serde_json::from_str(&run.out).expect("JSON");
    let count = |record: &Value, name: &str| record[name].as_array().map_or(usize::MAX, Vec::len);
    assert_eq!(
        (
            count(&same, "better"),
            count(&same, "worse"),
            count(&same, "broken")
        ),
        (0, 0, 0)
    );
    assert!(count(&same, "within_noise") > 20);
    let run = bench.run(&["compare", "one", "rough/summary.json", "--json"]);
    assert_eq!(run.code, 1);
    assert!(
        run.err
            .contains("a limit is broken: regression against one"),
        "{}",
        run.err
    );
    let worse: Value = serde_json::from_str(&run.out).expect("JSON");
    let names: Vec<&str> = worse["worse"]
        .as_array()
        .expect("a list")
        .iter()
        .filter_map(|c| c["figure"].as_str())
        .collect();
    assert!(
        names.contains(&"seat_value") && names.contains(&"travel.peak_m"),
        "{names:?}"
    );
    let run = bench.run(&["compare", "rough", "one", "--markdown"]);
    assert!(
        run.out.contains("#### Better") && run.out.contains("| seat_value |"),
        "{}",
        run.out
    );
}
