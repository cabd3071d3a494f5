//! Two dossiers or rides, figure by figure, by hand.

use host_sim::compare::noise::{Basis, band};
use host_sim::compare::{Comparison, Subject, text};
use host_sim::dossier::record::{NotRun, judge};
use host_sim::dossier::{Better, Figure, Over, Verdict};
use host_sim::limits;
use std::path::PathBuf;

pub(crate) fn figure(id: &str, over: Over, seeds: &[f64]) -> Figure {
    let mean = seeds.iter().sum::<f64>() / seeds.len() as f64;
    let most = seeds.iter().copied().fold(f64::MIN, f64::max);
    Figure {
        id: id.to_owned(),
        value: Some(if over == Over::Mean { mean } else { most }),
        unit: "1".to_owned(),
        better: Better::Lower,
        over,
        seeds: if over == Over::Nothing {
            Vec::new()
        } else {
            seeds.to_vec()
        },
        evidence: "rides.json".to_owned(),
        command: "becalm ride".to_owned(),
    }
}

/// A side with these figures and the verdicts of the whole register on them.
fn side(name: &str, figures: &[Figure]) -> Subject {
    let not_run: [NotRun; 0] = [];
    Subject {
        path: PathBuf::from(name),
        kind: "quick".to_owned(),
        figures: figures.to_vec(),
        verdicts: limits::register()
            .limits
            .iter()
            .map(|l| judge(l, figures, &not_run))
            .collect(),
        about: String::new(),
        rig: None,
        ride: Vec::new(),
    }
}

pub(crate) fn compare(a: &[Figure], b: &[Figure]) -> Comparison {
    Comparison::of(&side("a", a), &side("b", b)).expect("the same plan")
}

/// Means over three seeds that spread by 1: sqrt(1/3 + 1/3), twice. That is the band where the seeds are not the same, as
/// their number tells: then sqrt(1/3 + 1/4), twice.
// Demonstrates: compare-deviations
#[test]
fn the_band_follows_the_seeds() {
    let a = figure("rides.x", Over::Mean, &[1.0, 2.0, 3.0]);
    let b = figure("rides.x", Over::Mean, &[2.0, 3.0, 4.0]);
    let by_hand = 2.0 * (2.0_f64 / 3.0).sqrt();
    assert!((band(&a, &b) - by_hand).abs() < 1.0e-12);
    // Without seeds only roundings are noise.
    let fixed = figure("rides.x", Over::Nothing, &[5.0]);
    assert!((band(&fixed, &fixed) - 5.0e-6).abs() < 1.0e-12);
    let by_hand = 2.0 * (1.0_f64 / 3.0 + 0.25).sqrt();
    for (shift, name) in [
        (by_hand - 0.01, "within"),
        (by_hand + 0.01, "worse"),
        (-by_hand - 0.01, "better"),
    ] {
        // 1.5 and 2.5 have a variance of 1/2, their mean one of 1/4.
        let moved = figure("rides.x", Over::Mean, &[1.5 + shift, 2.5 + shift]);
        let c = compare(std::slice::from_ref(&a), &[moved]);
        let found = [
            ("within", &c.within_noise),
            ("worse", &c.worse),
            ("better", &c.better),
        ];
        for (other, changes) in found {
            assert_eq!(changes.len(), usize::from(other == name), "{name} {other}");
            for change in changes {
                assert_eq!(change.basis, Some(Basis::OtherSeeds));
                assert_eq!(change.by_seed, None);
                assert!((change.noise - by_hand).abs() < 1.0e-12);
            }
        }
        assert_eq!(c.regression, name == "worse");
        assert!(text::table(&c, true).contains("other seeds: by the spread of each side"));
    }
}

/// Counts of the same cases from the same seeds: one more is one more. The same to the last bit is said to be the same.
#[test]
fn counts_have_no_noise_and_the_same_is_the_same() {
    let count = |over, seeds: &[f64]| Figure {
        unit: "count".to_owned(),
        ..figure("faults.broken-cases", over, seeds)
    };
    for (over, before, after) in [
        (Over::Mean, &[106.0, 97.0][..], &[106.0, 98.0][..]),
        (Over::Worst, &[106.0, 97.0], &[107.0, 97.0]),
        // The worst is as it was, one of the others is not.
        (Over::Worst, &[106.0, 97.0], &[106.0, 98.0]),
        (Over::Nothing, &[14.0], &[15.0]),
    ] {
        let (a, b) = (count(over, before), count(over, after));
        let c = compare(std::slice::from_ref(&a), std::slice::from_ref(&b));
        assert_eq!(c.worse.len(), 1, "{over:?}");
        assert_eq!(c.worse[0].basis, Some(Basis::Exact));
        assert!(text::table(&c, false).contains("any"));
        assert_eq!(
            compare(std::slice::from_ref(&b), std::slice::from_ref(&a))
                .better
                .len(),
            1
        );
        let c = compare(std::slice::from_ref(&a), std::slice::from_ref(&a));
        assert_eq!((c.same.len(), c.within_noise.len()), (1, 0));
        assert!(c.in_short().ends_with("0 within noise, 1 the same"));
    }
    // Of other seeds counts spread as counts do: by hand 2 sqrt(100/1 + 100/2) is 24.5.
    let a = count(Over::Mean, &[100.0]);
    for (more, worse) in [(24.0, 0), (26.0, 1)] {
        let b = count(Over::Mean, &[100.0 + more, 100.0 + more]);
        assert_eq!(compare(std::slice::from_ref(&a), &[b]).worse.len(), worse);
    }
}

/// The larger, the better: the other way round. A figure without bound is worse than any number.
#[test]
fn better_and_worse_follow_the_sense() {
    let mut share = figure("faults.coverage", Over::Nothing, &[0.5]);
    share.better = Better::Higher;
    let more = Figure {
        value: Some(0.6),
        ..share.clone()
    };
    assert_eq!(
        compare(std::slice::from_ref(&share), std::slice::from_ref(&more))
            .better
            .len(),
        1
    );
    assert_eq!(
        compare(&[more], std::slice::from_ref(&share)).worse.len(),
        1
    );
    let never = Figure {
        value: None,
        ..share.clone()
    };
    assert_eq!(
        compare(std::slice::from_ref(&share), std::slice::from_ref(&never))
            .worse
            .len(),
        1
    );
    assert_eq!(
        compare(std::slice::from_ref(&never), std::slice::from_ref(&share))
            .better
            .len(),
        1
    );
    assert!(!compare(std::slice::from_ref(&never), std::slice::from_ref(&never)).regression);
}

#[test]
fn what_is_gone_is_a_regression_and_what_is_new_is_none() {
    let (a, b) = (
        figure("rides.x", Over::Nothing, &[1.0]),
        figure("rides.y", Over::Nothing, &[1.0]),
    );
    let c = compare(std::slice::from_ref(&a), &[a.clone(), b.clone()]);
    assert_eq!((c.new.len(), c.gone.len(), c.regression), (1, 0, false));
    let c = compare(&[a.clone(), b], std::slice::from_ref(&a));
    assert_eq!((c.new.len(), c.gone.len(), c.regression), (0, 1, true));
}

/// A limit that held and is broken comes first and is a regression, however small the step; one that was broken before is
/// listed and is none.
#[test]
fn broken_limits_come_first() {
    let limit = limits::register()
        .find("peak-current")
        .expect("a limit")
        .value;
    let at = |value: f64, coverage: f64| {
        let current = figure("certificate.current", Over::Nothing, &[value]);
        let mut share = figure("faults.coverage", Over::Nothing, &[coverage]);
        share.better = Better::Higher;
        [current, share]
    };
    let before = at(limit, 0.3);
    let after = at(limit * (1.0 + 1.0e-7), 0.3);
    let c = compare(&before, &after);
    assert!(c.regression && c.worse.is_empty(), "{c:?}");
    let names: Vec<(&str, bool)> = c
        .broken
        .iter()
        .map(|l| (l.limit.as_str(), l.regression))
        .collect();
    assert_eq!(names, [("peak-current", true), ("fault-coverage", false)]);
    assert_eq!(c.broken[1].was, Some(Verdict::Broken));
    let page = text::markdown(&c);
    assert!(
        page.starts_with("### Regression") && page.contains("| **peak-current** | at most 95 A |"),
        "{page}"
    );
    assert!(text::table(&c, true).contains("within noise"));
    // What was demonstrated and is no more.
    let c = compare(&before, &before[1..]);
    assert!(c.broken.iter().any(|l| l.limit == "peak-current"
        && l.verdict == Verdict::NotDemonstrated
        && l.regression));
    // The same again: nothing but what was broken.
    let c = compare(&before, &before);
    assert!(!c.regression);
    assert_eq!(c.broken.len(), 1);
    assert!(text::markdown(&c).starts_with("### No regression"));
}

#[test]
fn unlike_things_are_refused() {
    let one = side("a", &[figure("rides.x", Over::Nothing, &[1.0])]);
    let other = Subject {
        kind: "full".to_owned(),
        ..side("b", &[])
    };
    let said = Comparison::of(&one, &other)
        .expect_err("refused")
        .to_string();
    assert!(
        said.starts_with("b: full against quick: expected two dossiers of the same plan"),
        "{said}"
    );
    // Rides of other floors, levels, people.
    let ride = |name: &str, floor: &str, level: f64, kg: f64| {
        let folder = tempfile::tempdir().expect("a folder");
        let summary = serde_json::json!({
            "seat": {}, "travel": { "contact_speed_max_mps": 0.0 }, "seed": 1, "occupant_kg": kg, "body": "rigid",
            "floor": { "name": floor, "level": level }, "seconds": 60.0, "skipped_s": 5.0,
        });
        let file = folder.path().join(name);
        std::fs::write(&file, summary.to_string()).expect("a file");
        Subject::read(&file).expect("a ride")
    };
    let one = ride("a.json", "hauler", 1.0, 80.0);
    assert!(Comparison::of(&one, &ride("b.json", "hauler", 1.0, 80.0)).is_ok());
    for (other, words) in [
        (
            ride("b.json", "loader", 1.0, 80.0),
            "floor hauler against loader: expected",
        ),
        (
            ride("b.json", "hauler", 2.5, 80.0),
            "level 1.0 against 2.5: expected",
        ),
        (
            ride("b.json", "hauler", 1.0, 130.0),
            "occupant_kg 80.0 against 130.0: expected",
        ),
    ] {
        let said = Comparison::of(&one, &other)
            .expect_err("refused")
            .to_string();
        assert!(
            said.contains("b.json: different rides: ") && said.contains(words),
            "{said}"
        );
    }
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("x.json");
    for (content, words) in [
        ("{}", "JSON of something else"),
        ("{\"a\": \n", "line 2, column 0"),
        ("", "line 1"),
    ] {
        std::fs::write(&file, content).expect("a file");
        let said = Subject::read(&file).expect_err("refused").to_string();
        assert!(
            said.contains(words) && said.contains("x.json") && said.contains("expected a dossier"),
            "{said}"
        );
    }
    let said = Subject::read(folder.path())
        .expect_err("refused")
        .to_string();
    assert!(
        said.contains("neither dossier.json nor summary.json"),
        "{said}"
    );
}
