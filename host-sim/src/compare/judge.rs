//! Every figure of two sides, every limit that is broken, and every limit that is not the same.

use super::limits::{self, LimitChange};
use super::load::{CompareError, RigOf, Subject};
use super::noise::{Basis, Noise};
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
    /// No farther than noise might have moved it.
    WithinNoise,
    /// The same to the last bit, from every seed.
    Same,
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
            Self::Same => "the same",
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
    /// Mean of the differences seed by seed; null where the sides have not the same seeds.
    pub by_seed: Option<f64>,
    /// Up to which `by_seed`, or without it `change`, says nothing.
    pub noise: f64,
    /// The same as a share of `before`: the least change that would be detected; null where there is no such share.
    pub detectable: Option<f64>,
    /// Up to which another choice of seeds might move the figure, by the first side's spread; null without the same seeds.
    /// A change beyond it counts too.
    pub reseeded: Option<f64>,
    /// What the noise follows from; null where one side has no number.
    pub basis: Option<Basis>,
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
    /// Whether anything is worse, gone, broken that held, or a limit allows more than before.
    pub regression: bool,
    /// Both rigs, where they are not the same; else null.
    pub other_rig: Option<[RigOf; 2]>,
    /// Limits that are not the same on both sides, those that allow more first.
    pub limits_changed: Vec<LimitChange>,
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
    /// Figures that are the same to the last bit.
    pub same: Vec<Change>,
}

fn change(before: Option<&Figure>, after: Option<&Figure>) -> Option<Change> {
    let one = after.or(before)?;
    let (a, b) = (before.and_then(|f| f.value), after.and_then(|f| f.value));
    let noise = before.zip(after).filter(|_| a.is_some() && b.is_some());
    let noise = noise.map(|(a, b)| Noise::of(a, b));
    let meaning = match (before, after) {
        (None, _) => Meaning::New,
        (_, None) => Meaning::Gone,
        (Some(x), Some(y)) if (x.value, &x.seeds) == (y.value, &y.seeds) => Meaning::Same,
        // What has no bound is worse than any number.
        _ => match (a, b, noise) {
            (Some(_), None, _) => Meaning::Worse,
            (None, Some(_), _) => Meaning::Better,
            (Some(a), Some(b), Some(noise)) => match noise.counts(b - a) {
                None => Meaning::WithinNoise,
                Some(by) if is_worse(one.better, by, 0.0) => Meaning::Worse,
                Some(_) => Meaning::Better,
            },
            _ => Meaning::WithinNoise,
        },
    };
    Some(Change {
        figure: one.id.clone(),
        unit: one.unit.clone(),
        before: a,
        after: b,
        change: a.zip(b).map(|(a, b)| b - a),
        by_seed: noise.and_then(|n| n.by_seed),
        noise: noise.map_or(0.0, |n| n.band),
        detectable: noise.zip(a).and_then(|(noise, a)| {
            let share = noise.band / a.abs();
            share.is_finite().then_some(share)
        }),
        reseeded: noise.and_then(|n| n.reseeded),
        basis: noise.map(|n| n.basis),
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
    all.sort_by_key(|l| !l.regression);
    all
}

impl Comparison {
    /// Compares two sides; `b` is the one that is judged.
    ///
    /// # Errors
    /// A dossier against a ride, dossiers of different plans, or different rides.
    pub fn of(a: &Subject, b: &Subject) -> Result<Self, CompareError> {
        if a.kind != b.kind {
            return Err(CompareError::Unlike {
                path: b.path.clone(),
                what: format!("{} against {}", b.kind, a.kind),
            });
        }
        if let Some(what) = a.rides_otherwise(b) {
            return Err(CompareError::OtherRide {
                path: b.path.clone(),
                what,
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
        let same = with(Meaning::Same);
        let broken = broken(a, b);
        let limits_changed = limits::changes(a, b);
        let rigs = a.rig.clone().zip(b.rig.clone());
        Ok(Self {
            a: a.path.display().to_string(),
            a_about: a.about.clone(),
            b: b.path.display().to_string(),
            b_about: b.about.clone(),
            regression: !worse.is_empty()
                || !gone.is_empty()
                || broken.iter().any(|l| l.regression)
                || limits_changed.iter().any(|l| l.regression),
            other_rig: rigs
                .filter(|(a, b)| a.sha256 != b.sha256)
                .map(|(a, b)| [a, b]),
            limits_changed,
            broken,
            worse,
            gone,
            better,
            new,
            within_noise,
            same,
        })
    }

    /// In one sentence.
    #[must_use]
    pub fn in_short(&self) -> String {
        let held = self.broken.iter().filter(|l| l.regression).count();
        let freed: Vec<&str> = self
            .limits_changed
            .iter()
            .filter(|l| l.regression)
            .map(|l| l.limit.as_str())
            .collect();
        let freed = if freed.is_empty() {
            String::new()
        } else {
            format!(
                "limits loosened, removed or redefined: {}; ",
                freed.join(", ")
            )
        };
        format!(
            "{freed}{} limits broken ({held} of them held before), {} figures worse, {} gone, {} better, {} new, {} within noise, {} the same",
            self.broken
                .iter()
                .filter(|l| l.verdict == Verdict::Broken)
                .count(),
            self.worse.len(),
            self.gone.len(),
            self.better.len(),
            self.new.len(),
            self.within_noise.len(),
            self.same.len()
        )
    }
}
