//! A dossier looked at again: what it was made with, how much of it was made, and files that are no record at all.

use crate::verify::{check, fit, record, told};
use becalm_tests::dossier::{made, plan};
use host_sim::dossier::Plan;
use host_sim::dossier::verify;
use serde_json::json;

/// What was made with what, and how much of it.
#[test]
fn forged_origin_and_plan_are_found() {
    let made = made();
    let changed = |place: &str, value: &str| {
        let copy = record(made, |r| {
            *r.pointer_mut(place).expect("a place") = json!(value);
        });
        fit(copy.path());
        copy
    };
    for (place, value, words) in [
        (
            "/environment/rig_sha256",
            "0".repeat(64),
            "environment.rig_sha256: 000",
        ),
        (
            "/environment/rig",
            "another".to_owned(),
            "environment.rig: another: expected",
        ),
        (
            "/environment/becalm",
            "9.9.9".to_owned(),
            "environment.becalm: 9.9.9: expected",
        ),
        (
            "/made_by",
            "becalm 9.9.9".to_owned(),
            "made_by: becalm 9.9.9: expected",
        ),
        (
            "/plan",
            "full".to_owned(),
            "plan: full: expected one of tiny",
        ),
        (
            "/not_run/0/why",
            "tired".to_owned(),
            "not run: tired: expected not part of a tiny dossier",
        ),
    ] {
        let found = check(made, changed(place, &value).path(), 0);
        told(&found, &[words]);
    }
    // What the folder cannot show is said as it stands.
    for (place, words) in [
        (
            "/environment/compiler",
            "compiler: forged; of this program it is rustc",
        ),
        ("/environment/git", "git: forged; of this program it is "),
    ] {
        let found = check(made, changed(place, "forged").path(), 0);
        assert!(
            found.stated.iter().any(|s| s.starts_with(words)),
            "{:?}",
            found.stated
        );
        // And the page shows the record as it is.
        told(&found, &["dossier.html:"]);
    }
    // Another program's pages cannot be made again: never in silence.
    let found = check(made, changed("/environment/sources", "forged").path(), 0);
    assert_eq!(found.wrong, Vec::<String>::new());
    assert!(
        found.not_compared.len() == 1
            && found.not_compared[0].starts_with("junit.xml, dossier.html: ")
            && found.not_compared[0].contains("of the sources forged"),
        "{:?}",
        found.not_compared
    );
    // The name of a plan that has more than the raw data hold.
    let copy = changed("/plan", "full");
    let found = verify::check(
        copy.path(),
        &made.bench(),
        &[Plan::full(), Plan::quick()],
        0,
    );
    let found = found.expect("a dossier");
    for words in [
        "plan: full: rides.json: 2 rides: expected 270",
        "plan: full: events.json: 24 rides: expected 240",
        "plan: full: commission.json: 2 tests: expected 10",
        "plan: full: hunt.json: 1 hunts: expected 2",
        "plan: full: faults.json: 1 campaigns: expected 2",
        "plan: full: modes.json: not run",
    ] {
        told(&found, &[words]);
    }
}

/// One line about the rig, and nothing about rides that it would break.
#[test]
fn a_wrong_rig_is_told_as_such() {
    let made = made();
    let mut rig = made.rig.clone();
    rig.seat.empty_mass_kg += 1.0;
    let bench = host_sim::dossier::Bench {
        rig: &rig,
        ..made.bench()
    };
    let found = verify::check(made.folder.path(), &bench, &[plan()], 2).expect("a dossier");
    assert_eq!(found.wrong.len(), 1, "{:?}", found.wrong);
    told(
        &found,
        &[
            "environment.rig_sha256",
            "give the dossier's own with --rig",
        ],
    );
    assert_eq!((found.rides, found.verdicts), (0, 0));
    assert!(found.not_compared[0].contains("not the rig of this dossier"));
}

/// Line, place and field of what is no record.
#[test]
fn what_is_no_record_is_refused_with_its_place() {
    let made = made();
    for (place, name, value, words) in [
        (
            "",
            "extra",
            json!(1),
            "unknown field `extra`, expected one of `version`",
        ),
        (
            "/environment",
            "mood",
            json!("good"),
            "environment: unknown field `mood`",
        ),
        (
            "/verdicts/3",
            "grade",
            json!("A"),
            "verdicts[3]: unknown field `grade`",
        ),
        (
            "/figures/1",
            "better",
            json!("sideways"),
            "figures[1]: unknown variant `sideways`, expected `lower` or `higher`",
        ),
        (
            "/verdicts/0",
            "verdict",
            json!("fine"),
            "verdicts[0]: unknown variant `fine`",
        ),
        (
            "/not_run/0",
            "who",
            json!("I"),
            "not_run[0]: unknown field `who`",
        ),
    ] {
        let copy = record(made, |r| {
            r.pointer_mut(place).expect("a place")[name] = value.clone();
        });
        let file = copy.path().join("dossier.json");
        let said = verify::read(&file).expect_err("refused").to_string();
        assert!(
            said.contains(words) && said.contains("expected a dossier"),
            "{said}"
        );
        // The line is that of the field.
        let rest = said.split("dossier.json:").nth(1).expect("a file");
        let line: usize = rest
            .split(':')
            .next()
            .and_then(|n| n.parse().ok())
            .expect("a line");
        let text = std::fs::read_to_string(&file).expect("the record");
        let there = text.lines().nth(line - 1).expect("a line");
        assert!(there.contains(&format!("\"{name}\"")), "{line}: {there}");
    }
    let copy = record(made, |r| {
        r["verdicts"][2]
            .as_object_mut()
            .expect("a row")
            .remove("unit");
    });
    let said = verify::read(copy.path()).expect_err("refused").to_string();
    assert!(said.contains("verdicts[2]: missing field `unit`"), "{said}");
}
