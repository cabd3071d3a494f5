//! Bad options, folders that cannot be written to, files of others in the way, and
//! runs that are interrupted.

use crate::common::{Bench, sine_csv};
use std::time::Duration;

/// By then a run of many minutes has begun to write.
const BEGUN: Duration = Duration::from_secs(20);

#[test]
fn bad_options_say_what_was_expected() {
    let bench = Bench::new();
    for (args, words) in [
        (
            vec!["ride", "--level", "-1"],
            vec!["'-1'", "--level", "0 to 100"],
        ),
        (vec!["ride", "--level", "nan"], vec!["'nan'", "0 to 100"]),
        (vec!["ride", "--level", "inf"], vec!["'inf'", "0 to 100"]),
        (vec!["ride", "--level", "much"], vec!["'much'", "0 to 100"]),
        (vec!["ride", "--speed", "0"], vec!["--speed", "1 to 60"]),
        (
            vec!["ride", "--occupant", "-80"],
            vec!["--occupant", "20 to 200"],
        ),
        (
            vec!["ride", "--occupant", "5"],
            vec!["--occupant", "0 for nobody"],
        ),
        (
            vec!["ride", "--seconds", "0"],
            vec!["--seconds", "0.1 to 1000000"],
        ),
        (
            vec!["ride", "--seconds", "1e30"],
            vec!["--seconds", "0.1 to 1000000"],
        ),
        (vec!["ride", "--seed", "-3"], vec!["'-3'", "--seed"]),
        (
            vec!["ride", "--body", "jelly"],
            vec!["--body", "rigid, one-mass or two-mass"],
        ),
        (
            vec!["ride", "--arithmetic", "f16"],
            vec!["f32, f64 or fixed"],
        ),
        (
            vec!["ride", "--floor", "moon"],
            vec!["unknown floor 'moon'", "expected one of"],
        ),
        (
            vec!["ride", "--floor", "edge:depth=1"],
            vec!["no option 'depth'", "expected"],
        ),
        (
            vec!["ride", "--floor", "edge:at=x"],
            vec!["'at'", "'x'", "expected"],
        ),
        (
            vec!["ride", "--seconds", "4", "--skip", "4"],
            vec!["skip = 4", "below the length"],
        ),
        (vec!["ride", "--colour"], vec!["--colour"]),
        (vec!["sing"], vec!["sing"]),
        (
            vec!["sweep", "--from", "8", "--to", "2"],
            vec!["--from 8 --to 2", "below the last"],
        ),
        (vec!["sweep", "--points", "1"], vec!["--points"]),
        (vec!["sweep", "--rms", "0"], vec!["--rms", "0.01 to 40"]),
        (vec!["completions", "abacus"], vec!["abacus"]),
        (vec!["exposure"], vec!["FILE.csv"]),
    ] {
        bench.refused(&args, &words);
    }
}

#[test]
fn folders_that_cannot_be_written_are_refused_before_the_ride() {
    let bench = Bench::new();
    bench.write("plain", "a file");
    // A ride this long would take minutes: the refusal comes first.
    let long = ["ride", "--seconds", "1000000", "--out"];
    for dir in ["plain", "plain/below/it"] {
        let args: Vec<&str> = long.iter().copied().chain([dir]).collect();
        bench.refused(&args, &["plain", "cannot be written", "expected", "--out"]);
    }
    bench.refused(
        &["ride", "--json", "--trace", "plain/t.csv"],
        &["plain/t.csv: cannot be written", "--trace"],
    );
    bench.refused(
        &["ride", "--json", "--trace", "none/t.csv"],
        &["none/t.csv"],
    );
    bench.refused(
        &["sweep", "--points", "2", "--out", "plain"],
        &["plain", "cannot be written", "--out"],
    );
}

#[test]
fn files_of_others_are_never_overwritten() {
    let bench = Bench::new();
    for name in ["report.html", "trace.csv", "summary.json"] {
        bench.write(&format!("mine-{name}/{name}"), "{\"made_by\": \"me\"}");
        bench.refused(
            &["ride", "--seconds", "1", "--out", &format!("mine-{name}")],
            &[
                name,
                "not made by becalm",
                "nothing was overwritten",
                "--out",
            ],
        );
    }
    bench.write("notes.txt", "mine");
    bench.refused(
        &["ride", "--json", "--trace", "notes.txt"],
        &["notes.txt", "not made by becalm"],
    );
    bench.write("mine-sweep/sweep.svg", "<svg/>");
    bench.refused(
        &["sweep", "--points", "2", "--out", "mine-sweep"],
        &["sweep.svg", "not made by becalm"],
    );
    // Not even when it is a trace, if the run reads it.
    let ride = ["ride", "--seconds", "2", "--json", "--trace", "t.csv"];
    assert_eq!(bench.run(&ride).code, 0);
    bench.refused(
        &[
            "ride",
            "--floor",
            "t.csv:accel=floor_accel_mps2",
            "--json",
            "--trace",
            "t.csv",
        ],
        &["t.csv", "this run reads", "--trace"],
    );
}

#[test]
fn a_folder_with_other_files_may_be_used_and_keeps_them() {
    let bench = Bench::new();
    bench.write("out/notes.txt", "mine");
    let args = ["ride", "--seconds", "1", "--out", "out", "--quiet"];
    assert_eq!(bench.run(&args).code, 0);
    assert_eq!(bench.read("out/notes.txt"), "mine");
}

#[test]
#[cfg(unix)]
fn an_interrupted_run_leaves_nothing_behind() {
    let bench = Bench::new();
    let args = [
        "ride",
        "--seconds",
        "1000000",
        "--out",
        "deep/out",
        "--trace",
        "t.csv",
    ];
    let begun = || {
        bench
            .listing()
            .iter()
            .any(|name| name.contains("trace.csv"))
    };
    let run = bench.interrupted(&args, BEGUN, begun);
    assert_eq!(run.code, 2, "{}", run.err);
    assert_eq!(run.out, "");
    assert!(
        run.err.contains("becalm: error: interrupted"),
        "{}",
        run.err
    );
    assert_eq!(bench.listing(), Vec::<String>::new());
}

#[test]
#[cfg(unix)]
fn an_interrupted_run_leaves_earlier_results_as_they_were() {
    let bench = Bench::new();
    let first = ["ride", "--seconds", "1", "--out", "out", "--quiet"];
    assert_eq!(bench.run(&first).code, 0);
    let (listing, summary) = (bench.listing(), bench.read("out/summary.json"));
    let trace = bench.read("out/trace.csv");
    let again = ["ride", "--seconds", "1000000", "--out", "out"];
    let begun = || bench.listing() != listing;
    let run = bench.interrupted(&again, BEGUN, begun);
    assert_eq!(run.code, 2, "{}", run.err);
    assert_eq!(bench.listing(), listing);
    assert_eq!(bench.read("out/summary.json"), summary);
    assert_eq!(bench.read("out/trace.csv"), trace);
}

#[test]
#[cfg(unix)]
fn an_interrupted_sweep_leaves_nothing_behind() {
    let bench = Bench::new();
    let args = [
        "sweep", "--from", "0.05", "--to", "0.06", "--points", "500", "--out", "sw",
    ];
    let run = bench.interrupted(&args, BEGUN, || bench.path("sw").exists());
    assert_eq!(run.code, 2, "{}", run.err);
    assert_eq!(bench.listing(), Vec::<String>::new());
}

#[test]
fn exit_code_1_tells_of_a_stop_met_too_hard() {
    let bench = Bench::new();
    // A step of a metre within the travel of 45 mm: no law can keep it off the stops.
    let run = bench.run(&[
        "ride",
        "--floor",
        "edge:height=1,hold=1,flank=0.1",
        "--json",
    ]);
    assert_eq!(run.code, 1, "{}", run.err);
    assert!(
        run.err.contains("becalm: a limit is broken: "),
        "{}",
        run.err
    );
    assert!(run.out.starts_with('{'));
    // The passive seat alone is held to no limit.
    let alone = bench.run(&[
        "ride",
        "--floor",
        "edge:height=1,hold=1,flank=0.1",
        "--json",
        "--passive",
    ]);
    assert_eq!(alone.code, 0, "{}", alone.err);
    bench.write("x.csv", sine_csv(400, 100.0, 2.0, 0.0));
    assert_eq!(bench.run(&["exposure", "x.csv"]).code, 0);
}
