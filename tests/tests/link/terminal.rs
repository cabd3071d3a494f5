//! The link over a pseudo-terminal: the same bits as a controller in this process, on a good
//! line and on a bad one. Our own rule.

use becalm_tests::link::line::{Harm, board};
use becalm_tests::link::{TestHooks, parameters, ride_frames, terminal};
use firmware::link::{Bits, INSIDE, inside_bits};
use firmware::{Cycle, Mode, SensorFrame};
use host_sim::link::{DEFAULT_BAUD, InsideValue, Patience, RemoteCore};
use shared_math::Q24;
use std::time::{Duration, Instant};

/// Short waits, many repeats: a lost packet costs little.
const BUSY: Patience = Patience {
    answer: Duration::from_millis(10),
    repeats: 200,
};

fn expected<S: Bits>(cycle: &mut Cycle<S>, frame: &SensorFrame) -> Vec<InsideValue> {
    let bits = inside_bits(&cycle.watch(frame).1);
    INSIDE
        .iter()
        .zip(bits)
        .map(|((stage, name), bits)| (*stage, *name, bits))
        .collect()
}

/// Drives a ride through the link and beside it through a cycle of this process.
fn same_bits<S: Bits>(patience: Patience, seed: Option<u64>) -> [Harm; 2] {
    let (master, path) = terminal();
    let thread = board::<S>(master, parameters(), seed);
    let mut remote =
        RemoteCore::serial(&path, DEFAULT_BAUD, parameters(), patience).expect("a greeting");
    assert_eq!(remote.hello().core, "a thread of the test");
    assert_eq!(remote.hello().arithmetic, S::ARITHMETIC);
    assert_eq!(remote.hello().step_s, parameters().timing.step_s);

    // Something to forget, then the ride.
    remote.steps(&ride_frames()[4000..4100]).expect("steps");
    remote.reset().expect("ready");
    let mut local = Cycle::<S>::new(parameters()).expect("parameters");
    let (mut active, mut looked) = (0, 0);
    let mut dice = becalm_tests::link::Dice(7);
    let mut left = ride_frames();
    let start = Instant::now();
    while !left.is_empty() {
        // Batches of every length, beyond the largest too; now and then a single step.
        let (now, rest) = left.split_at((1 + dice.below(70)).min(left.len()));
        left = rest;
        if let [frame] = now {
            if dice.below(2) == 0 {
                assert_eq!(remote.step(frame).expect("a step"), local.step(frame));
            } else {
                let values = remote.inside(frame).expect("values");
                assert_eq!(values, expected(&mut local, frame));
                looked += 1;
            }
        } else {
            let answers = remote.steps(now).expect("steps");
            assert_eq!(answers.len(), now.len());
            for (frame, (drive, cost)) in now.iter().zip(answers) {
                assert_eq!(drive, local.step(frame), "frame {}", frame.sequence);
                assert_eq!(cost, TestHooks::cost(frame));
                active += usize::from(drive.mode == Mode::Active.code());
            }
        }
    }
    let rate = ride_frames().len() as f64 / start.elapsed().as_secs_f64();
    assert!(looked > 0, "never looked inside");
    assert!(active > 1000, "{active} active steps: too few to mean much");
    let status = remote.status().expect("status");
    assert_eq!(status.steps as usize, ride_frames().len());
    assert_eq!(status.stack_bytes, 1234);
    let tally = remote.tally();
    println!(
        "{} {seed:?}: {rate:.0} frames/s, {tally:?} {status:?}",
        S::ARITHMETIC
    );
    if seed.is_none() {
        assert_eq!(status.damaged + status.refused, 0);
        assert_eq!(tally.damaged, 0);
    } else {
        assert!(status.damaged > 5 && status.repeated > 5 && status.refused > 0);
        assert!(tally.damaged > 5 && tally.stale > 5 && tally.repeats > 20);
    }
    drop(remote);
    thread.join().expect("the board's thread")
}

#[test]
fn a_good_line_single_precision() {
    same_bits::<f32>(Patience::default(), None);
}

#[test]
fn a_good_line_fixed_point() {
    same_bits::<Q24>(Patience::default(), None);
}

/// Each frame is stepped once and in order, whatever the line does.
fn bad_line<S: Bits>(seed: u64) {
    let harm = same_bits::<S>(BUSY, Some(seed));
    println!("{harm:?}");
    for way in harm {
        assert!(
            way.dropped > 5
                && way.corrupted > 5
                && way.shortened > 5
                && way.repeated > 5
                && way.swapped > 5,
            "the line was too good: {harm:?}"
        );
    }
}

#[test]
fn a_bad_line_single_precision() {
    bad_line::<f32>(1);
}

#[test]
fn another_bad_line_single_precision() {
    bad_line::<f32>(2);
}

#[test]
fn a_bad_line_fixed_point() {
    bad_line::<Q24>(3);
}
