//! `becalm limits`, `becalm dossier` and `becalm compare`: usage, bad input, comparisons of rides and with the baseline.

use crate::common::Bench;
use serde_json::Value;
use std::time::{Duration, Instant};

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
        // What is missed is demonstrated by nothing, but judged by something.
        let has = |field: &str| !limit[field].as_array().expect("a list").is_empty();
        let is_missed = limit["missed"].is_string();
        assert_eq!(
            (has("demonstrated"), has("judged")),
            (!is_missed, is_missed),
            "{limit}"
        );
    }
    let run = bench.run(&["limits", "peak-current"]);
    assert!(
        run.code == 0
            && run.out.contains("at most 95 A")
            && run.out.contains("firmware.limit.current_max_a"),
        "{}",
        run.out
    );
    let run = bench.run(&["limits", "fault-coverage"]);
    assert!(
        run.out.contains("  missed ") && run.out.contains("campaign_judge"),
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

/// Figure and margin are those of the committed baseline, of another dossier where one is named, and of none for another
/// rig. They are held against the limit as it is, not as it was when they were measured.
#[test]
fn limits_say_what_was_measured() {
    let bench = Bench::new();
    let committed = concat!(env!("CARGO_MANIFEST_DIR"), "/../baseline/dossier.json");
    let text = std::fs::read_to_string(committed).expect("the baseline");
    let mut baseline: Value = serde_json::from_str(&text).expect("JSON");
    let one = |run: crate::common::Run| -> Value {
        assert_eq!((run.code, run.err.as_str()), (0, ""));
        let record: Value = serde_json::from_str(&run.out).expect("JSON");
        record["limits"][0].clone()
    };
    for verdict in baseline["verdicts"].as_array().expect("verdicts") {
        let id = verdict["limit"].as_str().expect("an id");
        if id.starts_with("seat-value-") || id.starts_with("fault-") {
            let limit = one(bench.run(&["limits", id, "--json"]));
            for field in ["measured", "margin", "verdict"] {
                assert_eq!(limit[field], verdict[field], "{id} {field}");
            }
        }
    }
    // Another dossier: the same with one figure changed. Its own verdict is not believed.
    for figure in baseline["figures"].as_array_mut().expect("figures") {
        if figure["id"] == "certificate.touch-speed" {
            figure["value"] = 0.11.into();
        }
    }
    bench.write("other.json", baseline.to_string());
    let limit = one(bench.run(&[
        "limits",
        "stop-touch-speed",
        "--json",
        "--measured",
        "other.json",
    ]));
    assert_eq!(limit["measured"], 0.11);
    assert!((limit["margin"].as_f64().expect("a number") + 0.01).abs() < 1.0e-12);
    assert_eq!(limit["verdict"], "broken");
    // Another rig: nothing was measured of it.
    bench.write("own.toml", host_sim::rig::Rig::default_text());
    let limit = one(bench.run(&["limits", "stop-touch-speed", "--json", "--rig", "own.toml"]));
    assert!(limit["measured"].is_null() && limit["verdict"].is_null());
    let run = bench.run(&["limits", "--measured", "nothing"]);
    assert_eq!(run.code, 2);
    assert!(run.err.contains("expected a dossier"), "{}", run.err);
}

/// One figure alone, as the dossier's verdict says: the digits of the committed baseline, and its limits held against it.
#[test]
fn one_figure_is_measured_again() {
    let bench = Bench::new();
    let baseline: Value =
        serde_json::from_str(include_str!("../../../baseline/dossier.json")).expect("JSON");
    for id in [
        "certificate.touch-speed",
        "commission.force",
        "events.seat-peak.edge",
    ] {
        let verdicts = baseline["verdicts"].as_array().expect("verdicts");
        let verdict = verdicts.iter().find(|v| v["figure"] == id).expect(id);
        let command = verdict["command"].as_str().expect("a command");
        let words: Vec<&str> = command.split(' ').skip(1).chain(["--json"]).collect();
        assert_eq!(
            words[..4],
            ["dossier", "figure", id, "--quick"],
            "{command}"
        );
        let run = bench.run(&words);
        assert_eq!((run.code, run.err.as_str()), (0, ""), "{id}");
        let record: Value = serde_json::from_str(&run.out).expect("JSON");
        let measured = record["figure"]["value"].as_f64().expect("a number");
        let known = verdict["measured"].as_f64().expect("a number");
        // Another processor may round otherwise.
        assert!(
            (measured - known).abs() <= 1.0e-9 * known.abs(),
            "{id}: {measured} {known}"
        );
        let limits = record["verdicts"].as_array().expect("a list");
        assert!(
            limits
                .iter()
                .any(|v| v["limit"] == verdict["limit"] && v["verdict"] == "holds")
        );
    }
    for (id, words) in [
        (
            "ride.seat-peak",
            "ride.seat-peak: no figure is called so: expected STAGE.NAME, the stage one of rides, events",
        ),
        (
            "events.seat-peak",
            "not measured by a quick dossier: expected one of events.seat-peak.edge",
        ),
    ] {
        let run = bench.run(&["dossier", "figure", id, "--quick"]);
        assert!(
            run.code == 2 && run.err.contains(words),
            "{} {}",
            run.code,
            run.err
        );
    }
    assert_eq!(bench.listing(), Vec::<String>::new());
}

/// Places that cannot be written to are refused before anything is run.
#[test]
fn a_dossier_is_refused_its_place_at_once() {
    let bench = Bench::new();
    bench.write("mine/junit.xml", "mine");
    bench.write("other.json", "mine");
    for (arguments, words) in [
        (
            &["dossier", "--out", "mine"][..],
            "mine/junit.xml: is there already and was not made by becalm",
        ),
        (&["dossier", "--out", "other.json"], "other.json"),
        (
            &["dossier", "--out", "d", "--rebase", "other.json"],
            "other.json: is there already and was not made by becalm",
        ),
    ] {
        let begun = Instant::now();
        let run = bench.run(arguments);
        assert!(
            run.code == 2 && run.err.contains(words),
            "{} {}",
            run.code,
            run.err
        );
        // A full dossier takes minutes.
        assert!(begun.elapsed() < Duration::from_secs(20), "{arguments:?}");
    }
    assert_eq!(bench.listing(), ["mine", "mine/junit.xml", "other.json"]);
    assert_eq!(bench.read("other.json"), "mine");
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

/// What is finished stays whole, nothing else is left, and the same command goes on from there.
#[test]
#[cfg(unix)]
fn an_interrupted_dossier_is_taken_up() {
    let bench = Bench::new();
    // The stages that are waited for take a quarter of a minute together on a machine with nothing else to do.
    let patience = Duration::from_secs(180);
    let args = ["dossier", "--quick", "--out", "deep/d", "--quiet"];
    let kept = |stage: &str| format!("deep/d.cache/{stage}.json");
    let run = bench.interrupted(&args, patience, || bench.path(&kept("rides")).exists());
    assert_eq!((run.code, run.out.as_str()), (2, ""), "{}", run.err);
    let told = "becalm: error: interrupted; finished stages are in deep/d.cache: the same command takes them up";
    assert!(run.err.contains(told), "{}", run.err);
    // The stages are run one after another: whole ones from the first on, and no folder of results.
    let whole = |also: &[&str]| {
        let listing = bench.listing();
        assert!(
            listing
                .iter()
                .all(|name| name == "deep" || name.starts_with("deep/d.cache")),
            "{listing:?}"
        );
        for name in listing.iter().filter(|name| name.contains("d.cache/")) {
            assert!(name.ends_with(".json"), "{listing:?}");
            let record: Value = serde_json::from_str(&bench.read(name)).expect(name);
            assert!(
                record["data"].is_object() && record["key"].is_string(),
                "{name}"
            );
        }
        for stage in also {
            assert!(listing.contains(&kept(stage)), "{listing:?}");
        }
    };
    whole(&["rides"]);
    // Marked: a stage that is run again would lose the mark.
    let rides = bench.read(&kept("rides"));
    let marked = rides.replacen("\"data\":{", "\"data\":{\"marked\":true,", 1);
    assert_ne!(marked, rides);
    bench.write(&kept("rides"), &marked);
    let _ = std::fs::remove_file(bench.path(&kept("events")));
    let run = bench.interrupted(&args, patience, || bench.path(&kept("events")).exists());
    assert_eq!(run.code, 2, "{}", run.err);
    whole(&["rides", "events"]);
    assert_eq!(bench.read(&kept("rides")), marked);
    // Without a cache there is nothing to take up, and nothing is left.
    let bench = Bench::new();
    let args = ["dossier", "--quick", "--out", "d", "--quiet", "--no-cache"];
    // Past its start: the command listens for interruptions from there on.
    let begun = Instant::now();
    let run = bench.interrupted(&args, patience, || begun.elapsed() > Duration::from_secs(2));
    assert_eq!(run.code, 2, "{}", run.err);
    assert!(
        run.err.contains("interrupted; nothing was written"),
        "{}",
        run.err
    );
    assert_eq!(bench.listing(), Vec::<String>::new());
}

/// The same ride twice: the same. On a machine with more friction: worse. The other way round: better. Another ride: refused.
#[test]
fn rides_are_compared() {
    let bench = Bench::new();
    let rig = host_sim::rig::Rig::default_text();
    let stiff = rig.replacen("viscous_nspm = 160.0", "viscous_nspm = 480.0", 1);
    assert_ne!(rig, stiff);
    bench.write("default.toml", rig);
    bench.write("stiff.toml", stiff);
    for (name, rig, level) in [
        ("one", "default", "1"),
        ("again", "default", "1"),
        ("stiff", "stiff", "1"),
        ("rough", "default", "2.5"),
    ] {
        let rig = format!("{rig}.toml");
        let run = bench.run(&[
            "ride",
            "--rig",
            &rig,
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
    for name in [
        "better",
        "worse",
        "broken",
        "within_noise",
        "limits_changed",
    ] {
        assert_eq!(count(&same, name), 0, "{name}");
    }
    assert!(count(&same, "same") > 20);
    let run = bench.run(&["compare", "one", "stiff/summary.json", "--json"]);
    assert_eq!(run.code, 1);
    assert!(
        run.err.starts_with("becalm: regression against one: "),
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
    assert!(names.contains(&"seat_value"), "{names:?}");
    let run = bench.run(&["compare", "stiff", "one", "--markdown"]);
    assert!(
        run.out.contains("#### Better") && run.out.contains("| seat_value |"),
        "{}",
        run.out
    );
    // A smoother level is no better seat.
    bench.refused(
        &["compare", "rough", "one"],
        &["one: different rides: level 2.5 against 1.0"],
    );
}

fn baseline() -> Value {
    let committed = concat!(env!("CARGO_MANIFEST_DIR"), "/../baseline/dossier.json");
    let text = std::fs::read_to_string(committed).expect("the baseline");
    serde_json::from_str(&text).expect("JSON")
}

/// What once passed without a word is exit code 1: a limit let out tenfold, and losses within the spread of the seeds.
#[test]
fn a_worsened_baseline_is_a_regression() {
    let bench = Bench::new();
    bench.write("a.json", baseline().to_string());
    let run = bench.run(&["compare", "a.json", "a.json"]);
    assert_eq!((run.code, run.err.as_str()), (0, ""));
    assert!(run.out.contains("0 figures worse"), "{}", run.out);
    let mut loose = baseline();
    for verdict in loose["verdicts"].as_array_mut().expect("verdicts") {
        if verdict["limit"] == "stop-touch-speed" {
            verdict["value"] = 1.0.into();
        }
    }
    bench.write("loose.json", loose.to_string());
    let run = bench.run(&["compare", "a.json", "loose.json"]);
    assert_eq!(run.code, 1);
    let words = "becalm: regression against a.json: limits loosened, removed or redefined: stop-touch-speed; ";
    assert!(run.err.starts_with(words), "{}", run.err);
    assert!(
        run.out.contains("was at most 0.1 m/s -> is at most 1 m/s"),
        "{}",
        run.out
    );
    let mut worse = baseline();
    let mut names = Vec::new();
    for figure in worse["figures"].as_array_mut().expect("figures") {
        let id = figure["id"].as_str().expect("an id").to_owned();
        let (by, more) = match id.as_str() {
            "faults.broken-cases" => (1.0, 10.0),
            _ if id.starts_with("rides.seat-value.compact.") => (1.5, 0.0),
            _ if id.starts_with("rides.seat-value.loader.") => (1.25, 0.0),
            _ => continue,
        };
        let value = figure["value"].as_f64().expect("a number");
        figure["value"] = (by * value + more).into();
        for seed in figure["seeds"].as_array_mut().expect("seeds") {
            *seed = (by * seed.as_f64().expect("a number") + more).into();
        }
        names.push(id);
    }
    bench.write("worse.json", worse.to_string());
    let run = bench.run(&["compare", "a.json", "worse.json", "--json"]);
    assert_eq!(run.code, 1);
    let found: Value = serde_json::from_str(&run.out).expect("JSON");
    let rows = found["worse"].as_array().expect("a list");
    let told: Vec<&str> = rows.iter().filter_map(|c| c["figure"].as_str()).collect();
    assert_eq!(told, names);
    for row in rows {
        assert!(
            row["noise"].is_number() && row["detectable"].is_number(),
            "{row}"
        );
    }
}

/// Each finding once, on standard output; a limit that is broken is another thing.
#[test]
fn what_verify_finds_is_told_once() {
    let bench = Bench::new();
    bench.write("d/dossier.json", baseline().to_string());
    bench.write("d/SHA256SUMS", "");
    bench.write("d/notes.txt", "");
    let run = bench.run(&["dossier", "verify", "d"]);
    assert_eq!(run.code, 1);
    for words in [
        "NOT all agree",
        "SHA256SUMS: no line of dossier.html",
        "notes.txt: is no part of this dossier",
        "rides.json:",
        "NOT COMPARED ",
        "taken as stated: git: ",
    ] {
        assert!(run.out.contains(words), "{words}: {}", run.out);
    }
    let mut lines: Vec<&str> = run.out.lines().chain(run.err.lines()).collect();
    let count = lines.len();
    lines.sort_unstable();
    lines.dedup();
    assert_eq!(lines.len(), count);
    assert_eq!(run.err.lines().count(), 1, "{}", run.err);
    let words = "becalm: the dossier does not agree with itself or with what it was checked with: ";
    assert!(run.err.starts_with(words), "{}", run.err);
    let quiet = bench.run(&["dossier", "verify", "d", "--quiet"]);
    assert!(
        quiet.code == 1 && quiet.out.contains("notes.txt") && !quiet.out.contains("taken as"),
        "{}",
        quiet.out
    );
    let mut wrong = baseline();
    wrong["figures"][4]["better"] = "sideways".into();
    bench.write(
        "d/dossier.json",
        serde_json::to_string_pretty(&wrong).expect("JSON"),
    );
    bench.refused(
        &["dossier", "verify", "d"],
        &[
            "dossier.json:",
            "figures[4]: unknown variant `sideways`, expected `lower` or `higher`",
        ],
    );
}
