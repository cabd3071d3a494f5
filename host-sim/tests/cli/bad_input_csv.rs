//! Bad recordings: refused by `ride` and by `exposure` alike, with file, line and
//! field, and what was expected.

use crate::common::{Bench, sine_csv};

/// A sound recording with `row` in place of line 8.
fn with_row(row: &str) -> String {
    let sound = sine_csv(200, 100.0, 2.0, 0.0);
    let lines: Vec<&str> = sound.lines().collect();
    let mut text = String::new();
    for (i, line) in lines.iter().enumerate() {
        text += if i == 7 { row } else { line };
        text.push('\n');
    }
    text
}

fn refused_by_both(bench: &Bench, file: &str, words: &[&str]) {
    bench.refused(&["ride", "--floor", file], words);
    bench.refused(&["ride", "--floor", file, "--json"], words);
    bench.refused(&["exposure", file], words);
    bench.refused(&["exposure", file, "--json"], words);
}

#[test]
fn a_missing_file_is_named() {
    let bench = Bench::new();
    refused_by_both(
        &bench,
        "none.csv",
        &["none.csv: cannot be read", "No such file"],
    );
    // A folder in its place.
    bench.write("dir.csv/x", "");
    refused_by_both(&bench, "dir.csv", &["dir.csv: cannot be read"]);
}

#[test]
fn files_without_rows_are_refused() {
    let bench = Bench::new();
    for (name, content, words) in [
        ("empty", "", vec!["empty.csv: no data", "expected rows"]),
        ("blank", "\n\n# note\n", vec!["blank.csv: no data"]),
        ("header", "time,accel\n", vec!["header.csv: no data"]),
        (
            "single",
            "time,accel\n0,1\n",
            vec!["single.csv:2: only one row", "expected at least two"],
        ),
    ] {
        bench.write(&format!("{name}.csv"), content);
        refused_by_both(&bench, &format!("{name}.csv"), &words);
    }
}

#[test]
fn bad_rows_are_refused() {
    let bench = Bench::new();
    for (name, row, words) in [
        (
            "word",
            "0.06,fast",
            vec!["column 'accel'", "'fast'", "expected a number"],
        ),
        (
            "nan",
            "0.06,NaN",
            vec!["column 'accel'", "'NaN'", "expected a finite number"],
        ),
        (
            "infinite",
            "0.06,inf",
            vec!["'inf'", "expected a finite number"],
        ),
        (
            "huge",
            "0.06,1e200",
            vec!["column 'accel'", "expected at most 200 m/s2"],
        ),
        (
            "over",
            "0.06,1e999",
            vec!["'1e999'", "expected a finite number"],
        ),
        (
            "unsorted",
            "0.01,0.5",
            vec!["column 'time'", "expected rising time"],
        ),
        ("comma", "0,06,0,5", vec!["4 fields", "expected 2"]),
    ] {
        let file = format!("{name}.csv");
        bench.write(&file, with_row(row));
        let mut words = words;
        let place = format!("{file}:8: ");
        words.push(&place);
        refused_by_both(&bench, &file, &words);
    }
}

#[test]
fn wrong_units_and_columns_are_refused() {
    let bench = Bench::new();
    // Gravity of 1.0 read as m/s2: the recording is in g.
    bench.write("in_g.csv", sine_csv(400, 100.0, 2.0, 1.0));
    refused_by_both(
        &bench,
        "in_g.csv",
        &["unit m/s2", "gravity in g", "expected"],
    );
    bench.write("head.csv", "time [s],accel [g]\n0,0\n0.01,0\n0.02,0\n");
    refused_by_both(
        &bench,
        "head.csv",
        &["head.csv:1", "the header gives another unit"],
    );
    bench.write("milli.csv", "time,accel\n0,0\n1,0\n2,0\n3,0\n");
    refused_by_both(&bench, "milli.csv", &["is time in seconds?"]);

    bench.write("good.csv", sine_csv(400, 100.0, 2.0, 0.0));
    for (args, words) in [
        (
            vec!["--accel", "az"],
            vec!["good.csv:1", "'az'", "'time', 'accel'"],
        ),
        (vec!["--time", "9"], vec!["number 9"]),
        (vec!["--unit", "ft"], vec!["--unit", "expected m/s2 or g"]),
        (vec!["--weighting", "a"], vec!["--weighting", "expected wk"]),
        (vec!["--axis", "x,y"], vec!["--axis: 2 given for 1"]),
        (
            vec!["--exposure-hours", "25"],
            vec!["--exposure-hours", "0 to 24"],
        ),
        (
            vec!["--exposure-hours", "nan"],
            vec!["--exposure-hours", "0 to 24"],
        ),
        (vec!["--skip", "10"], vec!["good.csv", "no sample"]),
    ] {
        let mut all = vec!["exposure", "good.csv"];
        all.extend(args);
        bench.refused(&all, &words);
    }
    bench.refused(
        &["ride", "--floor", "good.csv:unit=stone"],
        &["good.csv", "'unit'", "'stone'", "expected"],
    );
}
