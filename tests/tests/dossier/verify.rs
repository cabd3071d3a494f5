//! A dossier looked at again: every way of forging one is found, with checksums made to fit it, and is told once, with file,
//! field, what stands there and what was expected.

use becalm_tests::dossier::{Made, made, plan};
use host_sim::dossier::checksums;
use host_sim::dossier::verify::{self, Checked};
use host_sim::limits;
use serde_json::{Value, json};
use std::path::Path;
use tempfile::TempDir;

pub(crate) fn check(made: &Made, folder: &Path, rides: usize) -> Checked {
    verify::check(folder, &made.bench(), &[plan()], rides).expect("a dossier")
}

/// Checksums that fit what is there, of the files that are listed.
pub(crate) fn fit(folder: &Path) {
    let path = folder.join(checksums::FILE);
    let sums = std::fs::read_to_string(&path).expect("checksums");
    let fitted: String = sums
        .lines()
        .map(|line| line.split_once("  ").expect("a line").1)
        .filter_map(|name| {
            Some(checksums::line(
                name,
                &std::fs::read(folder.join(name)).ok()?,
            ))
        })
        .collect();
    std::fs::write(path, fitted).expect("checksums");
}

/// A copy with one file rewritten.
pub(crate) fn text(made: &Made, file: &str, change: impl Fn(&str) -> String) -> TempDir {
    let copy = made.copy();
    let path = copy.path().join(file);
    let old = std::fs::read_to_string(&path).expect("the file");
    let new = change(&old);
    assert_ne!(old, new, "{file}");
    std::fs::write(&path, new).expect("the file");
    copy
}

/// A copy with another record.
pub(crate) fn record(made: &Made, change: impl Fn(&mut Value)) -> TempDir {
    text(made, "dossier.json", |old| {
        let mut record: Value = serde_json::from_str(old).expect("JSON");
        change(&mut record);
        serde_json::to_string_pretty(&record).expect("JSON") + "\n"
    })
}

pub(crate) fn told(checked: &Checked, words: &[&str]) {
    let found = checked
        .wrong
        .iter()
        .any(|w| words.iter().all(|word| w.contains(word)));
    assert!(found, "{words:?}: {:?}", checked.wrong);
}

#[test]
fn a_sound_dossier_agrees() {
    let made = made();
    let sound = check(made, made.folder.path(), 1);
    let none: Vec<String> = Vec::new();
    assert_eq!((&sound.wrong, &sound.not_compared), (&none, &none));
    assert_eq!((sound.rides, sound.of_rides), (1, 2));
    assert_eq!(sound.verdicts, limits::register().limits.len());
    assert_eq!(sound.figures, made.dossier.figures.len());
    let sums = std::fs::read_to_string(made.folder.path().join(checksums::FILE));
    assert_eq!(sound.files, sums.expect("checksums").lines().count());
    // What nothing shows is said.
    for name in [
        "compiler: ",
        "git: ",
        "raw data that are not measured again: ",
    ] {
        let lines = sound.stated.iter().filter(|s| s.starts_with(name));
        assert_eq!(lines.count(), 1, "{name}: {:?}", sound.stated);
    }
}

/// Without new checksums every file tells of itself.
#[test]
fn another_content_is_found() {
    let made = made();
    for file in ["rides.json", "dossier.json", "junit.xml", "dossier.html"] {
        let copy = text(made, file, |old| old.to_owned() + " ");
        told(
            &check(made, copy.path(), 0),
            &[&format!("{file}: another content: SHA-256")],
        );
    }
    let copy = made.copy();
    std::fs::remove_file(copy.path().join("hunt.json")).expect("a file");
    let found = check(made, copy.path(), 0);
    told(&found, &["hunt.json: cannot be read"]);
    assert!(found.not_compared[0].contains("raw data are missing"));
    let empty = tempfile::tempdir().expect("a folder");
    let said = verify::check(empty.path(), &made.bench(), &[plan()], 0);
    let said = said.expect_err("refused").to_string();
    assert!(
        said.contains("dossier.json: cannot be read") && said.contains("expected a dossier"),
        "{said}"
    );
}

/// Files that are not listed, twice listed, or strangers.
#[test]
fn the_list_of_files_is_whole() {
    let made = made();
    let sums = |change: fn(&str) -> String| text(made, checksums::FILE, change);
    let copy = sums(|old| {
        let kept = old.lines().filter(|l| !l.ends_with("dossier.html"));
        kept.map(|l| format!("{l}\n")).collect()
    });
    std::fs::write(copy.path().join("dossier.html"), "all is well").expect("a file");
    told(
        &check(made, copy.path(), 0),
        &["SHA256SUMS: no line of dossier.html: expected one for every file"],
    );
    let copy = sums(|old| old.to_owned() + old.lines().next().expect("a line") + "\n");
    told(&check(made, copy.path(), 0), &["expected one line a file"]);
    let copy = sums(|_| String::new());
    told(&check(made, copy.path(), 0), &["no line of junit.xml"]);
    let copy = made.copy();
    std::fs::write(copy.path().join("opinion.pdf"), "fine").expect("a file");
    told(
        &check(made, copy.path(), 0),
        &["opinion.pdf: is no part of this dossier"],
    );
    // A listed stranger, and raw data of a stage that was not run.
    let listed = std::fs::read_to_string(copy.path().join(checksums::FILE)).expect("checksums");
    let more = listed + &checksums::line("opinion.pdf", b"fine");
    std::fs::write(copy.path().join(checksums::FILE), more).expect("checksums");
    told(
        &check(made, copy.path(), 0),
        &["opinion.pdf: expected no such file in this dossier"],
    );
    std::fs::write(copy.path().join("modes.json"), "{}").expect("a file");
    told(
        &check(made, copy.path(), 0),
        &["modes.json: is no part of this dossier"],
    );
}

/// Checksums made to fit: page and report still do not follow from the record, nor raw data from the rides.
#[test]
fn forged_pages_and_raw_data_are_found() {
    let made = made();
    for (file, old, new, words) in [
        (
            "dossier.html",
            " limits hold",
            " limits hold indeed",
            "dossier.html:",
        ),
        ("junit.xml", "failures=\"", "failures=\"0", "junit.xml:2: `"),
        // A figure that judges, and one that no figure is made of.
        (
            "rides.json",
            "\"seat_value\":0.",
            "\"seat_value\":0.0",
            "figure rides.seat-value",
        ),
        (
            "rides.json",
            "\"seat_value_passive\":",
            "\"seat_value_passive\":1",
            "summary.seat_value_passive: 1",
        ),
        (
            "rides.json",
            "\"command\":\"becalm ride",
            "\"command\":\"becalm  ride",
            "plan: tiny: rides.json: `becalm  ride",
        ),
    ] {
        let copy = text(made, file, |text| text.replacen(old, new, 1));
        fit(copy.path());
        let found = check(made, copy.path(), 2);
        told(&found, &[words, "expected"]);
        assert!(!found.wrong.iter().any(|w| w.contains("SHA-256")));
    }
}

/// Every field of a verdict, and the list of them.
#[test]
fn forged_verdicts_are_found() {
    let made = made();
    let at = made
        .dossier
        .verdicts
        .iter()
        .position(|v| v.margin.is_some());
    let at = at.expect("one that is measured");
    let id = made.dossier.verdicts[at].limit.clone();
    for (field, value) in [
        ("protects", json!("nobody")),
        ("value", json!(1.0e6)),
        ("unit", json!("furlongs")),
        ("sense", json!("about")),
        ("source", json!("ISO 0")),
        ("measured", json!(0.125)),
        ("margin", json!(12.5)),
        ("verdict", json!("by-tests")),
        ("figure", json!("rides.other")),
        ("evidence", json!("modes.json")),
        ("command", json!("true")),
        ("why", json!("because")),
        ("enforced", json!(["nowhere: nothing"])),
        ("demonstrated", json!(["no::test"])),
        ("judged", json!(["no::test"])),
    ] {
        let copy = record(made, |r| r["verdicts"][at][field] = value.clone());
        fit(copy.path());
        let found = check(made, copy.path(), 0);
        told(
            &found,
            &[&format!("dossier.json: limit {id}: {field}"), "expected"],
        );
    }
    for (change, words) in [
        (
            (|rows| {
                let mut row = rows[0].clone();
                row["limit"] = json!("invented-limit");
                rows.push(row);
            }) as fn(&mut Vec<Value>),
            "limit invented-limit: expected none of that name",
        ),
        (|rows| rows.push(rows[0].clone()), "twice: expected once"),
        (
            |rows| {
                rows.remove(0);
            },
            "missing: expected one of each",
        ),
        (|rows| rows.swap(0, 1), "limit: expected another order"),
    ] {
        let copy = record(made, |r| {
            change(r["verdicts"].as_array_mut().expect("a list"))
        });
        fit(copy.path());
        told(&check(made, copy.path(), 0), &[words]);
    }
}

/// The last digit of a figure, and both numbers with it.
#[test]
fn differences_show_every_digit() {
    let made = made();
    let value = made.dossier.figures[0].value.expect("a number");
    let copy = record(made, |r| r["figures"][0]["value"] = json!(value.next_up()));
    fit(copy.path());
    let found = check(made, copy.path(), 0);
    let id = &made.dossier.figures[0].id;
    let words = format!(
        "dossier.json: figure {id}: value: {}: expected {value}",
        value.next_up()
    );
    told(&found, &[&words]);
    // Each thing once.
    let mut once = found.wrong.clone();
    once.sort();
    once.dedup();
    assert_eq!(once.len(), found.wrong.len());
}
