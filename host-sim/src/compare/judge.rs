//! Every figure of two sides, and every limit that is broken.

use super::load::{CompareError, Subject};
use super::noise;
use crate::dossier::figure::is_worse;
use crate::dossier::{Figure, Verdict};
use serde::Serialize;

/// What a change means.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Meaning {
    /// Worse, beyond noise.
    Worse,
    /// It was measured and is no more.
    Gone,
    /// Better, beyond noise.
    Better,
    /// It was not measured and is now.
    New,
    /// No farther than another choice of seeds might have moved it.
    WithinNoise,
}

impl Meaning {
    /// In words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Worse => "worse",
            Self::Gone => "gone",
            Self::Better => "better",
            Self::New => "new",
            Self::WithinNoise => "within noise",
        }
    }
}

/// One figure on both sides.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Change {
    /// The figure.
    pub figure: String,
    /// Its unit.
    pub unit: String,
    /// The first side's; null where it has no bound or was not measured.
    pub before: Option<f64>,
    /// The second side's.
    pub after: Option<f64>,
    /// After less before; null where one has no number.
    pub change: Option<f64>,
    /// Up to which a change says nothing.
    pub noise: f64,
    /// What it means.
    pub meaning: Meaning,
    /// The command that reproduces the second side's.
    pub command: String,
}

/// A limit that the second side does not keep, or no longer demonstrates.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BrokenLimit {
    /// The limit.
    pub limit: String,
    /// What it comes to on the first side; null when it is new.
    pub was: Option<Verdict>,
    /// What it comes to on the second.
    pub verdict: Verdict,
    /// The limit's number.
    pub value: f64,
    /// Its unit.
    pub unit: String,
    /// `at most` or `at least`.
    pub sense: String,
    /// What was measured.
    pub measured: Option<f64>,
    /// The command that reproduces it.
    pub command: String,
    /// Whether it kept the limit before: a regression.
    pub regression: bool,
}

/// The comparison.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Comparison {
    /// The first side.
    pub a: String,
    /// What it is.
    pub a_about: String,
    /// The second side.
    pub b: String,
    /// What it is.
    pub b_about: String,
    /// Whether anything is worse, gone, or broken that held.
    pub regression: bool,
    /// Limits that the second side does not keep, those that held before first.
    pub broken: Vec<BrokenLimit>,
    /// Figures that are worse beyond noise.
    pub worse: Vec<Change>,
    /// Figures that are no longer measured.
    pub gone: Vec<Change>,
    /// Figures that are better beyond noise.
    pub better: Vec<Change>,
    /// Figures that were not measured before.
    pub new: Vec<Change>,
    /// Figures within noise.
    pub within_noise: Vec<Change>,
}

fn change(before: Option<&Figure>, after: Option<&Figure>) -> Option<Change> {
    let one = after.or(before)?;
    let (a, b) = (before.and_then(|f| f.value), after.and_then(|f| f.value));
    let noise = match (before, after) {
        (Some(a), Some(b)) => noise::band(a, b),
        _ => 0.0,
    };
    let meaning = match (before, after) {
        (None, _) => Meaning::New,
        (_, None) => Meaning::Gone,
        // What has no bound is worse than any number.
        _ => match (a, b) {
            (None, None) => Meaning::WithinNoise,
            (Some(_), None) => Meaning::Worse,
            (None, Some(_)) => Meaning::Better,
            (Some(a), Some(b)) if (b - a).abs() <= noise => Meaning::WithinNoise,
            (Some(a), Some(b)) if is_worse(one.better, b, a) => Meaning::Worse,
            _ => Meaning::Better,
        },
    };
    Some(Change {
        figure: one.id.clone(),
        unit: one.unit.clone(),
        before: a,
        after: b,
        change: a.zip(b).map(|(a, b)| b - a),
        noise,
        meaning,
        command: one.command.clone(),
    })
}

fn broken(a: &Subject, b: &Subject) -> Vec<BrokenLimit> {
    let mut all = Vec::new();
    for v in &b.verdicts {
        let was = a
            .verdicts
            .iter()
            .find(|w| w.limit == v.limit)
            .map(|w| w.verdict);
        let regression = was.is_some_and(|was| v.verdict < was);
        if v.verdict == Verdict::Broken || regression {
            all.push(BrokenLimit {
                limit: v.limit.clone(),
                was,
                verdict: v.verdict,
                value: v.value,
                unit: v.unit.clone(),
                sense: v.sense.clone(),
                measured: v.measured,
                command: v.command.clone(),
                regression,
            });
        }
    }
    // A limit that has gone from the register is demonstrated no more.
    for w in a
        .verdicts
        .iter()
        .filter(|w| !b.verdicts.iter().any(|v| v.limit == w.limit))
    {
        all.push(BrokenLimit {
            limit: w.limit.clone(),
            was: Some(w.verdict),
            verdict: Verdict::NotDemonstrated,
            value: w.value,
            unit: w.unit.clone(),
            sense: w.sense.clone(),
            measured: None,
            command: w.command.clone(),
            regression: matches!(w.verdict, Verdict::Holds | Verdict::ByTests),
        });
    }
    all.sort_by_key(|l| !l.regression);
    all
}

impl Comparison {
    /// Compares two sides; `b` is the one that is judged.
    ///
    /// # Errors
    /// A dossier against a ride, or dossiers of different plans.
    pub fn of(a: &Subject, b: &Subject) -> Result<Self, CompareError> {
        if a.kind != b.kind {
            return Err(CompareError::Unlike {
                path: b.path.clone(),
                what: format!("{} against {}", b.kind, a.kind),
            });
        }
        let of = |subject: &'_ Subject, id: &str| subject.figures.iter().position(|f| f.id == id);
        let mut changes = Vec::new();
        for after in &b.figures {
            let before = of(a, &after.id).map(|n| &a.figures[n]);
            changes.extend(change(before, Some(after)));
        }
        for before in a.figures.iter().filter(|f| of(b, &f.id).is_none()) {
            changes.extend(change(Some(before), None));
        }
        let mut with = |meaning| {
            let (those, others) = changes
                .drain(..)
                .partition(|c: &Change| c.meaning == meaning);
            changes = others;
            those
        };
        let (worse, gone): (Vec<Change>, Vec<Change>) = (with(Meaning::Worse), with(Meaning::Gone));
        let (better, new) = (with(Meaning::Better), with(Meaning::New));
        let within_noise = with(Meaning::WithinNoise);
        let broken = broken(a, b);
        Ok(Self {
            a: a.path.display().to_string(),
            a_about: a.about.clone(),
            b: b.path.display().to_string(),
            b_about: b.about.clone(),
            regression: !worse.is_empty()
                || !gone.is_empty()
                || broken.iter().any(|l| l.regression),
            broken,
            worse,
            gone,
            better,
            new,
            within_noise,
        })
    }

    /// In one sentence.
    #[must_use]
    pub fn in_short(&self) -> String {
        let held = self.broken.iter().filter(|l| l.regression).count();
        format!(
            "{} limits broken ({held} of them held before), {} figures worse, {} gone, {} better, {} new, {} within noise",
            self.broken
                .iter()
                .filter(|l| l.verdict == Verdict::Broken)
                .count(),
            self.worse.len(),
            self.gone.len(),
            self.better.len(),
            self.new.len(),
            self.within_noise.len()
        )
    }
}
