//! The same work on many items, spread over threads; the answers in the order of the items.
//!
//! Threads take the items in their order, one at a time. Each item is worked on alone, so neither the answers nor
//! the failure that is told depends on the number of threads.

use std::convert::Infallible;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Number of processors that may be used; at least 1.
#[must_use]
pub fn processors() -> usize {
    std::thread::available_parallelism().map_or(1, usize::from)
}

/// `work` for every item 0 to `count - 1`, in up to `threads` threads (0 counts as 1).
///
/// # Panics
/// When `work` does.
pub fn map<R: Send>(threads: usize, count: usize, work: impl Fn(usize) -> R + Sync) -> Vec<R> {
    let answers = try_map(threads, count, |n| Ok::<R, Infallible>(work(n)), |_| ());
    match answers {
        Ok(answers) => answers,
        Err(never) => match never {},
    }
}

/// The same for work that may fail: after a failure no further item is begun. `done` hears, after each item, how many
/// are finished.
///
/// # Errors
/// The failure of the first item, in their order, that fails.
///
/// # Panics
/// When `work` or `done` does.
pub fn try_map<R: Send, E: Send>(
    threads: usize,
    count: usize,
    work: impl Fn(usize) -> Result<R, E> + Sync,
    done: impl Fn(usize) + Sync,
) -> Result<Vec<R>, E> {
    let (next, finished) = (AtomicUsize::new(0), AtomicUsize::new(0));
    let run = || {
        let mut mine = Vec::new();
        loop {
            let n = next.fetch_add(1, Ordering::Relaxed);
            if n >= count {
                return mine;
            }
            let answer = work(n);
            if answer.is_err() {
                // Those before this one have begun and will be finished; those after it need not begin.
                next.store(count, Ordering::Relaxed);
            }
            mine.push((n, answer));
            done(finished.fetch_add(1, Ordering::Relaxed) + 1);
        }
    };
    let mut answers: Vec<_> = std::thread::scope(|scope| {
        let handles: Vec<_> = (0..threads.max(1).min(count))
            .map(|_| scope.spawn(run))
            .collect();
        handles
            .into_iter()
            .flat_map(|handle| match handle.join() {
                Ok(mine) => mine,
                Err(panic) => std::panic::resume_unwind(panic),
            })
            .collect()
    });
    answers.sort_by_key(|(n, _)| *n);
    answers.into_iter().map(|(_, answer)| answer).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Mutex;
    use std::time::Duration;

    /// Early items take longest, so that they finish last.
    fn slow_start(n: usize, count: usize) {
        std::thread::sleep(Duration::from_micros(200 * (count - n) as u64));
    }

    #[test]
    fn the_order_is_kept_by_any_number_of_threads() {
        for threads in [0, 1, 2, 7, 100] {
            let squares = map(threads, 20, |n| {
                slow_start(n, 20);
                n * n
            });
            let expected: Vec<usize> = (0..20).map(|n| n * n).collect();
            assert_eq!(squares, expected, "{threads} threads");
        }
    }

    #[test]
    fn no_items_give_no_answers() {
        assert_eq!(map(4, 0, |n| n), Vec::<usize>::new());
        let none: Result<Vec<usize>, ()> = try_map(1, 0, Ok, |_| panic!("nothing to finish"));
        assert_eq!(none, Ok(Vec::new()));
    }

    #[test]
    fn the_first_failure_is_told_and_no_more_is_begun() {
        for threads in [1, 2, 7] {
            let begun = AtomicUsize::new(0);
            let found = try_map(
                threads,
                10_000,
                |n| {
                    begun.fetch_add(1, Ordering::Relaxed);
                    // The later failures come sooner.
                    if (5..12).contains(&n) {
                        slow_start(n, 12);
                        Err(n)
                    } else {
                        std::thread::sleep(Duration::from_micros(500));
                        Ok(n)
                    }
                },
                |_| (),
            );
            assert_eq!(found, Err(5), "{threads} threads");
            // Other threads may take more items before they can hear of a failure, but not many.
            let begun = begun.into_inner();
            assert!(begun < 1000, "{begun} of 10000 begun");
        }
    }

    #[test]
    fn every_finished_item_is_counted() {
        let counts = Mutex::new(Vec::new());
        let all: Result<Vec<usize>, ()> = try_map(3, 50, Ok, |finished| {
            counts.lock().expect("no panic").push(finished);
        });
        assert_eq!(all.map(|all| all.len()), Ok(50));
        let mut counts = counts.into_inner().expect("no panic");
        counts.sort_unstable();
        assert_eq!(counts, (1..=50).collect::<Vec<_>>());
    }

    #[test]
    #[should_panic(expected = "item 3")]
    fn a_panic_goes_on() {
        map(2, 5, |n| assert!(n != 3, "item {n}"));
    }
}
