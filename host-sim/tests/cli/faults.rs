//! `becalm ride --fault`, `--list-faults` and `[[fault]]` in scenarios.

use crate::common::Bench;
use host_sim::fault::catalogue;
use serde_json::Value;

fn json(text: &str) -> Value {
    serde_json::from_str(text).unwrap()
}

/// The height adjuster has taken the load by then, so that on a still floor the seat does not fall onto a stop.
const STUCK: &str = "seat-accel-stuck:onset=9";

#[test]
fn the_list_has_every_fault() {
    let bench = Bench::new();
    let run = bench.run(&["ride", "--list-faults"]);
    assert_eq!((run.code, run.err.as_str()), (0, ""));
    assert!(run.out.lines().all(|line| line.chars().count() <= 80));
    let run_json = bench.run(&["ride", "--list-faults", "--json"]);
    let list = json(&run_json.out);
    let list = list["faults"].as_array().unwrap();
    assert_eq!(list.len(), catalogue().len());
    for (entry, shown) in catalogue().iter().zip(list) {
        assert!(run.out.lines().any(|line| line.trim() == entry.name));
        assert_eq!(shown["name"], entry.name);
        assert_eq!(shown["class"], entry.kind.class().name());
        assert_eq!(shown["size"]["unit"].as_str(), entry.size.map(|a| a.unit));
    }
    assert_eq!(bench.listing(), Vec::<String>::new());
    assert!(bench.run(&["ride", "--help"]).out.contains("--list-faults"));
}

#[test]
fn a_fault_shows_in_json_table_and_report() {
    let bench = Bench::new();
    let args = [
        "ride",
        "--level",
        "0",
        "--seconds",
        "12",
        "--no-bound",
        "--fault",
        STUCK,
    ];
    let run = bench.run(&[&args[..], &["--json"]].concat());
    // A fault that is latched because something was broken is no broken limit.
    assert_eq!((run.code, run.err.as_str()), (0, ""));
    let ride = json(&run.out);
    let fault = &ride["faults"][0];
    assert_eq!(fault["name"], "seat-accel-stuck");
    assert_eq!(fault["fault"], STUCK);
    assert_eq!(fault["onset_s"], 9.0);
    assert_eq!(fault["duration_s"], Value::Null);
    // One accelerometer lost: the seat rides on.
    assert_eq!(fault["mode_at_end"], "limp");
    let noticed = fault["noticed_after_s"].as_f64().unwrap();
    assert!(noticed > 0.0 && noticed < 1.0, "{noticed}");
    assert_eq!(fault["drive_off_after_s"], Value::Null);
    assert_eq!(fault["noticed_as"][0], "seat accelerometer");

    let run = bench.run(&[&args[..], &["--out", "r"]].concat());
    assert_eq!((run.code, run.err.as_str()), (0, ""));
    assert!(run.out.lines().all(|line| line.chars().count() <= 80));
    assert!(run.out.contains(&format!("Broken on purpose: {STUCK}")));
    assert!(
        run.out
            .contains("as seat accelerometer; the drive stayed on")
    );
    let page = bench.read("r/report.html");
    assert!(page.contains("Broken on purpose") && page.contains(STUCK));
    assert_eq!(
        json(&bench.read("r/summary.json"))["faults"][0]["name"],
        "seat-accel-stuck"
    );
}

#[test]
fn without_a_fault_the_record_has_no_faults() {
    let run = Bench::new().run(&["ride", "--seconds", "2", "--no-bound", "--json"]);
    assert_eq!(json(&run.out).get("faults"), None);
}

#[test]
fn a_scenario_breaks_as_the_options_do() {
    let bench = Bench::new();
    bench.write(
        "s.toml",
        "seconds = 6\n[[fault]]\nkind = \"travel-bias\"\nonset_s = 3\nduration_s = 1\nsize = 0.01\n\
         [[fault]]\nkind = \"late\"\nonset_s = 4\nevery_s = 0.01\n",
    );
    let figures = |args: &[&str]| {
        let run = bench.run(args);
        let mut ride = json(&run.out);
        ride["real_time_factor"] = Value::Null;
        ride
    };
    let file = figures(&["ride", "--scenario", "s.toml", "--no-bound", "--json"]);
    let options = figures(&[
        "ride",
        "--seconds",
        "6",
        "--no-bound",
        "--json",
        "--fault",
        "travel-bias:onset=3,duration=1,size=0.01",
        "--fault",
        "late:onset=4,every=0.01",
    ]);
    assert_eq!(file, options);
    assert_eq!(file["faults"].as_array().map(Vec::len), Some(2));
    // Options take the place of the file's faults.
    let other = figures(&[
        "ride",
        "--scenario",
        "s.toml",
        "--no-bound",
        "--json",
        "--fault",
        "travel-dead:onset=5",
    ]);
    assert_eq!(other["faults"].as_array().map(Vec::len), Some(1));
    // An included file's faults stand unless there are others.
    bench.write("t.toml", "include = \"s.toml\"\n");
    assert_eq!(
        figures(&["ride", "--scenario", "t.toml", "--no-bound", "--json"]),
        file
    );
}

#[test]
fn bad_faults_are_refused() {
    let bench = Bench::new();
    for (text, place, words) in [
        (
            "[[fault]]\nkind = \"travel-lost\"\n",
            "2:8",
            vec![
                "fault.kind",
                "unknown fault 'travel-lost'",
                "--list-faults",
                "travel-stuck",
            ],
        ),
        (
            "[[fault]]\nonset_s = 3\n",
            "1:1",
            vec!["missing field `kind`"],
        ),
        (
            "[[fault]]\nkind = \"travel-bias\"\nsize = 3\n",
            "3:8",
            vec!["fault.size = 3: expected what is added, -0.5 to 0.5 m"],
        ),
        (
            "[[fault]]\nkind = \"travel-dead\"\nevery_s = 3\n",
            "3:11",
            vec!["fault.every_s = 3: expected none"],
        ),
        (
            "[[fault]]\nkind = \"watchdog\"\nduration_s = 3\n",
            "3:14",
            vec!["fault.duration_s = 3: expected none"],
        ),
        (
            "[[fault]]\nkind = \"late\"\nonset_s = -1\n",
            "3:11",
            vec!["fault.onset_s = -1", "0 to 1000000 s"],
        ),
        (
            "[[fault]]\nkind = \"late\"\nonset = 1\n",
            "3:1",
            vec!["unknown field `onset`", "onset_s"],
        ),
        (
            "[[fault]]\nkind = 7\n",
            "2:8",
            vec!["fault.kind", "expected a text"],
        ),
    ] {
        bench.write("s.toml", text);
        let place = format!("s.toml:{place}: ");
        let mut words = words;
        words.push(&place);
        bench.refused(&["ride", "--scenario", "s.toml"], &words);
    }
    for (fault, words) in [
        (
            "travel-lost",
            vec!["--fault", "unknown fault 'travel-lost'"],
        ),
        (
            "travel-bias:size=3",
            vec!["size = 3: expected what is added"],
        ),
        (
            "travel-stuck:onset=70",
            vec!["fault.onset_s = 70", "within the ride"],
        ),
        (
            "memory-flip:size=999999",
            vec!["size = 999999", "whole number from 0 to"],
        ),
    ] {
        bench.refused(&["ride", "--fault", fault], &words);
    }
    bench.refused(
        &["ride", "--fault", "watchdog", "--record", "f.bin"],
        &["--record with the fault watchdog", "expected"],
    );
}
