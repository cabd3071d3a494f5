//! One measured figure: its value, what is better, how it spreads over seeds, and where it comes from.

use serde::{Deserialize, Serialize};

/// Which way a figure is better.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Better {
    /// The smaller, the better.
    Lower,
    /// The larger, the better.
    Higher,
}

/// How a figure comes from those of the seeds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Over {
    /// Their mean.
    Mean,
    /// The worst of them.
    Worst,
    /// No seeds: the same every time.
    Nothing,
}

/// One measured figure.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Figure {
    /// `stage.name`.
    pub id: String,
    /// The value; null where it has no bound or no end, which keeps no limit.
    pub value: Option<f64>,
    /// Its unit.
    pub unit: String,
    /// Which way it is better.
    pub better: Better,
    /// How it comes from the seeds.
    pub over: Over,
    /// The figure of every seed.
    pub seeds: Vec<f64>,
    /// File of the dossier that holds the raw data.
    pub evidence: String,
    /// The command that rides or works out what decides it.
    pub command: String,
}

/// Figures of one kind by seed, the worst kept with its command.
#[derive(Clone, Debug)]
pub struct BySeed {
    better: Better,
    seeds: Vec<(u64, f64)>,
    worst: Option<(f64, String)>,
}

impl BySeed {
    /// Nothing yet.
    #[must_use]
    pub const fn new(better: Better) -> Self {
        Self {
            better,
            seeds: Vec::new(),
            worst: None,
        }
    }

    /// Takes one measurement: of every seed the worst counts. What is no number is the worst of all.
    pub fn take(&mut self, seed: u64, value: f64, command: &str) {
        let value = if value.is_nan() {
            self.worst_possible()
        } else {
            value
        };
        match self.seeds.iter_mut().find(|(s, _)| *s == seed) {
            Some((_, known)) if is_worse(self.better, value, *known) => *known = value,
            Some(_) => {}
            None => self.seeds.push((seed, value)),
        }
        if self
            .worst
            .as_ref()
            .is_none_or(|(worst, _)| is_worse(self.better, value, *worst))
        {
            self.worst = Some((value, command.to_owned()));
        }
    }

    const fn worst_possible(&self) -> f64 {
        match self.better {
            Better::Lower => f64::INFINITY,
            Better::Higher => f64::NEG_INFINITY,
        }
    }

    /// The figure; none when nothing was taken.
    #[must_use]
    pub fn figure(mut self, id: &str, unit: &str, over: Over, evidence: &str) -> Option<Figure> {
        let (worst, command) = self.worst.take()?;
        self.seeds.sort_by_key(|(seed, _)| *seed);
        let seeds: Vec<f64> = self.seeds.iter().map(|(_, value)| *value).collect();
        let value = match over {
            Over::Mean => seeds.iter().sum::<f64>() / seeds.len() as f64,
            Over::Worst | Over::Nothing => worst,
        };
        let finite = seeds.iter().all(|s| s.is_finite());
        Some(Figure {
            id: id.to_owned(),
            value: value.is_finite().then_some(value),
            unit: unit.to_owned(),
            better: self.better,
            over,
            seeds: if over == Over::Nothing || !finite {
                Vec::new()
            } else {
                seeds
            },
            evidence: evidence.to_owned(),
            command,
        })
    }
}

/// Whether `a` is worse than `b`.
#[must_use]
pub fn is_worse(better: Better, a: f64, b: f64) -> bool {
    match better {
        Better::Lower => a > b,
        Better::Higher => a < b,
    }
}
