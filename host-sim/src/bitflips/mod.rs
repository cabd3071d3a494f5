//! Every bit of the controller's memory turned over, one at a time, in a ride: what becomes of it.
//!
//! | file | purpose |
//! |---|---|
//! | `bench` | the healthy ride, the passive seat beside it, and the moments at which is struck |
//! | `strike` | one bit turned over in one moment: what it ends in |
//! | [`Report`] | how many ended how, by field |
//!
//! The running machine is cloned at every moment, so each strike costs only what comes after it. Same rig, floor
//! and moments: same figures, however many threads.

mod bench;
mod report;
mod strike;

pub use bench::{AFTER_S, Bench, HEAL_S, Setting};
pub use report::{Field, Report, Worst};
pub use strike::{Ending, Strike};

use crate::parallel;

/// Why bits could not be turned over.
#[derive(Debug, thiserror::Error)]
pub enum BitflipError {
    /// The healthy ride cannot be ridden.
    #[error(transparent)]
    Ride(#[from] crate::ride::RideError),
    /// The healthy ride does not isolate when it is to be struck.
    #[error("the healthy ride is in mode {mode} at {time_s:.3} s: expected one that isolates")]
    NotRiding {
        /// The mode.
        mode: &'static str,
        /// When, s.
        time_s: f64,
    },
    /// No word of memory has such a name.
    #[error(
        "field {0}: expected the beginning of a path in the controller's memory, as limit or config.arrest"
    )]
    Field(String),
    /// Asked to end.
    #[error("interrupted; nothing was written")]
    Interrupted,
}

/// Turns over every `every`th bit of the words whose path begins with `field` (all when empty) in each of the bench's
/// moments. `done` hears how many words are finished, `stop` says whether to end.
///
/// # Errors
/// No such field, or asked to end.
pub fn run(
    bench: &Bench<'_>,
    field: &str,
    every: usize,
    threads: usize,
    stop: impl Fn() -> bool + Sync,
    done: impl Fn(usize) + Sync,
) -> Result<Report, BitflipError> {
    let words = bench.words(field);
    if words.is_empty() {
        return Err(BitflipError::Field(field.to_owned()));
    }
    let moments = bench.moments();
    let every = every.max(1);
    let strikes = parallel::try_map(
        threads,
        words.len() * moments,
        |n| {
            let (word, moment) = (words[n / moments], n % moments);
            // The same share of every word, whatever the step.
            let first = (word * 7 + moment * 13) % every;
            (first..32)
                .step_by(every)
                .map(|bit| {
                    if stop() {
                        return Err(BitflipError::Interrupted);
                    }
                    Ok(bench.strike(moment, word as u64 * 32 + bit as u64))
                })
                .collect::<Result<Vec<_>, _>>()
        },
        done,
    )?;
    Ok(Report::new(bench, strikes.iter().flatten()))
}
