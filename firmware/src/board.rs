//! What the law needs of a board: four calls, raw counts, no waiting.

use crate::frame::{DriveFrame, SensorFrame};

/// A controller board, or whatever stands in for one.
///
/// A port implements this and calls [`crate::Task::tick`] once every control period,
/// best from the interrupt of the timer that [`Board::period`] counts. Nothing of the law is in it.
///
/// No call may wait longer than its own bus transfer takes, and none may panic. A sensor that
/// gives no value is marked in the frame ([`crate::Marks`]); the count beside a mark is not used.
pub trait Board {
    /// Every sensor once, as close to the beginning of the period as the board can. The
    /// sequence number is filled in by the task.
    fn sample(&mut self) -> SensorFrame;

    /// Puts the answer out: current command, enable, damp, height adjuster. Whether every
    /// output took it. An output that is not reached must fall back to the safe state by itself.
    fn apply(&mut self, drive: &DriveFrame) -> bool;

    /// Control periods since reset, by the timer that starts them; wraps. It must go on
    /// counting while the task runs: that is how an overrun is seen.
    fn period(&mut self) -> u32;

    /// Refreshes the watchdog.
    ///
    /// The contract: a windowed watchdog, by a clock of its own. The task calls this once in
    /// every period whose answer was put out before the period ended, right after the outputs, and not
    /// at all in the others. The window opens after half a period and closes after
    /// [`WATCHDOG_PERIODS`] periods without a call. A call too early or too late resets the
    /// controller, whose outputs must then rest in the safe state: drive disabled,
    /// windings shorted.
    fn refresh_watchdog(&mut self);
}

/// Control periods without a refresh after which the watchdog resets the controller.
pub const WATCHDOG_PERIODS: u32 = 10;
