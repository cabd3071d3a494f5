//! Late, skipped, uneven, repeated periods and restarts, against a law of one's own that is fed the same frames
//! and against a sound machine that gets the answers as they should act.

use becalm_tests::faults::{
    bits, clean, current, cycle, drive, hauler, machine, rig, seated, twin_frames,
};
use firmware::{DriveFrame, Marks, SensorFrame};
use host_sim::closed_loop::switches;

/// Frames and answers of a broken machine under its own law.
fn ridden(faults: &[&str], periods: u64) -> Vec<(SensorFrame, DriveFrame)> {
    let rig = rig();
    let mut machine = machine(&rig, seated(), faults);
    let mut floor = hauler(1.0);
    let mut now = floor.next_accel();
    (0..periods)
        .map(|_| {
            let end = floor.next_accel();
            let asked = machine.ask(now, switches(true));
            machine.advance(asked.answer, now, end);
            now = end;
            (asked.frame, asked.answer)
        })
        .collect()
}

/// The answer of a late period acts nowhere: the one before acts twice. The next frame says so.
#[test]
fn late_answers_leave_the_last_one_acting() {
    let rig = rig();
    let wave = |k: u64| current(&rig, 0.01 * (k % 500) as f64);
    let late = |k: u64| (1000..1300).contains(&k) && (k - 1000).is_multiple_of(5);
    let mut stated = Vec::new();
    let held = |k: u64| wave(if late(k) { k - 1 } else { k });
    drive(&rig, seated(), &[], (1.0, 2000), held, |_, _, p| {
        stated.push(bits(p))
    });
    let faults = ["late:onset=1,duration=0.3,every=0.005"];
    drive(&rig, seated(), &faults, (1.0, 2000), wave, |k, f, p| {
        assert_eq!(bits(p), stated[k as usize], "{k}");
        let marked = f.marks == Marks(Marks::LATE);
        assert_eq!(marked, k > 0 && late(k - 1), "{k}");
    });
}

/// A law of one's own, fed the frames of the other periods alone, says the same.
#[test]
fn skipped_periods_are_not_seen_by_the_law() {
    let mut own = cycle(&rig());
    let mut last = DriveFrame::default();
    for (k, (frame, answer)) in ridden(&["skipped:onset=1,every=0.004"], 3000)
        .iter()
        .enumerate()
    {
        assert_eq!(frame.sequence, k as u16);
        if k < 1000 || !(k - 1000).is_multiple_of(4) {
            last = own.step(frame);
        }
        assert_eq!(*answer, last, "{k}");
    }
}

/// With clean sensors every reading lies between two readings of the sound machine, on average half way.
#[test]
fn jitter_samples_early() {
    let rig = clean(rig());
    let frames = becalm_tests::faults::twin_frames_of(&rig, &["jitter:onset=1,size=1"], 4000);
    let (mut early, mut count) = (0.0, 0.0);
    for (k, pair) in frames.windows(2).enumerate() {
        let ((then, _), (now, jittered)) = (pair[0], pair[1]);
        if k + 1 < 1000 {
            assert_eq!(now, jittered);
            continue;
        }
        let (a, b) = (
            then.floor_accel.min(now.floor_accel),
            then.floor_accel.max(now.floor_accel),
        );
        assert!((a..=b).contains(&jittered.floor_accel), "{k}");
        let step = f64::from(then.floor_accel) - f64::from(now.floor_accel);
        if step.abs() > 10.0 {
            early += (f64::from(jittered.floor_accel) - f64::from(now.floor_accel)) / step;
            count += 1.0;
        }
    }
    // Even over 0 to 1: 0.29 r.m.s.; four standard deviations.
    assert!(count > 300.0);
    assert!(
        (early / count - 0.5).abs() < 4.0 * 0.29 / f64::sqrt(count),
        "{}",
        early / count
    );
}

#[test]
fn the_number_jumps_once() {
    for (k, (sound, broken)) in twin_frames(&["sequence-jump:onset=1,size=65000"], 2000)
        .iter()
        .enumerate()
    {
        let more = if k >= 1000 { 65_000 } else { 0 };
        let stated = SensorFrame {
            sequence: sound.sequence.wrapping_add(more),
            ..*sound
        };
        assert_eq!(*broken, stated, "{k}");
    }
}

#[test]
fn frames_come_again() {
    let frames = twin_frames(&["frames-repeated:onset=1,duration=0.5,every=0.003"], 2000);
    for (k, (sound, broken)) in frames.iter().enumerate() {
        let again = (1000..1500).contains(&k) && (k - 1000).is_multiple_of(3);
        let stated = if again { frames[k - 1].1 } else { *sound };
        assert_eq!(*broken, stated, "{k}");
    }
    let frames = twin_frames(&["clock-frozen:onset=1,duration=0.5"], 2000);
    for (k, (sound, broken)) in frames.iter().enumerate() {
        let stated = if (1000..1500).contains(&k) {
            frames[999].0
        } else {
            *sound
        };
        assert_eq!(*broken, stated, "{k}");
    }
}

/// Windings shorted while it is dead, then the answers of a law that begins with the first frame after it.
#[test]
fn a_restart_begins_anew() {
    let ridden = ridden(&["watchdog:onset=4,size=0.2"], 9000);
    let mut before = cycle(&rig());
    let mut after = cycle(&rig());
    for (k, (frame, answer)) in ridden.iter().enumerate() {
        match k {
            0..4000 => assert_eq!(*answer, before.step(frame), "{k}"),
            4000..4200 => assert_eq!(*answer, DriveFrame::SAFE, "{k}"),
            _ => {
                assert_eq!(usize::from(frame.sequence), k - 4200);
                assert_eq!(*answer, after.step(frame), "{k}");
            }
        }
    }
    // The outputs rest in the safe state at once, not a period later.
    let rig = rig();
    let mut stated = Vec::new();
    let drives = |_| current(&rig, 5.0);
    let short = |k| {
        if k < 999 {
            current(&rig, 5.0)
        } else {
            DriveFrame::SAFE
        }
    };
    drive(&rig, seated(), &[], (1.0, 1200), short, |_, _, p| {
        stated.push(bits(p))
    });
    // Whatever a caller sends meanwhile, it does not come through.
    drive(
        &rig,
        seated(),
        &["watchdog:onset=1,size=0.3"],
        (1.0, 1200),
        drives,
        |k, _, p| {
            if k <= 1000 {
                assert_eq!(bits(p), stated[k as usize], "{k}");
            }
        },
    );
}
