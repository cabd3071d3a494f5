//! What goes wrong with the controller's time: when the law is called, with which frame, and when its answer acts.

use super::injection::Running;
use super::kind::{Kind, TimeFault};
use crate::sensors::{Chance, Truth};

/// What becomes of the law's step in a period.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Step {
    /// It is made.
    Made,
    /// It is not, and the outputs stay as they are.
    Skipped,
    /// The controller is dead, its outputs rest in the safe state.
    Dead,
    /// The controller has been reset, and begins with this period.
    Restarted,
}

/// What one time fault makes of the step of a period, `since` periods after its onset.
pub(super) fn step(running: &Running, since: u64) -> Step {
    match running.fault.kind {
        Kind::Time(TimeFault::Skipped) if since.is_multiple_of(running.every) => Step::Skipped,
        Kind::Time(TimeFault::Watchdog) if since + 1 == running.end - running.start => {
            Step::Restarted
        }
        Kind::Time(TimeFault::Watchdog) => Step::Dead,
        _ => Step::Made,
    }
}

/// Whether the answer of a period comes after its end.
pub(super) fn late(running: &Running, since: u64) -> bool {
    running.fault.kind == Kind::Time(TimeFault::Late) && since.is_multiple_of(running.every)
}

/// Whether the frame before is given again.
pub(super) fn repeats(running: &Running, since: u64) -> bool {
    match running.fault.kind {
        Kind::Time(TimeFault::ClockFrozen) => true,
        Kind::Time(TimeFault::FramesRepeated) => since.is_multiple_of(running.every),
        _ => false,
    }
}

/// By how much the number of this frame and of all that follow jumps.
pub(super) fn jump(running: &Running, since: u64) -> u16 {
    match running.fault.kind {
        Kind::Time(TimeFault::SequenceJump) if since == 0 => running.fault.size.round() as u16,
        _ => 0,
    }
}

/// The truth `early` of a period ago, linear between the last two.
pub(super) fn sampled_early(last: &Truth, now: &Truth, early: f64) -> Truth {
    let mix = |last: f64, now: f64| now + early * (last - now);
    Truth {
        floor_accel: mix(last.floor_accel, now.floor_accel),
        seat_accel: mix(last.seat_accel, now.seat_accel),
        travel: mix(last.travel, now.travel),
        current: mix(last.current, now.current),
        supply: mix(last.supply, now.supply),
        coil_c: mix(last.coil_c, now.coil_c),
    }
}

/// How early, in periods: even from 0 to `most`.
pub(super) fn how_early(chance: &mut Chance, most: f64) -> f64 {
    most * 0.5 * (chance.even() + 1.0)
}
