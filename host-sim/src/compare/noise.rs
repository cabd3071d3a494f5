//! How far a figure may move by the choice of seeds alone.
//!
//! The same code and seeds give the same figures, bit for bit. A change of the law changes the course of every ride, as
//! another seed would. So a change counts only beyond twice the standard deviation that the difference of two such
//! figures has, worked out from the spread over the seeds that the dossiers hold.

use crate::dossier::{Figure, Over};
use crate::limits::constant;

/// Differences up to this share are roundings: the last bit of a system's sine, through a minute of ride.
const ROUNDING: f64 = 1.0e-6;
/// A change counts beyond so many standard deviations; common practice, no source.
const DEVIATIONS: f64 = constant::COMPARE_DEVIATIONS;

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

/// Up to which a difference of two figures says nothing.
#[must_use]
pub fn band(a: &Figure, b: &Figure) -> f64 {
    let size = a
        .value
        .unwrap_or(0.0)
        .abs()
        .max(b.value.unwrap_or(0.0).abs());
    (DEVIATIONS * spread(a).hypot(spread(b))).max(ROUNDING * size)
}
