//! How far a figure may move without saying anything.
//!
//! The same code and seeds give the same figures, bit for bit. A change of the law changes the course of every ride, as
//! another seed would. Both sides ride the same seeds (a plan counts them from 1), so that each seed's figure has its own
//! before and after: a change counts when the mean of these differences is farther from nothing than their spread explains,
//! by Student's t for paired samples (NIST/SEMATECH e-Handbook of Statistical Methods, sections 7.3.1 and 1.3.5.3). Floors
//! that differ from seed to seed are then no noise.
//!
//! One seed that goes astray makes that spread large, and is not to hide behind it: a change also counts when it is larger
//! than another choice of seeds would make it, by the spread over the seeds of the first side alone.

use crate::dossier::{Figure, Over};
use crate::limits::constant;
use serde::Serialize;
use std::f64::consts::{PI, SQRT_2};

/// Differences up to this share are roundings: the last bit of a system's sine, through a minute of ride.
const ROUNDING: f64 = 1.0e-6;
/// A ridden figure that moves by no more than this share of itself has not changed to any purpose. Without it, roundings
/// that happen to agree over two or three seeds would count. Common practice, no source.
const LEAST: f64 = 1.0e-3;
/// A change counts beyond so many standard deviations; common practice, no source.
const DEVIATIONS: f64 = constant::COMPARE_DEVIATIONS;

/// What a change is held against.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Basis {
    /// The differences seed by seed: both sides have the same seeds.
    SameSeeds,
    /// The spread over the seeds of each side: they have not the same seeds.
    OtherSeeds,
    /// Nothing is left to chance: counts, proofs, single rides.
    Exact,
}

/// How far a figure may move.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Noise {
    /// What it follows from.
    pub basis: Basis,
    /// Mean of the differences seed by seed, second side less first.
    pub by_seed: Option<f64>,
    /// Up to which that mean, or without one the change, says nothing.
    pub band: f64,
    /// Up to which another choice of seeds might change the figure, by the first side's spread.
    pub reseeded: Option<f64>,
}

impl Noise {
    /// Of a figure on both sides.
    #[must_use]
    pub fn of(a: &Figure, b: &Figure) -> Self {
        let size = size(a, b);
        let exact = Self {
            basis: Basis::Exact,
            by_seed: None,
            band: ROUNDING * size,
            reseeded: None,
        };
        let (n, ridden) = (a.seeds.len(), a.over != Over::Nothing);
        if a.over != b.over || n != b.seeds.len() {
            return Self {
                basis: Basis::OtherSeeds,
                band: band(a, b),
                ..exact
            };
        }
        let differences: Vec<f64> = b.seeds.iter().zip(&a.seeds).map(|(b, a)| b - a).collect();
        let by_seed = (n > 0).then(|| differences.iter().sum::<f64>() / n as f64);
        let mean = Self { by_seed, ..exact };
        if a.unit == "count" {
            // Of the same cases from the same seeds: one more is one more.
            return mean;
        }
        let Some((spread, first)) = deviation(&differences).zip(deviation(&a.seeds)) else {
            let band = if ridden { LEAST * size } else { exact.band };
            return Self { band, ..mean };
        };
        let factor = student(n - 1, DEVIATIONS);
        let root = (n as f64).sqrt();
        let of_one = match a.over {
            Over::Worst => of_the_worst(n),
            _ => 1.0 / root,
        };
        Self {
            basis: Basis::SameSeeds,
            band: (factor * spread / root).max(LEAST * size),
            reseeded: Some((factor * SQRT_2 * of_one * first).max(LEAST * size)),
            ..mean
        }
    }

    /// The part of a change that counts: that of the mean by seed, or of the figure itself. None within noise.
    #[must_use]
    pub fn counts(&self, change: f64) -> Option<f64> {
        let beyond = |x: f64, band: f64| (x.abs() > band).then_some(x);
        let own = match self.basis {
            Basis::SameSeeds => self.reseeded.and_then(|band| beyond(change, band)),
            Basis::OtherSeeds | Basis::Exact => beyond(change, self.band),
        };
        // What is farther away than other seeds would bring it comes first: it is the figure that limits are held against.
        own.or_else(|| self.by_seed.and_then(|mean| beyond(mean, self.band)))
    }
}

fn size(a: &Figure, b: &Figure) -> f64 {
    let of = |f: &Figure| f.value.unwrap_or(0.0).abs();
    of(a).max(of(b))
}

/// Standard deviation of the figures of the seeds; none for fewer than two.
#[must_use]
pub fn deviation(seeds: &[f64]) -> Option<f64> {
    let n = seeds.len() as f64;
    let mean = seeds.iter().sum::<f64>() / n;
    let squares: f64 = seeds.iter().map(|s| (s - mean).powi(2)).sum();
    (seeds.len() > 1).then(|| (squares / (n - 1.0)).sqrt())
}

/// Standard deviation of the largest of `n` normal values over that of one: within 2 % of the tables of order statistics
/// for 2 to 10 values (0.826, 0.748, 0.669, 0.587 for 2, 3, 5, 10).
#[must_use]
pub fn of_the_worst(n: usize) -> f64 {
    0.826 * (2.0 / n.max(2) as f64).powf(0.212)
}

/// Share of the normal distribution within so many standard deviations: the error function by its series (Abramowitz and
/// Stegun, 7.1.5), for up to five.
fn normal_within(deviations: f64) -> f64 {
    let x = deviations / SQRT_2;
    let (mut term, mut sum) = (x, x);
    for n in 1..150 {
        term *= -x * x / f64::from(n);
        sum += term / f64::from(2 * n + 1);
    }
    2.0 / PI.sqrt() * sum
}

/// Share of Student's t distribution within `t` (Abramowitz and Stegun, 26.7.3 and 26.7.4).
fn student_within(freedom: usize, t: f64) -> f64 {
    let angle = (t / (freedom as f64).sqrt()).atan();
    let (sine, cosine) = angle.sin_cos();
    let odd = freedom % 2 == 1;
    let first = if odd { 1 } else { 0 };
    let (mut term, mut sum) = (if odd { cosine } else { 1.0 }, 0.0);
    for power in (first..freedom.saturating_sub(1)).step_by(2) {
        sum += term;
        term *= cosine * cosine * (power + 1) as f64 / (power + 2) as f64;
    }
    if odd {
        (angle + sine * sum) * 2.0 / PI
    } else {
        sine * sum
    }
}

/// What Student's t with so many degrees of freedom stays within as often as a normal value stays within so many standard
/// deviations (up to five).
#[must_use]
pub fn student(freedom: usize, deviations: f64) -> f64 {
    let wanted = normal_within(deviations);
    let (mut low, mut high) = (0.0, 1.0e9);
    while high - low > 1.0e-12 * high {
        let middle = 0.5 * (low + high);
        if student_within(freedom.max(1), middle) < wanted {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

/// Standard deviation of a figure by its seeds; 0 where there is no spread to go by.
fn spread(figure: &Figure) -> f64 {
    let n = figure.seeds.len();
    // Counts of independent cases vary by their root even where the seeds happen to agree.
    let counted = if figure.unit == "count" {
        (figure.value.unwrap_or(0.0).max(0.0) / n.max(1) as f64).sqrt()
    } else {
        0.0
    };
    let one = deviation(&figure.seeds).unwrap_or(0.0);
    let seen = match figure.over {
        Over::Mean => one / (n.max(1) as f64).sqrt(),
        Over::Worst => one * of_the_worst(n),
        Over::Nothing => 0.0,
    };
    seen.max(counted)
}

/// Up to which a difference of two figures of different seeds says nothing.
#[must_use]
pub fn band(a: &Figure, b: &Figure) -> f64 {
    (DEVIATIONS * spread(a).hypot(spread(b))).max(ROUNDING * size(a, b))
}
