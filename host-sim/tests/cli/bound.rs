//! `bound`, `headroom`, and the bound in `ride`, as their users run them.

use crate::common::Bench;
use serde_json::Value;

fn json(text: &str) -> Value {
    serde_json::from_str(text).unwrap()
}

fn number(value: &Value, key: &str) -> f64 {
    value[key]
        .as_f64()
        .unwrap_or_else(|| panic!("{key} is no number: {value}"))
}

const BOUND: [&str; 6] = ["bound", "--level", "2.5", "--seconds", "8", "--json"];

#[test]
fn bound_prints_its_figures() {
    let bench = Bench::new();
    let run = bench.run(&BOUND);
    assert_eq!((run.code, run.err.as_str()), (0, ""));
    let b = json(&run.out);
    let ratio = number(&b, "weighted_rms_mps2") / number(&b, "floor_weighted_rms_mps2");
    assert!((number(&b, "seat_value") - ratio).abs() < 1e-12);
    assert!((0.05..0.9).contains(&ratio), "{ratio}");
    assert!(number(&b, "peak_mps2") > 0.0);
    assert!(number(&b, "peak_mps2") < number(&b, "floor_peak_mps2"));
    assert!((number(&b, "travel_limit_m") - 0.045).abs() < 1e-12);
    assert_eq!(b["solver_status"], "solved");
    assert!(number(&b, "seconds") > 0.0);
    assert_eq!(number(&b, "ridden_s"), 8.0);
    assert!(bench.listing().is_empty(), "{:?}", bench.listing());

    let run = bench.run(&[
        "bound",
        "--level",
        "2.5",
        "--seconds",
        "8",
        "--travel",
        "0.02",
    ]);
    assert_eq!((run.code, run.err.as_str()), (0, ""));
    assert!(
        run.out.contains("Travel 20.0 mm to either side"),
        "{}",
        run.out
    );
    for line in run.out.lines() {
        assert!(line.chars().count() <= 80, "{line}");
    }
}

/// A floor as in a ride: scenario, recording, event. On a recording of 10 mm of sine, faded in, the seat stands still in
/// 100 mm, but not in 4 mm.
#[test]
fn bound_takes_the_floors_of_a_ride() {
    let bench = Bench::new();
    let amplitude = 0.010 * (std::f64::consts::TAU * 2.0_f64).powi(2);
    let mut text = String::from("t,a\n");
    for k in 0..1000 {
        let t = f64::from(k) * 0.01;
        // A cosine: its velocity has no mean, so the floor does not drift.
        let a = amplitude * (std::f64::consts::TAU * 2.0 * t).cos();
        text += &format!("{t:.2},{a:.6}\n");
    }
    bench.write("two.csv", text);
    bench.write(
        "two.toml",
        "seconds = 9.0\n[floor]\nname = \"two.csv:accel=a\"\n",
    );
    let wide = json(
        &bench
            .run(&["bound", "--scenario", "two.toml", "--json"])
            .out,
    );
    assert_eq!(wide["solver_status"], "still");
    assert_eq!(number(&wide, "seat_value"), 0.0);
    assert_eq!(number(&wide, "ridden_s"), 9.0);
    let short = json(
        &bench
            .run(&[
                "bound",
                "--floor",
                "two.csv:accel=a",
                "--travel",
                "0.004",
                "--json",
            ])
            .out,
    );
    assert_eq!(short["solver_status"], "solved");
    // A sine of the floor's frequency with 10 - 4 mm of amplitude would do: least cannot be more than 0.6.
    let seat = number(&short, "seat_value");
    assert!(seat > 0.4 && seat < 0.601, "{seat}");
    let edge = json(&bench.run(&["bound", "--floor", "edge:at=3", "--json"]).out);
    assert_eq!(number(&edge, "ridden_s"), 9.0);
    assert_eq!(number(&edge, "skipped_s"), 2.0);
}

#[test]
fn a_ride_shows_its_bound() {
    let bench = Bench::new();
    let args = ["ride", "--level", "2.5", "--seconds", "8"];
    let with = |more: &[&str]| bench.run(&[&args[..], more].concat());
    let run = with(&["--json"]);
    let ride = json(&run.out);
    let bound = json(&bench.run(&BOUND).out);
    for key in ["seat_value", "peak_mps2"] {
        assert_eq!(ride["bound"][key], bound[key], "{key}");
    }
    let (passive, ours) = (
        number(&ride, "seat_value_passive"),
        number(&ride, "seat_value"),
    );
    let share = (passive - ours) / (passive - number(&bound, "seat_value"));
    assert!((number(&ride, "share_of_possible") - share).abs() < 1e-12);
    assert!(ours > number(&bound, "seat_value"));

    let run = with(&["--out", "out"]);
    assert!(run.out.contains("share of the possible"), "{}", run.out);
    let page = bench.read("out/report.html");
    assert!(page.contains("No real seat reaches that."));
    let least = format!("<td>{:.3}</td>", number(&bound, "seat_value"));
    assert!(page.contains(&least), "{least}");

    // Not asked for: the keys stay, the rest goes.
    let run = with(&["--json", "--no-bound"]);
    let ride = json(&run.out);
    let object = ride.as_object().unwrap();
    for key in ["bound", "share_of_possible"] {
        assert!(object.get(key).is_some_and(Value::is_null), "{key}");
    }
    let run = with(&["--no-bound", "--out", "out"]);
    assert!(!run.out.contains("share of the possible"), "{}", run.out);
    assert!(
        !bench
            .read("out/report.html")
            .contains("No real seat reaches that.")
    );
    assert_eq!(with(&["--no-bound", "--bound"]).code, 2);
}

#[test]
fn headroom_prints_a_row_for_each_floor_and_level() {
    let bench = Bench::new();
    let args = [
        "headroom", "--floor", "hauler", "--floor", "road-d", "--levels", "1,2.5",
    ];
    let run = bench.run(&[&args[..], &["--seconds", "8", "--seeds", "1", "--json"]].concat());
    assert_eq!((run.code, run.err.as_str()), (0, ""));
    let record = json(&run.out);
    let rows = record["rows"].as_array().unwrap();
    let place: Vec<_> = rows
        .iter()
        .map(|row| (row["floor"].as_str().unwrap(), number(row, "level")))
        .collect();
    let expected = [
        ("hauler", 1.0),
        ("hauler", 2.5),
        ("road-d", 1.0),
        ("road-d", 2.5),
    ];
    assert_eq!(place, expected);
    for row in rows {
        let (passive, ours, bound) = (
            number(row, "passive"),
            number(row, "ours"),
            number(row, "bound"),
        );
        assert!(bound < ours && ours < passive, "{row}");
        let share = (passive - ours) / (passive - bound);
        assert!((number(row, "share_of_possible") - share).abs() < 1e-12);
        if row["floor"] == "hauler" {
            assert!(number(row, "causal_linear") > bound, "{row}");
        } else {
            assert!(row["causal_linear"].is_null(), "{row}");
        }
    }
    // The same ride, the same figures.
    let ride = json(
        &bench
            .run(&["ride", "--level", "2.5", "--seconds", "8", "--json"])
            .out,
    );
    assert_eq!(rows[1]["ours"], ride["seat_value"]);
    assert_eq!(rows[1]["bound"], ride["bound"]["seat_value"]);

    let run = bench.run(&[
        "headroom",
        "--floor",
        "ballast",
        "--seconds",
        "4",
        "--seeds",
        "1",
    ]);
    assert_eq!((run.code, run.err.as_str()), (0, ""));
    assert_eq!(
        run.out.lines().filter(|l| l.starts_with("ballast")).count(),
        3
    );
    for line in run.out.lines() {
        assert!(line.chars().count() <= 80, "{line}");
    }
}

#[test]
fn wrong_usage_is_told() {
    let bench = Bench::new();
    for (args, expected) in [
        (vec!["bound", "--travel", "0"], "0.0001 to 10"),
        (vec!["bound", "--floor", "moon"], "unknown floor 'moon'"),
        (vec!["bound", "--seconds", "2", "--skip", "2"], "skip"),
        (vec!["headroom", "--floor", "moon"], "unknown floor 'moon'"),
        (vec!["headroom", "--levels", "1,x"], "0 to 100"),
        (vec!["headroom", "--seeds", "0"], "0 is not in"),
    ] {
        let run = bench.run(&args);
        assert_eq!((run.code, run.out.as_str()), (2, ""), "{args:?}");
        assert!(run.err.contains(expected), "{args:?}: {}", run.err);
    }
}

#[test]
fn help_fits_80_columns() {
    let bench = Bench::new();
    for command in ["bound", "headroom", "ride"] {
        let run = bench.run(&[command, "--help"]);
        assert_eq!((run.code, run.err.as_str()), (0, ""), "{command}");
        for line in run.out.lines() {
            assert!(line.chars().count() <= 80, "{command}: {line}");
        }
    }
}
