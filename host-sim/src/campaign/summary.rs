//! All cases together: broken limits, coverage by class, one roll a fault, the worst.

use super::case::CaseFigures;
use super::judge::Verdict;
use super::run::Ridden;
use crate::fault::{Class, Entry};
use crate::limits::constant;
use serde::Serialize;
use std::collections::BTreeSet;

/// Coverage that is asked for.
pub const COVERAGE: f64 = constant::FAULT_COVERAGE;
/// How many of the worst faults are told, each by its worst case.
const WORST: usize = 10;

/// Weights of the classes: **invented**, as failure rates of a class as a whole would be, in parts of 100. Within a class
/// every case weighs the same. A real machine needs the rates of its own parts.
pub const WEIGHTS: [(Class, f64); 5] = [
    (Class::Sensor, 45.0),
    (Class::Actuator, 25.0),
    (Class::Supply, 10.0),
    (Class::Time, 10.0),
    (Class::Operator, 10.0),
];

/// Classes of diagnostic coverage after ISO 13849-1, from their lower bounds.
const COVERAGE_CLASSES: [(f64, &str); 4] =
    [(0.99, "high"), (0.9, "medium"), (0.6, "low"), (0.0, "none")];

/// The class of a coverage after ISO 13849-1: high from 99 %, medium from 90 %, low from 60 %, else none.
#[must_use]
pub fn coverage_class(coverage: f64) -> &'static str {
    COVERAGE_CLASSES
        .iter()
        .find(|(from, _)| coverage >= *from)
        .map_or("none", |(_, name)| name)
}

/// Coverage of one class of faults.
#[derive(Clone, Debug, Serialize)]
pub struct ClassFigures {
    /// The class.
    pub class: &'static str,
    /// Its assumed weight.
    pub weight: f64,
    /// Cases.
    pub cases: usize,
    /// Dangerous ones.
    pub dangerous: usize,
    /// Of these noticed in time, with the limits held or beyond any firmware.
    pub detected: usize,
    /// Of the dangerous ones; none where none is.
    pub coverage: Option<f64>,
    /// Dangerous ones in which contact and peak hold, are beyond any firmware, or would hold by an answer at the onset.
    pub at_once: usize,
}

/// A target that does not hold.
#[derive(Clone, Debug, Serialize)]
pub struct BrokenLimit {
    /// Which.
    pub limit: &'static str,
    /// In how many cases.
    pub cases: usize,
    /// The worst figure, in the unit of the limit's name.
    pub worst: Option<f64>,
    /// The command that shows it.
    pub command: Option<String>,
}

/// One of the worst cases.
#[derive(Clone, Debug, Serialize)]
pub struct WorstCase {
    /// Fault.
    pub fault: String,
    /// Floor.
    pub floor: String,
    /// Its level.
    pub level: f64,
    /// Occupant, kg.
    pub occupant_kg: f64,
    /// Onset, s.
    pub onset_s: f64,
    /// From the onset to being noticed, s.
    pub detection_s: Option<f64>,
    /// From there to the reaction, s.
    pub reaction_s: Option<f64>,
    /// Hardest contact, m/s.
    pub contact_speed_mps: f64,
    /// Its limit, m/s.
    pub contact_limit_mps: f64,
    /// Peak of the seat's acceleration, m/s2.
    pub peak_mps2: f64,
    /// Its limit, m/s2.
    pub peak_limit_mps2: f64,
    /// What the case comes to.
    pub verdict: Verdict,
    /// The command that rides it.
    pub command: String,
}

impl WorstCase {
    fn of(case: &CaseFigures) -> Self {
        Self {
            fault: case.fault.clone(),
            floor: case.floor.clone(),
            level: case.level,
            occupant_kg: case.occupant_kg,
            onset_s: case.onset_s,
            detection_s: case.noticed_after_s,
            reaction_s: case.reaction_s,
            contact_speed_mps: case.law.contact_speed_mps,
            contact_limit_mps: case.contact_limit_mps(),
            peak_mps2: case.law.peak_mps2,
            peak_limit_mps2: case.peak_limit_mps2(),
            verdict: case.verdict(),
            command: case.command.clone(),
        }
    }
}

/// What a campaign comes to.
#[derive(Clone, Debug, Serialize)]
pub struct Summary {
    /// Cases.
    pub cases: usize,
    /// Whose unreacting ride breaks a limit.
    pub dangerous: usize,
    /// Of these noticed in time, with the limits held or beyond any firmware.
    pub dangerous_detected: usize,
    /// Weighted share of the dangerous ones that is detected so; none where none is dangerous.
    pub coverage: Option<f64>,
    /// The same, but only where the limits hold.
    pub coverage_limits_held: Option<f64>,
    /// The same, for the cases in which contact and peak hold, are beyond any firmware, or would hold by one of the firmware's
    /// answers at the onset: what better detection alone may reach.
    pub coverage_at_once: Option<f64>,
    /// Hours of healthy riding, h.
    pub false_alarm_hours: f64,
    /// Fault bits that rose in them.
    pub false_alarms: u32,
    /// How many cases came to each verdict.
    pub verdicts: Vec<(Verdict, usize)>,
    /// By class of fault.
    pub classes: Vec<ClassFigures>,
    /// What does not hold; empty when all targets do.
    pub broken_limits: Vec<BrokenLimit>,
    /// The worst case of each of the ten worst faults, the worst first.
    pub worst: Vec<WorstCase>,
}

impl Summary {
    /// Of what was ridden.
    #[must_use]
    pub fn of(ridden: &Ridden) -> Self {
        let cases = &ridden.cases;
        let dangerous = cases.iter().filter(|c| c.is_dangerous()).count();
        let coverage = coverage_of(cases, detected);
        // The sum of nothing is -0.
        let seconds = ridden.healthy.iter().map(|ride| ride.seconds);
        let hours = seconds.fold(0.0, |sum, s| sum + s) / 3600.0;
        let false_alarms = ridden.healthy.iter().map(|ride| ride.alarms).sum();
        Self {
            cases: cases.len(),
            dangerous,
            dangerous_detected: cases.iter().filter(|c| detected(c)).count(),
            coverage,
            coverage_limits_held: coverage_of(cases, |c| detected(c) && c.limits_hold()),
            coverage_at_once: coverage_of(cases, CaseFigures::is_held_at_once),
            false_alarm_hours: hours,
            false_alarms,
            verdicts: Verdict::ALL
                .map(|v| (v, cases.iter().filter(|c| c.verdict() == v).count()))
                .to_vec(),
            classes: WEIGHTS
                .iter()
                .filter_map(|(class, weight)| class_figures(cases, *class, *weight))
                .collect(),
            broken_limits: broken_limits(ridden, coverage),
            worst: worst_of_each(cases)
                .into_iter()
                .take(WORST)
                .map(WorstCase::of)
                .collect(),
        }
    }
}

/// Dangerous, noticed in time, and the limits held or beyond any firmware.
fn detected(case: &CaseFigures) -> bool {
    case.is_dangerous() && case.is_noticed_in_time() && (case.limits_hold() || case.is_beyond())
}

/// Weighted share of the dangerous cases that `counts`.
fn coverage_of(cases: &[CaseFigures], counts: impl Fn(&CaseFigures) -> bool) -> Option<f64> {
    let (mut all, mut those) = (0.0, 0.0);
    for (class, weight) in WEIGHTS {
        let of_class = || cases.iter().filter(move |c| c.class() == Some(class));
        let each = weight / of_class().count().max(1) as f64;
        let dangerous = || of_class().filter(|c| c.is_dangerous());
        all += each * dangerous().count() as f64;
        those += each * dangerous().filter(|c| counts(c)).count() as f64;
    }
    (all > 0.0).then(|| those / all)
}

fn class_figures(cases: &[CaseFigures], class: Class, weight: f64) -> Option<ClassFigures> {
    let of_class = || cases.iter().filter(move |c| c.class() == Some(class));
    let count = of_class().count();
    let dangerous = of_class().filter(|c| c.is_dangerous()).count();
    let detected = of_class().filter(|c| detected(c)).count();
    (count > 0).then(|| ClassFigures {
        class: class.name(),
        weight,
        cases: count,
        dangerous,
        detected,
        coverage: (dangerous > 0).then(|| detected as f64 / dangerous as f64),
        at_once: of_class()
            .filter(|c| c.is_dangerous() && c.is_held_at_once())
            .count(),
    })
}

/// The cases, worst first: by verdict, then by what they are of their limits.
#[must_use]
pub fn worst_first(cases: &[CaseFigures]) -> Vec<&CaseFigures> {
    let mut sorted: Vec<&CaseFigures> = cases.iter().collect();
    sorted.sort_by(|a, b| {
        let step = |c: &CaseFigures| c.step_mps2.unwrap_or(0.0);
        a.verdict()
            .cmp(&b.verdict())
            .then(b.share_of_limit().total_cmp(&a.share_of_limit()))
            .then(step(b).total_cmp(&step(a)))
            .then(a.id.cmp(&b.id))
    });
    sorted
}

/// The worst case of each fault, worst first.
#[must_use]
pub fn worst_of_each(cases: &[CaseFigures]) -> Vec<&CaseFigures> {
    let mut seen = BTreeSet::new();
    let mut sorted = worst_first(cases);
    sorted.retain(|case| seen.insert(&case.fault));
    sorted
}

fn broken_limits(ridden: &Ridden, coverage: Option<f64>) -> Vec<BrokenLimit> {
    let mut broken = Vec::new();
    let mut look = |limit,
                    breaks: &dyn Fn(&CaseFigures) -> bool,
                    figure: &dyn Fn(&CaseFigures) -> Option<f64>| {
        let those: Vec<&CaseFigures> = ridden.cases.iter().filter(|c| breaks(c)).collect();
        let size = |c: &CaseFigures| figure(c).unwrap_or(f64::INFINITY);
        if let Some(worst) = those.iter().max_by(|a, b| size(a).total_cmp(&size(b))) {
            broken.push(BrokenLimit {
                limit,
                cases: those.len(),
                worst: figure(worst),
                command: Some(worst.command.clone()),
            });
        }
    };
    look(
        "contact_speed_mps",
        &|c| c.law.contact_speed_mps > c.contact_limit_mps() && !c.is_beyond(),
        &|c| Some(c.law.contact_speed_mps),
    );
    look(
        "peak_mps2",
        &|c| c.law.peak_mps2 > c.peak_limit_mps2() && !c.is_beyond(),
        &|c| Some(c.law.peak_mps2),
    );
    look("step_mps2", &CaseFigures::steps_needlessly, &|c| {
        c.step_mps2
    });
    look("detection_s", &|c| !is_detection_right(c), &|c| {
        c.noticed_after_s
    });
    if let Some(coverage) = coverage.filter(|c| *c < COVERAGE) {
        broken.push(BrokenLimit {
            limit: "coverage",
            cases: ridden
                .cases
                .iter()
                .filter(|c| c.is_dangerous() && !detected(c))
                .count(),
            worst: Some(coverage),
            command: None,
        });
    }
    let alarms = || ridden.healthy.iter().filter(|ride| ride.alarms > 0);
    if let Some(worst) = alarms().max_by_key(|ride| ride.alarms) {
        broken.push(BrokenLimit {
            limit: "false_alarms",
            cases: alarms().count(),
            worst: Some(f64::from(worst.alarms)),
            command: Some(worst.command.clone()),
        });
    }
    broken
}

/// Whether nothing is wrong with when it was noticed.
fn is_detection_right(case: &CaseFigures) -> bool {
    use super::judge::Detection as D;
    !matches!(case.detection(), D::Late | D::Missed)
}

/// All cases of one kind of fault.
pub struct Roll<'c> {
    /// The fault.
    pub entry: &'static Entry,
    /// Its cases, worst first.
    pub cases: Vec<&'c CaseFigures>,
}

impl<'c> Roll<'c> {
    /// The rolls of a campaign, in the order of the catalogue.
    #[must_use]
    pub fn all(cases: &'c [CaseFigures], faults: &[&'static Entry]) -> Vec<Self> {
        let sorted = worst_first(cases);
        let roll = |entry: &&'static Entry| Self {
            entry,
            cases: sorted
                .iter()
                .copied()
                .filter(|c| c.fault == entry.name)
                .collect(),
        };
        faults
            .iter()
            .map(roll)
            .filter(|r| !r.cases.is_empty())
            .collect()
    }

    /// How many cases came to a verdict.
    #[must_use]
    pub fn count(&self, verdict: Verdict) -> usize {
        self.cases.iter().filter(|c| c.verdict() == verdict).count()
    }

    /// The worst verdict of one floor and level; none when it was not ridden.
    #[must_use]
    pub fn cell(&self, floor: &str, level: f64) -> Option<Verdict> {
        let here = |c: &&&CaseFigures| c.floor == floor && c.level == level;
        self.cases.iter().filter(here).map(|c| c.verdict()).min()
    }

    /// The largest of a figure; none when no case has it.
    #[must_use]
    pub fn largest(&self, of: impl Fn(&CaseFigures) -> Option<f64>) -> Option<f64> {
        self.cases.iter().filter_map(|c| of(c)).reduce(f64::max)
    }

    /// The least of a figure; none when no case has it.
    #[must_use]
    pub fn least(&self, of: impl Fn(&CaseFigures) -> Option<f64>) -> Option<f64> {
        self.cases.iter().filter_map(|c| of(c)).reduce(f64::min)
    }
}
