//! Bad rig and scenario files: refused with file, line, field and what was expected.

use crate::common::Bench;
use host_sim::rig::Rig;

/// The default rig with one line of a section replaced; also gives the line's number.
fn rig_with(section: &str, key: &str, line: &str) -> (String, usize) {
    let mut now = "";
    let mut found = None;
    let mut text = String::new();
    for (i, old) in Rig::default_text().lines().enumerate() {
        if old.starts_with('[') {
            now = old;
        }
        if now == format!("[{section}]") && old.starts_with(&format!("{key} ")) {
            found = Some(i + 1);
            text += line;
        } else {
            text += old;
        }
        text.push('\n');
    }
    (text, found.expect("the default rig has the field"))
}

#[test]
fn the_default_rig_is_sound() {
    let bench = Bench::new();
    bench.write("rig.toml", Rig::default_text());
    let run = bench.run(&["rig", "check", "rig.toml"]);
    assert_eq!((run.code, run.err.as_str()), (0, ""));
    assert!(run.out.lines().all(|line| line.chars().count() <= 80));
}

#[test]
fn bad_rig_values_name_file_line_and_field() {
    let bench = Bench::new();
    for (section, key, value, words) in [
        (
            "seat",
            "empty_mass_kg",
            "-28.0",
            vec!["seat.empty_mass_kg = -28", "5 to 500 kg"],
        ),
        (
            "seat",
            "travel_m",
            "0.0",
            vec!["seat.travel_m = 0", "0.005 to 0.5 m"],
        ),
        (
            "seat",
            "travel_m",
            "nan",
            vec!["seat.travel_m = NaN", "0.005 to 0.5 m"],
        ),
        (
            "seat",
            "travel_m",
            "inf",
            vec!["seat.travel_m = inf", "0.005 to 0.5 m"],
        ),
        (
            "spring",
            "stiffness_npm",
            "-1.0",
            vec!["spring.stiffness_npm = -1", "0 to 1000000 N/m"],
        ),
        // Inverted ranges: breakaway below sliding, chopper below the supply.
        (
            "friction",
            "stiction_n",
            "1.0",
            vec!["friction.stiction_n", "at least friction.coulomb_n"],
        ),
        (
            "supply",
            "chopper_v",
            "12.0",
            vec!["supply.chopper_v", "at least supply.voltage_v"],
        ),
        (
            "timing",
            "step_s",
            "0.5",
            vec!["timing.step_s = 0.5", "0.00025 to 0.0025 s"],
        ),
        // Too fast for the plant's step, alone or with others.
        (
            "bumper",
            "damping_spm",
            "50",
            vec![
                "bumper.damping_spm = 50",
                "at most 4000 1/s",
                "seat.empty_mass_kg",
                "timing.plant_substeps",
            ],
        ),
        (
            "actuator",
            "resistance_20c_ohm",
            "90",
            vec!["actuator.resistance_20c_ohm = 90", "actuator.inductance_h"],
        ),
        (
            "spring",
            "preload_error_n",
            "1e9",
            vec!["spring.preload_error_n = 1000000000", "0 to 2000 N"],
        ),
        (
            "sensors.travel",
            "noise_rms",
            "-1",
            vec!["sensors.travel.noise_rms = -1", "0 to 1000"],
        ),
        // Refused by the firmware's own build.
        (
            "firmware.arrest",
            "braking_mps2",
            "-12.0",
            vec!["firmware.arrest.braking_mps2 = -12", "expected"],
        ),
        (
            "firmware.limit",
            "derate_to_c",
            "90.0",
            vec![
                "firmware.limit.derate_to_c = 90",
                "expected above derate_from_c",
            ],
        ),
    ] {
        let (text, line) = rig_with(section, key, &format!("{key} = {value}"));
        bench.write("rig.toml", text);
        let place = format!("rig.toml:{line}:");
        let mut words = words;
        words.push(&place);
        bench.refused(&["rig", "check", "rig.toml"], &words);
        bench.refused(&["ride", "--rig", "rig.toml", "--seconds", "1"], &words);
        bench.refused(&["sweep", "--rig", "rig.toml", "--points", "2"], &words);
    }
}

#[test]
fn bad_rig_texts_are_refused() {
    let bench = Bench::new();
    for (name, line, words) in [
        (
            "unknown",
            "travel_mm = 45",
            vec!["unknown field `travel_mm`", "expected"],
        ),
        (
            "type",
            "travel_m = \"wide\"",
            vec!["seat.travel_m: invalid type", "expected a number"],
        ),
        ("syntax", "travel_m = = 1", vec!["seat.travel_m: "]),
        ("missing", "# nothing", vec!["missing field `travel_m`"]),
    ] {
        let (text, at) = rig_with("seat", "travel_m", line);
        let file = format!("{name}.toml");
        bench.write(&file, text);
        let mut words = words;
        // A missing field is put down to the whole section.
        let place = format!("{file}:{at}:");
        if name != "missing" {
            words.push(&place);
        }
        words.push(&file);
        bench.refused(&["rig", "check", &file], &words);
    }
    bench.refused(
        &["rig", "check", "none.toml"],
        &["none.toml: cannot be read", "expected a rig"],
    );
    bench.write("binary.toml", [0xff, 0xfe, 0x00]);
    bench.refused(
        &["rig", "check", "binary.toml"],
        &["binary.toml: cannot be read"],
    );
    bench.write("empty.toml", "");
    bench.refused(
        &["rig", "check", "empty.toml"],
        &["empty.toml", "missing field"],
    );
}

#[test]
fn bad_scenarios_name_file_line_column_and_field() {
    let bench = Bench::new();
    for (text, place, words) in [
        (
            "occupant_kg = -80.0\n",
            "1:15",
            vec!["occupant_kg = -80", "20 to 200 kg"],
        ),
        (
            "\nseconds = 0\n",
            "2:11",
            vec!["seconds = 0", "0.1 to 1000000 s"],
        ),
        ("seconds = nan\n", "1:11", vec!["seconds = NaN", "expected"]),
        (
            "seconds = \"long\"\n",
            "1:11",
            vec!["seconds: ", "expected a number"],
        ),
        (
            "bdoy = \"rigid\"\n",
            "1:1",
            vec!["unknown field `bdoy`", "expected one of"],
        ),
        (
            "body = \"three-mass\"\n",
            "1:8",
            vec!["body: ", "`three-mass`", "`two-mass`"],
        ),
        (
            "arithmetic = \"f16\"\n",
            "1:14",
            vec!["arithmetic: ", "`f16`"],
        ),
        (
            "[floor]\nlevel = 1e9\n",
            "2:9",
            vec!["floor.level = 1000000000", "0 to 100"],
        ),
        (
            "[floor]\nseed = -1\n",
            "2:8",
            vec!["floor.seed: ", "whole number"],
        ),
        (
            "[floor]\nname = 7\n",
            "2:8",
            vec!["floor.name: ", "expected"],
        ),
        (
            "[floor]\nspeed = 7\n",
            "2:1",
            vec!["unknown field `speed`", "speed_mps"],
        ),
        (
            "[[changes]]\nat_s = 9\noccupant_kg = 0\n[[changes]]\nat_s = 3\noccupant_kg = 60\n",
            "5:8",
            vec!["changes.at_s = 3", "in order"],
        ),
        (
            "[[changes]]\nat_s = 9\noccupant_kg = -4\n",
            "3:15",
            vec!["changes.occupant_kg = -4", "0 for nobody"],
        ),
        (
            "rig = \"none.toml\"\n",
            "1:7",
            vec!["rig: ", "none.toml", "No such file"],
        ),
        (
            "[floor]\nname = \"none.csv\"\n",
            "2:8",
            vec!["floor.name: ", "none.csv"],
        ),
        (
            "include = \"none.toml\"\n",
            "1:11",
            vec!["include: ", "none.toml", "No such file"],
        ),
        ("seconds = = 1\n", "1:11", vec!["s.toml"]),
    ] {
        bench.write("s.toml", text);
        let place = format!("s.toml:{place}: ");
        let mut words = words;
        words.push(&place);
        bench.refused(&["ride", "--scenario", "s.toml"], &words);
        bench.refused(&["ride", "--scenario", "s.toml", "--json"], &words);
    }
    bench.refused(
        &["ride", "--scenario", "none.toml"],
        &["none.toml: cannot be read"],
    );
    bench.write("s.toml", "[floor]\nname = \"moon\"\n");
    bench.refused(
        &["ride", "--scenario", "s.toml"],
        &["unknown floor 'moon'", "expected one of"],
    );
    bench.write("s.toml", "[[changes]]\nat_s = 90\noccupant_kg = 0\n");
    bench.refused(
        &["ride", "--scenario", "s.toml"],
        &["changes.at_s = 90", "within the ride"],
    );
}

#[test]
fn includes_that_go_in_a_circle_are_refused() {
    let bench = Bench::new();
    bench.write("a.toml", "seconds = 1\ninclude = \"sub/b.toml\"\n");
    bench.write("sub/b.toml", "include = \"../c.toml\"\n");
    bench.write("c.toml", "include = \"a.toml\"\n");
    bench.refused(
        &["ride", "--scenario", "a.toml"],
        &[
            "c.toml:1:11: include: goes in a circle",
            "a.toml includes b.toml includes c.toml includes a.toml",
            "expected",
        ],
    );
    bench.write("self.toml", "include = \"self.toml\"\n");
    bench.refused(
        &["ride", "--scenario", "self.toml"],
        &["self.toml includes self.toml"],
    );
}
