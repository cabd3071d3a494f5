//! `becalm` without a command, `sweep`, `exposure`, `floors`, `rig`, `completions`, help.

use crate::common::{Bench, sine_csv};
use host_sim::limits::constant::STOP_TOUCH_SPEED;
use serde_json::Value;

fn json(text: &str) -> Value {
    serde_json::from_str(text).unwrap()
}

#[test]
fn without_a_command_the_demo_is_ridden() {
    let bench = Bench::new();
    let run = bench.run(&[]);
    assert_eq!((run.code, run.err.as_str()), (0, ""));
    assert!(
        run.out
            .starts_with("Ride on hauler, level 1, seed 1: 60.0 s"),
        "{}",
        run.out
    );
    assert!(bench.path("becalm-out/hauler-x1-1/summary.json").is_file());
}

/// Every command with its own commands, as the help lists them.
fn commands(bench: &Bench, of: &[&str]) -> Vec<Vec<String>> {
    let help = bench.run(&[of, &["--help"]].concat()).out;
    let listed = help.split("\nCommands:\n").nth(1).unwrap_or_default();
    let names = listed
        .lines()
        .take_while(|line| !line.is_empty())
        .filter_map(|line| {
            line.strip_prefix("  ")
                .filter(|line| !line.starts_with(' '))
        })
        .filter_map(|line| line.split(' ').next())
        .filter(|name| *name != "help");
    let mut found = vec![of.iter().map(ToString::to_string).collect()];
    for name in names {
        found.extend(commands(bench, &[of, &[name]].concat()));
    }
    found
}

#[test]
fn help_of_every_command_fits_80_columns() {
    let bench = Bench::new();
    let all = commands(&bench, &[]);
    for command in ["ride", "dossier verify", "rig check", "faults", "compare"] {
        let found = all.iter().any(|args| args.join(" ") == command);
        assert!(found, "{command} is not among {all:?}");
    }
    for args in &all {
        let words: Vec<&str> = args.iter().map(String::as_str).chain(["--help"]).collect();
        let run = bench.run(&words);
        assert_eq!((run.code, run.err.as_str()), (0, ""), "{args:?}");
        let lines: Vec<&str> = run.out.lines().collect();
        for line in &lines {
            assert!(line.chars().count() <= 80, "{args:?}: {line}");
        }
        // A line that was too long leaves a scrap behind: the next word would have had room there.
        for pair in lines.windows(2) {
            let [line, next] = [pair[0], pair[1]];
            let word = next.split(' ').next().unwrap_or_default();
            let goes_on = word.starts_with(|c: char| c.is_lowercase())
                && line.starts_with(char::is_alphanumeric)
                && !line.contains("   ");
            let room = 80 - line.chars().count();
            assert!(
                !goes_on || word.len() + 12 > room,
                "{args:?}: {line} / {next}"
            );
        }
    }
    let version = bench.run(&["--version"]);
    assert_eq!((version.code, version.err.as_str()), (0, ""));
    assert!(bench.run(&["--help"]).out.contains("Exit codes:"));
}

/// What the help and the README say of the stop's speed is the register's limit.
#[test]
fn texts_say_the_limit_of_the_register() {
    let bench = Bench::new();
    let said = format!("harder than {STOP_TOUCH_SPEED:.2} m/s");
    let readme = include_str!("../../../README.md").to_owned();
    let helps = [&["--help"][..], &["ride", "--help"], &["sweep", "--help"]];
    for text in helps
        .map(|words| bench.run(words).out)
        .into_iter()
        .chain([readme])
    {
        let words: Vec<&str> = text.split_whitespace().collect();
        assert!(words.join(" ").contains(&said), "{text}");
    }
}

/// Wk at 8 Hz is 1.036 and at 1 Hz 0.482; Wd at 1 Hz is 1.011: ISO 2631-1:1997, Table 3.
/// A(8) = a_w sqrt(T / 8 h); action value 0.5, limit value 1.15 m/s2: Directive 2002/44/EC.
#[test]
fn exposure_of_a_sine_is_that_of_the_standard() {
    let bench = Bench::new();
    for (rate_hz, frequency_hz, axis, weighting, factor, k) in [
        (1000.0, 8.0, "z", "Wk", 1.036, 1.0),
        // Slower than the filters accept: interpolated.
        (100.0, 8.0, "z", "Wk", 1.036, 1.0),
        (100.0, 1.0, "z", "Wk", 0.482, 1.0),
        (250.0, 1.0, "x", "Wd", 1.011, 1.4),
    ] {
        let rows = (60.0 * rate_hz) as usize;
        // Gravity is in it, and is taken off.
        bench.write("s.csv", sine_csv(rows, rate_hz, frequency_hz, 9.81));
        let run = bench.run(&[
            "exposure",
            "s.csv",
            "--json",
            "--axis",
            axis,
            "--skip",
            "5",
            "--exposure-hours",
            "4",
        ]);
        assert_eq!((run.code, run.err.as_str()), (0, ""));
        let e = json(&run.out);
        let near = |key: &str, expected: f64, share: f64| {
            let got = e[key]
                .as_f64()
                .unwrap_or_else(|| panic!("{key} is missing"));
            assert!(
                (got / expected - 1.0).abs() < share,
                "{frequency_hz} Hz: {key} {got}, expected {expected}"
            );
        };
        let rms = factor / 2.0_f64.sqrt();
        near("weighted_rms_mps2", rms, 0.01);
        // The fourth power of a sine has the mean 3/8 of its amplitude's.
        near("vdv_mps175", factor * (0.375_f64 * 55.0).powf(0.25), 0.01);
        near("mtvv_mps2", rms, 0.02);
        near("crest_factor", 2.0_f64.sqrt(), 0.01);
        near("peak_mps2", 1.0, 0.01);
        near("mean_removed_mps2", 9.81, 0.001);
        near("a8_mps2", k * rms * 0.5_f64.sqrt(), 0.01);
        near(
            "seconds_to_action",
            28_800.0 * (0.5 / (k * rms)).powi(2),
            0.02,
        );
        near(
            "seconds_to_limit",
            28_800.0 * (1.15 / (k * rms)).powi(2),
            0.02,
        );
        assert_eq!(e["weighting"], weighting);
    }
}

#[test]
fn exposure_of_three_axes_is_that_of_the_worst() {
    let bench = Bench::new();
    let mut text = String::from("t;ax;ay;az\n");
    for i in 0..4000 {
        let t = f64::from(i) * 0.01;
        let sine = (std::f64::consts::TAU * t).sin();
        text += &format!(
            "{t:.2};{:.5};{:.5};{:.5}\n",
            0.2 * sine,
            0.5 * sine,
            0.5 * sine
        );
    }
    bench.write("xyz.csv", text);
    let args = ["exposure", "xyz.csv", "--accel", "ax,ay,az"];
    let table = bench.run(&args);
    assert_eq!(table.code, 0, "{}", table.err);
    assert!(
        table.out.lines().all(|line| line.chars().count() <= 80),
        "{}",
        table.out
    );
    let e = json(&bench.run(&[&args[..], &["--json"]].concat()).out);
    // At 1 Hz Wd is twice Wk, and y counts 1.4 times.
    assert_eq!((&e["column"], &e["axis"]), (&"ay".into(), &"y".into()));
    assert_eq!(e["channels"].as_array().map(Vec::len), Some(3));
    // A(8) is not defined for other weightings.
    let band = bench.run(&[&args[..], &["--json", "--weighting", "band"]].concat());
    let band = json(&band.out);
    assert!(band["a8_mps2"].is_null() && band["weighting"] == "band");
}

#[test]
fn floors_lists_every_floor() {
    let bench = Bench::new();
    let run = bench.run(&["floors"]);
    assert_eq!((run.code, run.err.as_str()), (0, ""));
    assert!(run.out.lines().all(|line| line.chars().count() <= 80));
    let floors = json(&bench.run(&["floors", "--json"]).out);
    let names: Vec<&str> = floors["floors"]
        .as_array()
        .unwrap()
        .iter()
        .map(|f| f["name"].as_str().unwrap())
        .collect();
    for name in [
        "sine", "steps", "chirp", "edge", "bump", "shock", "hauler", "loader", "grader", "compact",
        "crawler", "ballast", "road-a", "road-h",
    ] {
        assert!(names.contains(&name), "{name}");
        assert!(run.out.contains(&format!("  {name} ")), "{name}");
    }
}

#[test]
fn the_rig_that_is_shown_can_be_used() {
    let bench = Bench::new();
    let shown = bench.run(&["rig", "show"]);
    assert_eq!(shown.code, 0);
    bench.write("my.toml", &shown.out);
    let check = bench.run(&["rig", "check", "my.toml", "--json"]);
    assert_eq!((check.code, check.err.as_str()), (0, ""));
    assert_eq!(check.out, bench.run(&["rig", "check", "--json"]).out);
    let rig = json(&check.out);
    // 2200 N/m under 28 kg + 0.75 x 80 kg; 95 A x 35 N/A; 48 V / (35 N/A).
    let close = |value: &Value, expected: f64| {
        assert!(
            (value.as_f64().unwrap() / expected - 1.0).abs() < 1e-3,
            "{value} {expected}"
        );
    };
    close(&rig["occupants"][1]["support_hz"], 0.7958);
    close(&rig["peak_force_n"], 3325.0);
    close(&rig["no_load_mps"], 1.3714);
    // Every pole of the observer decays.
    for pole in rig["observer_poles"].as_array().unwrap() {
        assert!(pole["damping"].as_f64().unwrap() > 0.0);
    }
    assert_eq!(
        bench
            .run(&["ride", "--rig", "my.toml", "--seconds", "1", "--json"])
            .code,
        0
    );
}

#[test]
fn a_sweep_gives_table_json_csv_and_picture() {
    let bench = Bench::new();
    let args = ["sweep", "--from", "2", "--to", "16", "--points", "4"];
    let table = bench.run(&args);
    assert_eq!((table.code, table.err.as_str()), (0, ""));
    assert!(
        table.out.lines().all(|line| line.chars().count() <= 80),
        "{}",
        table.out
    );
    assert_eq!(bench.listing(), Vec::<String>::new());
    let run = bench.run(&[&args[..], &["--json", "--out", "sw"]].concat());
    assert_eq!(run.code, 0, "{}", run.err);
    let sweep = json(&run.out);
    let points = sweep["points"].as_array().unwrap();
    let frequencies: Vec<f64> = points
        .iter()
        .map(|p| p["frequency_hz"].as_f64().unwrap())
        .collect();
    for (got, expected) in frequencies.iter().zip([2.0, 4.0, 8.0, 16.0]) {
        assert!((got - expected).abs() < 1e-9);
    }
    for point in points {
        assert!((point["floor_rms_mps2"].as_f64().unwrap() - 1.0).abs() < 0.001);
        for seat in ["seat", "passive"] {
            let part = point[seat]["transmissibility"].as_f64().unwrap();
            let all = point[seat]["total_rms_ratio"].as_f64().unwrap();
            assert!(part > 0.0 && part <= all + 1e-6, "{point}");
        }
    }
    assert_eq!(bench.read("sw/sweep.csv").lines().count(), 5);
    let picture = bench.read("sw/sweep.svg");
    assert!(picture.starts_with("<svg") && picture.trim_end().ends_with("</svg>"));
    assert!(!picture.contains("NaN"));
    // Two threads or one, the same figures in the same order.
    let again = bench.run(&[&args[..], &["--json"]].concat());
    assert_eq!(json(&again.out)["points"], sweep["points"]);
}

#[test]
fn completions_name_the_commands() {
    let bench = Bench::new();
    for shell in ["bash", "zsh", "fish"] {
        let run = bench.run(&["completions", shell]);
        assert_eq!((run.code, run.err.as_str()), (0, ""));
        assert!(run.out.contains("exposure") && run.out.contains("arithmetic"));
    }
}
