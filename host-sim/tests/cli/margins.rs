//! `becalm margins`: table, record, export, map, bad input.

use crate::common::Bench;
use serde_json::Value;

#[test]
fn the_record_is_one_object_and_says_what_the_code_says() {
    let bench = Bench::new();
    let run = bench.run(&["margins", "--draws", "20", "--json", "--out", "m"]);
    let record: Value = serde_json::from_str(&run.out).unwrap();
    let worst = &record["worst"];
    let values = [
        ("gain_margin_up_db", "gain_margin_db"),
        ("gain_margin_down_db", "gain_margin_db"),
        ("phase_margin_deg", "phase_margin_deg"),
        ("disk_margin", "disk_margin"),
        ("delay_margin_s", "delay_margin_s"),
    ];
    let holds = values.iter().all(|(key, limit)| {
        assert!(
            worst["where"][key].as_str().unwrap().contains(" kg "),
            "{key}"
        );
        worst[key].as_f64().unwrap() >= record["limits"][limit].as_f64().unwrap()
    });
    let points = record["points"].as_array().unwrap();
    assert!(points.len() > 500);
    assert!(
        points
            .iter()
            .all(|p| p["largest_pole"].as_f64().unwrap() < 1.0)
    );
    assert_eq!(record["holds"].as_bool(), Some(holds));
    assert_eq!(run.code, i32::from(!holds), "{}", run.err);
    assert_eq!(run.err.contains("a limit is broken"), !holds);
    // The same worst from the points themselves.
    let lowest = |key: &str| {
        points
            .iter()
            .filter(|p| !p["doing"].as_str().unwrap().starts_with("braking"))
            .flat_map(|p| p["margins"].as_array().unwrap())
            .filter_map(|m| m[key].as_f64())
            .fold(f64::INFINITY, f64::min)
    };
    for (key, _) in values {
        assert!(
            (lowest(key) / worst[key].as_f64().unwrap() - 1.0).abs() < 1.0e-12,
            "{key}"
        );
    }
    let svg = bench.read("m/margins.svg");
    assert!(svg.starts_with("<svg") && svg.contains("occupant, kg"));
    assert!(
        bench
            .read("m/margins.json")
            .contains("\"made_by\": \"becalm ")
    );
}

#[test]
fn a_loop_is_exported_and_only_replaces_its_like() {
    let bench = Bench::new();
    let args = [
        "margins",
        "--export",
        "loop.json",
        "--doing",
        "following-late",
    ];
    for _ in 0..2 {
        let run = bench.run(&args);
        assert_eq!((run.code, run.err.as_str()), (0, ""), "{}", run.err);
    }
    let data: Value = serde_json::from_str(&bench.read("loop.json")).unwrap();
    assert_eq!(data["periods"].as_u64(), Some(2));
    assert_eq!(data["law"]["inputs"].as_array().unwrap().len(), 6);
    bench.write("mine.json", "{}\n");
    let run = bench.run(&["margins", "--export", "mine.json"]);
    assert_eq!(run.code, 2);
    assert_eq!(bench.read("mine.json"), "{}\n");
}

#[test]
fn bad_input_is_said_and_nothing_is_written() {
    let bench = Bench::new();
    for args in [
        &["margins", "--doing", "braking:2", "--export", "x.json"][..],
        &["margins", "--doing", "flying", "--export", "x.json"],
        &["margins", "--occupant", "0", "--export", "x.json"],
        &["margins", "--body", "rigid"],
        &["margins", "--draws", "-1"],
        &["margins", "--rig", "none.toml"],
    ] {
        let run = bench.run(args);
        assert_eq!(run.code, 2, "{args:?}");
        assert!(run.err.starts_with("becalm: error:"), "{}", run.err);
        assert_eq!(run.out, "");
    }
    assert_eq!(bench.listing(), Vec::<String>::new());
}
