//! Limits that are not the same on both sides. Figures alone do not tell of a limit that was let out until it held.

use super::load::Subject;
use crate::dossier::Judged;
use crate::units;
use serde::Serialize;

/// What became of a limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Became {
    /// It allows more than before.
    Loosened,
    /// It is gone.
    Removed,
    /// Another unit or sense: whether it allows more cannot be said.
    Redefined,
    /// It allows less.
    Tightened,
    /// It is new.
    Added,
    /// The same number from another source.
    Resourced,
}

impl Became {
    /// In words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Loosened => "loosened",
            Self::Removed => "removed",
            Self::Redefined => "another unit or sense",
            Self::Tightened => "tightened",
            Self::Added => "added",
            Self::Resourced => "another source",
        }
    }

    /// Whether more is allowed than before, or might be.
    #[must_use]
    pub const fn is_regression(self) -> bool {
        matches!(self, Self::Loosened | Self::Removed | Self::Redefined)
    }
}

/// A limit on one side.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Wanted {
    /// `at most` or `at least`.
    pub sense: String,
    /// The number.
    pub value: f64,
    /// Its unit.
    pub unit: String,
    /// Where it comes from.
    pub source: String,
}

impl Wanted {
    fn of(v: &Judged) -> Self {
        Self {
            sense: v.sense.clone(),
            value: v.value,
            unit: v.unit.clone(),
            source: v.source.clone(),
        }
    }

    /// In words, every digit of the number.
    #[must_use]
    pub fn words(&self) -> String {
        format!("{} {}", self.sense, units::beside(self.value, &self.unit))
    }
}

/// A limit that is not the same on both sides.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LimitChange {
    /// The limit.
    pub limit: String,
    /// What became of it.
    pub became: Became,
    /// On the first side; null when it is new.
    pub was: Option<Wanted>,
    /// On the second; null when it is gone.
    pub is: Option<Wanted>,
    /// Whether that is a regression.
    pub regression: bool,
}

fn became(was: Option<&Wanted>, is: Option<&Wanted>) -> Option<Became> {
    match (was, is) {
        (None, None) => None,
        (None, Some(_)) => Some(Became::Added),
        (Some(_), None) => Some(Became::Removed),
        (Some(was), Some(is)) if was.sense != is.sense || was.unit != is.unit => {
            Some(Became::Redefined)
        }
        (Some(was), Some(is)) if was.value == is.value => {
            (was.source != is.source).then_some(Became::Resourced)
        }
        (Some(was), Some(is)) if (is.value > was.value) == (is.sense == "at most") => {
            Some(Became::Loosened)
        }
        _ => Some(Became::Tightened),
    }
}

/// Every limit that is not the same, those that allow more first.
#[must_use]
pub fn changes(a: &Subject, b: &Subject) -> Vec<LimitChange> {
    let of = |side: &Subject, id: &str| {
        let mut found = side.verdicts.iter().filter(|v| v.limit == id);
        found.next().map(Wanted::of)
    };
    let mut ids: Vec<&str> = a.verdicts.iter().map(|v| v.limit.as_str()).collect();
    for v in &b.verdicts {
        if !ids.contains(&v.limit.as_str()) {
            ids.push(&v.limit);
        }
    }
    let mut all: Vec<LimitChange> = ids
        .into_iter()
        .filter_map(|id| {
            let (was, is) = (of(a, id), of(b, id));
            let became = became(was.as_ref(), is.as_ref())?;
            Some(LimitChange {
                limit: id.to_owned(),
                became,
                was,
                is,
                regression: became.is_regression(),
            })
        })
        .collect();
    all.sort_by_key(|l| l.became);
    all
}
