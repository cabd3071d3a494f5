//! `becalm ride`: what it prints and writes when all is well.

use crate::common::{Bench, sine_csv};
use serde_json::Value;

const TRACE_HEADER: &str = "time_s,floor_accel_mps2,seat_accel_mps2,travel_m,travel_rate_mps,\
force_n,current_a,mode,floor_velocity_est_mps,travel_rate_est_mps,mass_est_kg";

fn json(text: &str) -> Value {
    serde_json::from_str(text).unwrap()
}

fn number(value: &Value, path: &str) -> f64 {
    value
        .pointer(path)
        .unwrap_or_else(|| panic!("{path} is missing"))
        .as_f64()
        .unwrap_or_else(|| panic!("{path} is no number"))
}

#[test]
fn json_has_every_key_and_no_file_is_written() {
    let bench = Bench::new();
    let run = bench.run(&["ride", "--seconds", "12", "--json"]);
    assert_eq!((run.code, run.err.as_str()), (0, ""));
    assert_eq!(bench.listing(), Vec::<String>::new());
    let ride = json(&run.out);
    for seat in ["seat", "passive"] {
        for key in [
            "weighted_rms_mps2",
            "vdv_mps175",
            "mtvv_mps2",
            "crest_factor",
            "peak_mps2",
            "sd_mpa",
        ] {
            assert!(number(&ride, &format!("/{seat}/{key}")) > 0.0);
        }
    }
    for key in ["level", "weighted_rms_mps2", "vdv_mps175", "peak_mps2"] {
        assert!(number(&ride, &format!("/floor/{key}")) > 0.0);
    }
    for travel in ["travel", "passive_travel"] {
        for key in ["peak_m", "rms_m", "stop_contacts", "contact_speed_max_mps"] {
            number(&ride, &format!("/{travel}/{key}"));
        }
    }
    for key in [
        "actuator/force_rms_n",
        "actuator/force_peak_n",
        "actuator/electrical_power_mean_w",
        "actuator/electrical_power_peak_w",
        "actuator/coil_temperature_max_c",
        "estimate/travel_rate_rms_error_mps",
        "estimate/floor_velocity_rms_error_mps",
        "estimate/mass_error_fraction",
        "seat_value",
        "seat_value_passive",
        "seat_value_vdv",
        "real_time_factor",
    ] {
        number(&ride, &format!("/{key}"));
    }
    assert_eq!(ride["floor"]["name"], "hauler");
    assert_eq!(ride["arithmetic"], "f32");
    assert_eq!(ride["seed"], 1);
    assert_eq!(ride["seconds"], 12.0);
    assert_eq!(ride["skipped_s"], 5.0);
    // The SEAT value is what its name says.
    let share =
        number(&ride, "/seat/weighted_rms_mps2") / number(&ride, "/floor/weighted_rms_mps2");
    assert!((share - number(&ride, "/seat_value")).abs() < 1e-12);
}

#[test]
fn the_table_fits_80_columns_and_the_folder_is_whole() {
    let bench = Bench::new();
    let run = bench.run(&["ride", "--seconds", "6", "--level", "1.5", "--seed", "3"]);
    assert_eq!((run.code, run.err.as_str()), (0, ""));
    for line in run.out.lines() {
        assert!(line.chars().count() <= 80, "{line}");
        assert!(line.is_ascii(), "{line}");
    }
    for word in [
        "floor",
        "passive seat",
        "with the law",
        "weighted r.m.s.",
        "VDV",
        "MTVV",
        "crest factor",
        "SEAT value",
        "A(8)",
        "time to action value 0.5",
        "time to limit value 1.15",
        "stop contacts",
        "hardest contact",
        "force",
        "power",
        "coil",
        "travel rate error",
        "mass error",
        "times real time",
        "Why: ",
        "Written: becalm-out/hauler-x1.5-3",
    ] {
        assert!(
            run.out.contains(word),
            "the table lacks {word}:\n{}",
            run.out
        );
    }
    assert!(
        run.out
            .contains("(report.html, ride.html, trace.csv, summary.json)"),
        "{}",
        run.out
    );
    let report = bench.read("becalm-out/hauler-x1.5-3/report.html");
    assert!(report.contains("Ride on hauler × 1.5") && report.ends_with("</html>\n"));
    let trace = bench.read("becalm-out/hauler-x1.5-3/trace.csv");
    let summary = json(&bench.read("becalm-out/hauler-x1.5-3/summary.json"));
    assert_eq!(summary["seed"], 3);
    // The header, then a row for each control period of 1 ms.
    assert_eq!(trace.lines().next(), Some(TRACE_HEADER));
    assert_eq!(trace.lines().count(), 6001);
    assert!(
        !bench
            .listing()
            .iter()
            .any(|name| name.contains("unfinished"))
    );

    // The trace tells the same as the summary: greatest seat acceleration after the start.
    let peak = trace
        .lines()
        .skip(1)
        .map(|row| row.split(',').collect::<Vec<_>>())
        .filter(|row| row[0].parse::<f64>().unwrap() >= 3.0)
        .map(|row| row[2].parse::<f64>().unwrap().abs())
        .fold(0.0, f64::max);
    assert!((peak - number(&summary, "/seat/peak_mps2")).abs() < 1e-5);
    let modes: Vec<&str> = trace
        .lines()
        .skip(1)
        .map(|r| r.split(',').nth(7).unwrap())
        .collect();
    assert!(modes.contains(&"active"), "the law never isolated");
}

#[test]
fn earlier_results_are_replaced() {
    let bench = Bench::new();
    for seed in ["1", "2"] {
        let args = [
            "ride",
            "--seconds",
            "1",
            "--seed",
            seed,
            "--out",
            "out",
            "--quiet",
        ];
        let run = bench.run(&args);
        assert_eq!((run.code, run.out.as_str(), run.err.as_str()), (0, "", ""));
        assert_eq!(
            json(&bench.read("out/summary.json"))["seed"].to_string(),
            seed
        );
    }
}

#[test]
fn json_with_out_and_trace_writes_what_is_asked() {
    let bench = Bench::new();
    let args = [
        "ride",
        "--seconds",
        "1",
        "--json",
        "--out",
        "a/b",
        "--trace",
        "t.csv",
        "--arithmetic",
        "f64",
    ];
    let run = bench.run(&args);
    assert_eq!(run.code, 0, "{}", run.err);
    assert_eq!(bench.read("t.csv"), bench.read("a/b/trace.csv"));
    assert_eq!(json(&run.out), json(&bench.read("a/b/summary.json")));
    // The trace may be written again.
    assert_eq!(
        bench
            .run(&["ride", "--seconds", "1", "--json", "--trace", "t.csv"])
            .code,
        0
    );
}

#[test]
fn the_passive_seat_alone_leaves_out_the_law() {
    let bench = Bench::new();
    let both = json(&bench.run(&["ride", "--seconds", "8", "--json"]).out);
    let args = [
        "ride",
        "--seconds",
        "8",
        "--json",
        "--passive",
        "--trace",
        "t.csv",
    ];
    let alone = json(&bench.run(&args).out);
    for key in [
        "floor",
        "passive",
        "seat_value_passive",
        "passive_travel",
        "seed",
    ] {
        assert_eq!(both[key], alone[key], "{key}");
        assert!(!alone[key].is_null(), "{key}");
    }
    for key in [
        "seat",
        "seat_value",
        "travel",
        "actuator",
        "estimate",
        "arithmetic",
        "law",
    ] {
        assert!(alone.get(key).is_none(), "{key}");
    }
    let trace = bench.read("t.csv");
    assert!(
        trace
            .lines()
            .skip(1)
            .all(|row| row.ends_with(",0,0,none,,,"))
    );
    // The report shows the law: that of an earlier ride goes, and a word says why none comes.
    let folder = ["ride", "--seconds", "8", "--out", "out"];
    assert_eq!(bench.run(&folder).code, 0);
    assert!(bench.listing().contains(&"out/report.html".to_owned()));
    let text = bench.run(&[&folder[..], &["--passive"]].concat()).out;
    assert!(!bench.listing().contains(&"out/report.html".to_owned()));
    assert!(text.contains("No report.html and no ride.html: "), "{text}");
    assert!(
        !text.contains("law") && text.contains("passive seat"),
        "{text}"
    );
}

#[test]
fn a_recording_is_ridden_to_its_end() {
    let bench = Bench::new();
    // 14 s at 120 Hz.
    bench.write("my field.csv", sine_csv(1681, 120.0, 2.0, 0.0));
    let run = bench.run(&["ride", "--floor", "my field.csv"]);
    assert_eq!(run.code, 0, "{}", run.err);
    let summary = json(&bench.read("becalm-out/my-field-x1-1/summary.json"));
    assert!((number(&summary, "/seconds") - 14.0).abs() < 1e-3);
    // Of the length of a ride nothing else is taken from the file.
    let short = bench.run(&[
        "ride",
        "--floor",
        "my field.csv",
        "--seconds",
        "7",
        "--json",
    ]);
    assert_eq!(json(&short.out)["seconds"], 7.0);
    assert_eq!(json(&short.out)["skipped_s"], 3.5);
}

#[test]
fn an_event_comes_after_the_occupant_has_been_lifted() {
    let bench = Bench::new();
    for (args, name, seconds, skipped) in [
        (vec!["--floor", "bump"], "bump", 18.0, 11.0),
        (
            vec!["--floor", "bump:time=0.4"],
            "bump:time=0.4",
            18.0,
            11.0,
        ),
        (vec!["--floor", "edge:at=3"], "edge:at=3", 9.0, 2.0),
        (
            vec!["--floor", "shock", "--seconds", "10"],
            "shock:at=6",
            10.0,
            5.0,
        ),
    ] {
        let mut all = vec!["ride", "--json"];
        all.extend(args);
        let ride = json(&bench.run(&all).out);
        assert_eq!(ride["floor"]["name"], name);
        assert_eq!(ride["seconds"], seconds);
        assert_eq!(ride["skipped_s"], skipped);
        assert!(number(&ride, "/floor/peak_mps2") > 1.0, "{name} was missed");
    }
}

#[test]
fn the_report_of_a_single_event_shows_no_mean_over_time() {
    let bench = Bench::new();
    let args = ["ride", "--floor", "bump", "--out", "out", "--quiet"];
    assert_eq!(bench.run(&args).code, 0);
    let report = bench.read("out/report.html");
    let missing = report.matches("Not drawn. A single event is no steady vibration");
    assert_eq!(missing.count(), 2, "spectra and transmissibility");
}

#[test]
fn options_go_before_the_scenario_and_that_before_what_it_includes() {
    let bench = Bench::new();
    bench.write(
        "base/base.toml",
        "seconds = 20.0\noccupant_kg = 50\nbody = \"rigid\"\n\
         [floor]\nname = \"field.csv\"\nlevel = 0.5\nseed = 9\n",
    );
    bench.write("base/field.csv", sine_csv(800, 100.0, 2.0, 0.0));
    bench.write(
        "s.toml",
        "include = \"base/base.toml\"\noccupant_kg = 110\narithmetic = \"fixed\"\nskip_s = 1\n\
         [floor]\nlevel = 0.7\n[[changes]]\nat_s = 2\noccupant_kg = 0\n",
    );
    let args = [
        "ride",
        "--scenario",
        "s.toml",
        "--json",
        "--seconds",
        "4",
        "--seed",
        "11",
    ];
    let run = bench.run(&args);
    assert_eq!(run.code, 0, "{}", run.err);
    let ride = json(&run.out);
    // Options.
    assert_eq!((&ride["seconds"], &ride["seed"]), (&4.0.into(), &11.into()));
    // The scenario.
    assert_eq!(ride["occupant_kg"], 110.0);
    assert_eq!(ride["arithmetic"], "fixed");
    assert_eq!(ride["floor"]["level"], 0.7);
    assert_eq!(ride["skipped_s"], 1.0);
    // What it includes, with the path relative to that file.
    assert_eq!(ride["body"], "rigid");
    assert_eq!(ride["floor"]["name"], "base/field.csv");
}

#[test]
fn the_scenarios_that_ship_can_be_ridden() {
    let bench = Bench::new();
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/scenarios");
    for (name, level) in [("rough_hauler.toml", 2.5), ("change_over.toml", 0.2)] {
        let path = format!("{folder}/{name}");
        let run = bench.run(&["ride", "--scenario", &path, "--json"]);
        assert_eq!(run.code, 0, "{name}: {}", run.err);
        assert_eq!(json(&run.out)["floor"]["level"], level);
    }
}

#[test]
fn the_same_seed_gives_the_same_figures() {
    let bench = Bench::new();
    let figures = |seed: &str| {
        let mut ride = json(
            &bench
                .run(&["ride", "--seconds", "6", "--seed", seed, "--json"])
                .out,
        );
        ride.as_object_mut().unwrap().remove("real_time_factor");
        ride
    };
    let first = figures("5");
    assert_eq!(first, figures("5"));
    assert_ne!(first["floor"], figures("6")["floor"]);
}
