//! `becalm hunt` and `becalm modes`: JSON, exit codes, kept finds, bad input.

use crate::common::Bench;
use serde_json::Value;

#[test]
fn hunt_gives_one_object_and_keeps_what_it_finds() {
    let bench = Bench::new();
    let args = [
        "hunt",
        "--evaluations",
        "300",
        "--floor-accel",
        "4",
        "--aim",
        "contact",
        "--aim",
        "seat",
        "--keep",
        "soft",
        "--out",
        "found",
        "--json",
    ];
    let run = bench.run(&args);
    let found: Value = serde_json::from_str(&run.out).unwrap();
    let broken = found["broken"].as_array().unwrap();
    // No limit is broken. An assumption may be passed; then the code says so.
    for b in broken {
        assert_eq!(b["outside_certificate"], true, "{b}");
    }
    assert_eq!(run.code, i32::from(!broken.is_empty()), "{}", run.err);
    assert_eq!(found["worst"]["contact_speed_mps"], 0.0);
    assert!(found["worst"]["seat_peak_mps2"].as_f64().unwrap() > 1.0);
    assert!(found["evaluations"].as_u64().unwrap() > 100);
    assert_eq!(found["claim"]["touch_mps"], 0.1);
    assert_eq!(found["within_claim"], true);
    let file = found["worst"]["floor_file"].as_str().unwrap();
    assert!(bench.path(file).is_file());
    let ride = bench.run(&[
        "ride",
        "--scenario",
        "found/soft-seat.toml",
        "--json",
        "--out",
        "ride",
    ]);
    assert_eq!(ride.code, 0);
    let ride: Value = serde_json::from_str(&ride.out).unwrap();
    let seat = &found["finds"][1]["figures"]["seat_peak_mps2"];
    let (a, b) = (
        ride["seat"]["peak_mps2"].as_f64().unwrap(),
        seat.as_f64().unwrap(),
    );
    // The report's peak is that of the recorded seat acceleration, without weighting.
    assert!((a - b).abs() < 1e-3 * b, "{a} {b}");
}

#[test]
fn without_arrest_a_limit_breaks() {
    let bench = Bench::new();
    let run = bench.run(&[
        "hunt",
        "--without-arrest",
        "--evaluations",
        "400",
        "--aim",
        "contact",
        "--json",
    ]);
    assert_eq!(run.code, 1);
    assert!(
        run.err
            .starts_with("becalm: a limit is broken: contact_speed_mps"),
        "{}",
        run.err
    );
    let found: Value = serde_json::from_str(&run.out).unwrap();
    assert!(found["worst"]["contact_speed_mps"].as_f64().unwrap() > 0.5);
    assert_eq!(found["broken"][0]["limit"], "contact_speed_mps");
}

#[test]
fn files_of_others_are_not_replaced() {
    let bench = Bench::new();
    std::fs::write(bench.path("a-seat.csv"), "mine").unwrap();
    let run = bench.run(&[
        "hunt",
        "--evaluations",
        "100",
        "--aim",
        "seat",
        "--keep",
        "a",
    ]);
    assert_eq!(run.code, 2);
    assert!(run.err.contains("was not made by becalm"), "{}", run.err);
    assert_eq!(std::fs::read(bench.path("a-seat.csv")).unwrap(), b"mine");
    std::fs::write(bench.path("modes.svg"), "mine").unwrap();
    let run = bench.run(&["modes", "--svg", "modes.svg"]);
    assert_eq!(run.code, 2);
}

#[test]
fn bad_usage_is_refused() {
    let bench = Bench::new();
    for args in [
        vec!["hunt", "--floor-accel", "0"],
        vec!["hunt", "--keep", "a/b"],
        vec!["hunt", "--aim", "comfort"],
        vec!["hunt", "--body", "heavy"],
        vec!["hunt", "--lightest", "90", "--heaviest", "80"],
        vec!["hunt", "--out", "x"],
        vec!["modes", "--rig", "missing.toml"],
    ] {
        let run = bench.run(&args);
        assert_eq!((run.code, run.out.as_str()), (2, ""), "{args:?}");
        assert!(run.err.starts_with("becalm: error:"), "{}", run.err);
    }
}

#[test]
fn modes_are_proved() {
    let bench = Bench::new();
    let run = bench.run(&[
        "modes",
        "--json",
        "--svg",
        "modes.svg",
        "--markdown",
        "modes.md",
    ]);
    assert_eq!((run.code, run.err.as_str()), (0, ""));
    let proof: Value = serde_json::from_str(&run.out).unwrap();
    assert_eq!(proof["holds"], true);
    assert_eq!(proof["short"]["drives_disturbed"], 0);
    assert!(bench.path("modes.svg").is_file() && bench.path("modes.md").is_file());
}
