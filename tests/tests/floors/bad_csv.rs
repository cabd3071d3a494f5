//! Every bad recording is refused with file, line, field and what was expected.

use host_sim::floor::{AccelUnit, Column, ColumnChoice, FloorSpec, build, read_columns};
use proptest::prelude::*;
use std::fs;
use std::path::{Path, PathBuf};

/// Writes an invented file for one test.
fn file(name: &str, content: &[u8]) -> PathBuf {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("floors-{name}.csv"));
    fs::write(&path, content).unwrap();
    path
}

fn refusal(path: &Path, choice: &ColumnChoice) -> String {
    match read_columns(path, choice) {
        Ok(columns) => panic!("{} was accepted: {columns:?}", path.display()),
        Err(error) => error.to_string(),
    }
}

fn choice(time: Option<&str>, accel: &str, unit: AccelUnit) -> ColumnChoice {
    ColumnChoice {
        time: time.map(Column::from),
        accel: vec![Column::from(accel)],
        unit,
    }
}

/// A sound file of `rows` rows at 100 Hz, with `bad` in place of the row on line 8.
fn with_row(bad: &str) -> String {
    let mut text = String::from("# invented\ntime,accel\n");
    for i in 0..20 {
        if i == 5 {
            text += bad;
            text += "\n";
        } else {
            text += &format!(
                "{:.2},{:.3}\n",
                f64::from(i) * 0.01,
                (f64::from(i) * 0.4).sin()
            );
        }
    }
    text
}

#[test]
fn bad_rows_name_line_and_field() {
    for (name, row, words) in [
        (
            "word",
            "0.05,fast",
            vec!["column 'accel'", "'fast'", "a number with a decimal point"],
        ),
        (
            "empty-field",
            "0.05,",
            vec!["column 'accel'", "''", "a number"],
        ),
        (
            "nan",
            "0.05,NaN",
            vec!["column 'accel'", "'NaN'", "a finite number"],
        ),
        ("infinite", "0.05,-inf", vec!["'-inf'", "a finite number"]),
        ("overflow", "0.05,1e999", vec!["'1e999'", "a finite number"]),
        (
            "huge",
            "0.05,1e300",
            vec!["column 'accel'", "at most 200 m/s2"],
        ),
        (
            "big",
            "0.05,-201",
            vec!["at most 200 m/s2", "is the unit right?"],
        ),
        ("time-word", "now,0.1", vec!["column 'time'", "'now'"]),
        (
            "time-nan",
            "nan,0.1",
            vec!["column 'time'", "a finite number"],
        ),
        (
            "duplicate",
            "0.04,0.1",
            vec!["column 'time'", "time 0.04 s after 0.04 s", "rising time"],
        ),
        (
            "backwards",
            "0.01,0.1",
            vec!["time 0.01 s after 0.04 s", "rising time"],
        ),
        ("short", "0.05", vec!["1 fields", "expected 2"]),
        ("long", "0.05,0.1,0.2", vec!["3 fields", "expected 2"]),
    ] {
        let path = file(name, with_row(row).as_bytes());
        let message = refusal(&path, &ColumnChoice::default());
        // Line 1 is the comment, line 2 the header, so row 5 stands on line 8.
        let place = format!("{}:8: ", path.display());
        assert!(message.starts_with(&place), "{name}: {message}");
        for word in words {
            assert!(
                message.contains(word),
                "{name}: \"{message}\" lacks \"{word}\""
            );
        }
        // The floor refuses it in the same words.
        let spec = FloorSpec::named(&path.display().to_string());
        assert_eq!(build(&spec, 1000.0).err().unwrap().to_string(), message);
    }
    assert!(
        read_columns(
            &file("good", with_row("0.05,0.1").as_bytes()),
            &ColumnChoice::default()
        )
        .is_ok()
    );
}

#[test]
fn bad_files() {
    let default = ColumnChoice::default();
    let missing = Path::new("/nowhere/ride.csv");
    assert!(refusal(missing, &default).starts_with("/nowhere/ride.csv: cannot be read"));
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR"));
    assert!(refusal(folder, &default).contains("cannot be read"));
    let rows = |step_s: f64| -> String {
        (0..50)
            .map(|i| format!("{},{}\n", f64::from(i) * step_s, f64::from(i % 3) - 1.0))
            .collect()
    };
    for (name, content, words) in [
        (
            "empty",
            String::new(),
            vec!["no data", "rows of time and acceleration"],
        ),
        ("comments", "# nothing\n\n#\n".into(), vec!["no data"]),
        ("header", "time,accel\n".into(), vec!["no data"]),
        (
            "single",
            "time,accel\n0,1.5\n".into(),
            vec![":2: only one row", "at least two"],
        ),
        (
            "gap",
            format!("{}{}", rows(0.01), "0.56,0\n"),
            vec![":51: gap of 0.07", "five median steps"],
        ),
        (
            "milliseconds",
            rows(1.0),
            vec!["1.0000 rows a second", "is time in seconds?"],
        ),
        (
            "nanoseconds",
            rows(1e-9),
            vec!["rows a second", "10 to 1000000"],
        ),
        (
            "one-column",
            "time\n0\n0.01\n".into(),
            vec![":1: expected a column of acceleration", "'time'"],
        ),
        (
            "three-columns",
            "time,x,y\n0,1,2\n".into(),
            vec!["of acceleration", "'time', 'x', 'y'"],
        ),
        (
            "three-bare",
            "0,1,2\n0.1,1,2\n".into(),
            vec!["columns 1 to 3 without a header"],
        ),
        (
            "first-row",
            "0,x\n0.01,1\n".into(),
            vec![":1: column column 2: 'x'"],
        ),
    ] {
        let path = file(name, content.as_bytes());
        let message = refusal(&path, &default);
        assert!(
            message.starts_with(&path.display().to_string()),
            "{name}: {message}"
        );
        for word in words {
            assert!(
                message.contains(word),
                "{name}: \"{message}\" lacks \"{word}\""
            );
        }
    }
    let binary = file("binary", b"time,accel\n0,1\n0.01,\xff\xfe\n");
    assert!(refusal(&binary, &default).contains(":3: not a line of text"));
    let endless = file("endless", &vec![b'1'; 3_000_000]);
    assert!(refusal(&endless, &default).contains(":1: not a line of text"));
}

#[test]
fn bad_columns() {
    let three = file(
        "columns",
        b"time [s],ax [m/s2],az [g],az [m/s2]\n0,1,0.1,2\n0.01,2,0.2,1\n0.02,1,0.3,2\n",
    );
    let mps2 = AccelUnit::Mps2;
    for (time, accel, unit, words) in [
        (
            None,
            "ay",
            mps2,
            vec![":1: expected a column 'ay'", "'time [s]', 'ax [m/s2]'"],
        ),
        (None, "7", mps2, vec!["expected a column number 7"]),
        (None, "0", mps2, vec!["expected a column number 0"]),
        (
            None,
            "1",
            mps2,
            vec!["of acceleration besides the time column 'time [s]'"],
        ),
        (Some("clock"), "ax", mps2, vec!["expected a column 'clock'"]),
        (None, "az", mps2, vec!["expected a column 'az' only once"]),
        (
            None,
            "3",
            mps2,
            vec![
                "column 'az [g]'",
                "unit m/s2 was given",
                "header gives another unit",
            ],
        ),
        (
            None,
            "ax",
            AccelUnit::G,
            vec!["column 'ax [m/s2]'", "unit g was given"],
        ),
    ] {
        let message = refusal(&three, &choice(time, accel, unit));
        for word in words {
            assert!(message.contains(word), "\"{message}\" lacks \"{word}\"");
        }
    }
    assert!(read_columns(&three, &choice(None, "az [m/s2]", mps2)).is_ok());
    assert!(read_columns(&three, &choice(Some("1"), "3", AccelUnit::G)).is_ok());
}

/// A wrong unit shows in the mean when gravity is included, or in the size.
#[test]
fn wrong_units() {
    let rows = |mean: f64, swing: f64| -> String {
        let row = |i: i32| {
            format!(
                "{},{}\n",
                f64::from(i) * 0.01,
                mean + swing * f64::from(i % 3 - 1)
            )
        };
        (0..60).map(row).collect()
    };
    let g = ColumnChoice {
        unit: AccelUnit::G,
        ..ColumnChoice::default()
    };
    let in_g = file("in-g", rows(1.0, 0.1).as_bytes());
    let message = refusal(&in_g, &ColumnChoice::default());
    assert!(
        message.contains("unit m/s2 was given") && message.contains("gravity in g"),
        "{message}"
    );
    assert!(read_columns(&in_g, &g).is_ok());
    let in_mps2 = file("in-mps2", rows(9.81, 1.0).as_bytes());
    let message = refusal(&in_mps2, &g);
    assert!(
        message.contains("unit g was given") && message.contains("gravity in m/s2"),
        "{message}"
    );
    assert!(read_columns(&in_mps2, &ColumnChoice::default()).is_ok());
    let large = file("large", rows(0.0, 25.0).as_bytes());
    assert!(refusal(&large, &g).contains("at most 200 m/s2"));
}

/// Forms of CSV that are accepted: byte-order mark, Windows line ends, semicolons, tabs, quotes.
#[test]
fn accepted_forms() {
    let values = |content: &[u8], name: &str| {
        read_columns(&file(name, content), &ColumnChoice::default())
            .unwrap_or_else(|error| panic!("{error}"))
            .accel_mps2
    };
    let wanted = vec![vec![0.5, -0.25, 3.0]];
    assert_eq!(
        values(
            b"\xef\xbb\xbftime,accel\r\n0,0.5\r\n0.01,-0.25\r\n0.02,3\r\n",
            "mark"
        ),
        wanted
    );
    assert_eq!(values(b"0;0.5\n0.01;-0.25\n\n0.02;3", "semicolons"), wanted);
    assert_eq!(
        values(
            b"t\tother\ta\n0\tx\t0.5\n0.01\t\t-0.25\n0.02\tz\t3e0\n",
            "tabs"
        ),
        wanted
    );
    assert_eq!(
        values(
            b"\"note, long\",time,acc\n\"a,b\",0, 0.5\n\"\"\"\",0.01,-0.25\n,0.02,3\n",
            "quotes"
        ),
        wanted
    );
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    /// Whatever stands in the file or the name: an answer or an error, never a panic.
    #[test]
    fn nothing_panics(
        text in "([-0-9.,;\\t\"#a()\\[\\]e\n]|nan|inf|time|accel){0,200}",
        bytes in proptest::collection::vec(any::<u8>(), 0..200),
        name in "(edge|sine|steps|chirp|bump|shock|road-a|x)?:?([a-z]{1,6}=[-0-9.e]{0,8},?){0,3}",
        place in 0_usize..4,
    ) {
        for content in [text.as_bytes(), &bytes] {
            let path = file("random", content);
            let choice = ColumnChoice { accel: vec![Column::Number(place)], ..ColumnChoice::default() };
            if let Ok(columns) = read_columns(&path, &choice) {
                prop_assert!(columns.accel_mps2[0].iter().all(|a| a.is_finite()));
                prop_assert!(columns.sample_rate_hz > 0.0);
            }
            if let Ok(mut source) = build(&FloorSpec::named(&path.display().to_string()), 1000.0) {
                prop_assert!((0..100).all(|_| source.next_accel().is_finite()));
            }
        }
        if let Ok(mut source) = build(&FloorSpec::named(&name), 1000.0) {
            prop_assert!((0..100).all(|_| source.next_accel().is_finite()));
        }
    }
}
