//! The committed baseline against itself with losses put in, with limits let out, and with another rig.

use host_sim::compare::{Became, Comparison, RigOf, Subject, text};
use host_sim::dossier::{Judged, Verdict};

fn baseline() -> Subject {
    let file = concat!(env!("CARGO_MANIFEST_DIR"), "/../baseline/dossier.json");
    Subject::read(std::path::Path::new(file)).expect("the baseline")
}

/// The committed baseline with losses put in that once passed as noise: each is worse, and nothing else is.
#[test]
fn losses_in_the_baseline_are_found() {
    let a = baseline();
    let c = Comparison::of(&a, &a).expect("the same");
    assert_eq!((c.regression, c.same.len()), (false, a.figures.len()));
    let mut b = baseline();
    let mut forged = Vec::new();
    for figure in &mut b.figures {
        let (by, more) = match figure.id.as_str() {
            "rides.seat-value.compact.1" | "rides.seat-value.compact.2.5" => (1.5, 0.0),
            "rides.seat-value.loader.1" | "rides.seat-value.loader.2.5" => (1.25, 0.0),
            "rides.travel-rate-error" | "rides.daily-a8" => (1.2, 0.0),
            "faults.broken-cases" => (1.0, 10.0),
            _ => continue,
        };
        figure.value = figure.value.map(|v| by * v + more);
        figure.seeds.iter_mut().for_each(|s| *s = by * *s + more);
        forged.push(figure.id.clone());
    }
    assert_eq!(forged.len(), 7);
    let c = Comparison::of(&a, &b).expect("the same plan");
    let worse: Vec<&str> = c.worse.iter().map(|w| w.figure.as_str()).collect();
    assert!(c.regression);
    assert_eq!(worse, forged);
    for change in &c.worse {
        let share = change.change.expect("a number") / change.before.expect("a number");
        assert!(share > change.detectable.expect("a share"), "{change:?}");
    }
    assert!(text::markdown(&c).contains("| by seed | detectable |"));
}

/// A limit that is let out until it holds, that is gone or means something else, is a regression; the others are said.
#[test]
fn limits_that_change_are_told_first() {
    let a = baseline();
    let with = |change: &dyn Fn(&mut Vec<Judged>)| {
        let mut b = baseline();
        change(&mut b.verdicts);
        let c = Comparison::of(&a, &b).expect("the same plan");
        assert_eq!(c.limits_changed.len(), 1);
        let (table, page) = (text::table(&c, false), text::markdown(&c));
        (c, table, page)
    };
    let at = |rows: &mut Vec<Judged>, id: &str| {
        let found = rows.iter().position(|v| v.limit == id);
        found.unwrap_or_else(|| panic!("{id}"))
    };
    let set = |id: &'static str, value: f64| {
        move |rows: &mut Vec<Judged>| {
            let n = at(rows, id);
            rows[n].value = value;
        }
    };
    // Tenfold, and it still holds.
    let (c, table, page) = with(&set("stop-touch-speed", 1.0));
    assert!(c.regression && c.limits_changed[0].became == Became::Loosened);
    assert!(
        c.in_short()
            .starts_with("limits loosened, removed or redefined: stop-touch-speed; ")
    );
    let words = "stop-touch-speed: LOOSENED, was at most 0.1 m/s -> is at most 1 m/s";
    for text in [&table, &page] {
        assert!(text.contains(words) && text.contains("re-base"), "{text}");
    }
    assert!(table.find(words) < table.find("limit not kept by B"));
    assert!(page.starts_with("### Regression"));
    // Broken before, and let out until it holds: not in the list of broken ones any more, but here.
    let (c, ..) = with(&|rows: &mut Vec<Judged>| {
        let n = at(rows, "fault-contact");
        (rows[n].value, rows[n].verdict) = (0.6, Verdict::Holds);
    });
    assert!(c.regression && !c.broken.iter().any(|l| l.limit == "fault-contact"));
    // The other way round for what is to be at least so much.
    let (c, ..) = with(&set("fault-coverage", 0.4));
    assert!(c.regression && c.limits_changed[0].became == Became::Loosened);
    let (c, table, _) = with(&set("fault-coverage", 0.995));
    assert!(!c.regression && c.limits_changed[0].became == Became::Tightened);
    assert!(
        table.contains("fault-coverage: tightened, was at least 0.99")
            && !table.contains("re-base")
    );
    let (c, table, _) = with(&|rows: &mut Vec<Judged>| {
        rows[0].source = "hearsay".to_owned();
    });
    assert!(!c.regression && c.limits_changed[0].became == Became::Resourced);
    assert!(table.contains("-> is hearsay)"), "{table}");
    let (c, ..) = with(&|rows: &mut Vec<Judged>| rows[0].unit = "furlongs".to_owned());
    assert!(c.regression && c.limits_changed[0].became == Became::Redefined);
    let (c, table, _) = with(&|rows: &mut Vec<Judged>| drop(rows.remove(0)));
    assert!(c.regression && c.limits_changed[0].became == Became::Removed);
    assert!(table.contains("-> is no limit"), "{table}");
    let (c, table, _) = with(&|rows: &mut Vec<Judged>| {
        let mut more = rows[0].clone();
        more.limit = "brand-new".to_owned();
        rows.push(more);
    });
    assert!(!c.regression && c.limits_changed[0].became == Became::Added);
    assert!(table.contains("brand-new: added, was no limit"), "{table}");
}

/// Another rig is said before all figures.
#[test]
fn another_rig_is_told() {
    let (a, mut b) = (baseline(), baseline());
    assert!(
        Comparison::of(&a, &b)
            .expect("the same plan")
            .other_rig
            .is_none()
    );
    b.rig = b.rig.map(|rig| RigOf {
        sha256: "f".repeat(64),
        ..rig
    });
    let c = Comparison::of(&a, &b).expect("the same plan");
    assert!(c.other_rig.is_some() && !c.regression);
    for text in [text::table(&c, false), text::markdown(&c)] {
        assert!(
            text.contains("OTHER RIG: A ") && text.contains("(ffffffffffffffff)"),
            "{text}"
        );
    }
}
