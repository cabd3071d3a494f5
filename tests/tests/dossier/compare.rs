//! Two dossiers or rides, figure by figure: by hand, and the noise against order statistics.

use host_sim::compare::noise::{band, deviation, of_the_worst};
use host_sim::compare::{Comparison, Subject, text};
use host_sim::dossier::record::{NotRun, judge};
use host_sim::dossier::{Better, Figure, Over, Verdict};
use host_sim::limits;
use std::path::PathBuf;

fn figure(id: &str, over: Over, seeds: &[f64]) -> Figure {
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
    }
}

fn compare(a: &[Figure], b: &[Figure]) -> Comparison {
    Comparison::of(&side("a", a), &side("b", b)).expect("the same plan")
}

/// Spread of the largest of n normal values: its density is n phi Phi^(n-1), integrated over -8 to 8 in small steps.
#[test]
fn spread_of_the_worst_is_that_of_order_statistics() {
    for n in 2..=10_usize {
        let (step, mut below) = (1.0e-4_f64, 0.0_f64);
        let mut moments = [0.0_f64; 3];
        for k in 0..160_000 {
            let x = -8.0 + (f64::from(k) + 0.5) * step;
            let density = (-0.5 * x * x).exp() / std::f64::consts::TAU.sqrt();
            let up_to = below + 0.5 * step * density;
            below += step * density;
            let of_most = n as f64 * density * up_to.powi(n as i32 - 1);
            for (power, moment) in moments.iter_mut().enumerate() {
                *moment += step * of_most * x.powi(power as i32);
            }
        }
        assert!((moments[0] - 1.0).abs() < 1.0e-6, "{moments:?}");
        let exact = (moments[2] - moments[1].powi(2)).sqrt();
        assert!(
            (of_the_worst(n) / exact - 1.0).abs() < 0.02,
            "{n}: {} {exact}",
            of_the_worst(n)
        );
    }
    assert_eq!(deviation(&[1.0]), None);
    // By hand: 1, 2, 3 have a variance of 1.
    assert_eq!(deviation(&[1.0, 2.0, 3.0]), Some(1.0));
}

/// Means over three seeds that spread by 1: sqrt(1/3 + 1/3), twice.
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
    for (shift, name) in [
        (by_hand - 0.01, "within"),
        (by_hand + 0.01, "worse"),
        (-by_hand - 0.01, "better"),
    ] {
        let moved = figure(
            "rides.x",
            Over::Mean,
            &[1.0 + shift, 2.0 + shift, 3.0 + shift],
        );
        let c = compare(std::slice::from_ref(&a), &[moved]);
        let found = [
            ("within", c.within_noise.len()),
            ("worse", c.worse.len()),
            ("better", c.better.len()),
        ];
        for (other, count) in found {
            assert_eq!(count, usize::from(other == name), "{name} {other}");
        }
        assert_eq!(c.regression, name == "worse");
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
