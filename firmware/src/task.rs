//! The fixed-rate task: sample, step, put out, and mind the time.
//!
//! # Deadline
//!
//! The answer to the frame of a period must be out before the next period begins. Latency is part of the
//! law (`timing.latency_s`): sampling takes place at the beginning of a period, the answer
//! acts from some moment before its end until the next answer comes. So the deadline is the period itself,
//! less nothing: the plant was designed with one whole period from sample to command, and an answer
//! that is early does no harm.
//!
//! The step has no data-dependent loop, so its time hardly varies; what is left is the
//! bus. A task whose step and transfers take less than half of the period, and which no interrupt of
//! longer than the other half delays, keeps the deadline.
//!
//! # When it is missed
//!
//! A late answer is put out all the same, is counted, marked in the next frame and so known to the
//! law; the watchdog is not refreshed in that period. Skipped periods show in the
//! sequence number. Both are tolerated up to a stated number (`vet.late_strikes`,
//! `vet.sequence_strikes`), then the seat goes to the safe state. When no answer comes at all,
//! the watchdog resets the controller.
//!
//! # Flight recorder
//!
//! [`Task::tick_recorded`] shows the period to a [`Recorder`] after the answer is out and the watchdog refreshed, so that
//! the way from sample to answer takes as long as without. On a Cortex-M4F a frame takes 123 instructions; in the
//! period that begins a block the snapshot takes 1500 more, in one go: the state is of one instant. Both lie in the rest of the
//! period, of which the law's step takes a few hundredths.
//!
//! # Log
//!
//! With the feature `defmt` the start, every change of mode or faults, and the first of a row of late answers,
//! skipped periods, silent sensors and refused outputs are logged, after the answer is out and the
//! watchdog refreshed. The time this takes is the port's: a transport that blocks makes the next period late.

use crate::board::Board;
use crate::check::BuildError;
use crate::commission::{Commission, State};
use crate::cycle::Cycle;
use crate::frame::{DriveFrame, Marks, SensorFrame};
use crate::journal::{Journal, Seen};
use crate::log::{log_info, log_warn};
use crate::parameters::Parameters;
use crate::recorder::{Recorded, Recorder};
use crate::vet::Faults;
use shared_math::Scalar;

/// What went wrong outside the law since reset. Counts stop at their largest value.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Tally {
    /// Answers that came after their period had ended.
    pub late: u32,
    /// Periods in which no step was made.
    pub skipped: u32,
    /// Samples in which a sensor's driver gave no value.
    pub sensor_errors: u32,
    /// Answers that an output did not take.
    pub output_errors: u32,
}

/// The controller with its clock.
#[derive(Clone, Debug)]
pub struct Task<S> {
    cycle: Cycle<S>,
    pace: Pace,
    journal: Journal,
}

/// The task of the commissioning test: the same rounds, answered by [`Commission`] instead of the law.
///
/// A board runs it first where the machine is new or was changed, and starts the law's [`Task`] only when
/// [`CommissionTask::finished`] says that it may be armed; else it stays here, in the safe state.
#[derive(Clone, Debug)]
pub struct CommissionTask {
    commission: Commission,
    pace: Pace,
}

/// Rounds at the fixed rate, and what went wrong in them.
#[derive(Clone, Copy, Debug, Default)]
struct Pace {
    period: Option<u32>,
    marks: u8,
    tally: Tally,
}

/// One round.
struct Round {
    frame: SensorFrame,
    drive: DriveFrame,
    period: u32,
    /// Marks of sensors alone.
    sensors: u8,
    skipped: u32,
    late: bool,
    taken: bool,
}

impl Pace {
    /// Sample, step, put out, refresh the watchdog when in time.
    fn round(
        &mut self,
        board: &mut impl Board,
        step: impl FnOnce(&SensorFrame) -> DriveFrame,
    ) -> Round {
        let period = board.period();
        let skipped = self
            .period
            .map_or(0, |last| period.wrapping_sub(last).saturating_sub(1));
        self.period = Some(period);
        let mut frame = board.sample();
        frame.sequence = period as u16;
        frame.marks.0 = frame.marks.0 & SENSORS | self.marks;
        let drive = step(&frame);
        let taken = board.apply(&drive);
        let late = board.period() != period;
        self.marks = if taken { 0 } else { Marks::OUTPUT } | if late { Marks::LATE } else { 0 };
        if !late {
            board.refresh_watchdog();
        }
        let sensors = frame.marks.0 & SENSORS;
        let count = |n: &mut u32, more: u32| *n = n.saturating_add(more);
        count(&mut self.tally.skipped, skipped);
        count(&mut self.tally.late, late.into());
        count(&mut self.tally.output_errors, (!taken).into());
        count(&mut self.tally.sensor_errors, (sensors != 0).into());
        Round {
            frame,
            drive,
            period,
            sensors,
            skipped,
            late,
            taken,
        }
    }
}

impl CommissionTask {
    /// Puts the safe state out, then builds the test.
    ///
    /// # Errors
    /// When a parameter cannot be used; the error names it. The board stays in the safe state.
    pub fn start(board: &mut impl Board, parameters: &Parameters) -> Result<Self, BuildError> {
        let _ = board.apply(&DriveFrame::SAFE);
        Ok(Self {
            commission: Commission::new(parameters)?,
            pace: Pace::default(),
        })
    }

    /// One control period. Call it once in each, as early in it as can be.
    pub fn tick(&mut self, board: &mut impl Board) -> DriveFrame {
        let commission = &mut self.commission;
        self.pace.round(board, |frame| commission.step(frame)).drive
    }

    /// Whether the law may be armed, once the test has ended.
    #[must_use]
    pub fn finished(&self) -> Option<bool> {
        let ended = matches!(self.commission.state(), State::Done | State::Aborted(_));
        ended.then(|| self.commission.may_arm())
    }

    /// The test, to look into.
    #[must_use]
    pub const fn commission(&self) -> &Commission {
        &self.commission
    }

    /// What went wrong outside the test since its start.
    #[must_use]
    pub const fn tally(&self) -> Tally {
        self.pace.tally
    }
}

const SENSORS: u8 = !(Marks::OUTPUT | Marks::LATE);

impl<S: Scalar> Task<S> {
    /// Puts the safe state out, then builds the controller.
    ///
    /// # Errors
    /// When a parameter cannot be used; the error names it. The board stays in the safe state.
    pub fn start(board: &mut impl Board, parameters: &Parameters) -> Result<Self, BuildError> {
        let _ = board.apply(&DriveFrame::SAFE);
        let cycle =
            Cycle::new(parameters).inspect_err(|error| log_warn!("not started: {}", error))?;
        log_info!(
            "started: arithmetic {=str}, step {=f32} s",
            core::any::type_name::<S>(),
            parameters.timing.step_s
        );
        Ok(Self {
            cycle,
            pace: Pace::default(),
            journal: Journal::default(),
        })
    }

    /// One control period. Call it once in each, as early in it as can be.
    pub fn tick(&mut self, board: &mut impl Board) -> DriveFrame {
        self.round(board).drive
    }

    fn round(&mut self, board: &mut impl Board) -> Round {
        let cycle = &mut self.cycle;
        let round = self.pace.round(board, |frame| cycle.step(frame));
        let seen = Seen {
            mode: self.cycle.mode(),
            faults: Faults(round.drive.faults),
            // Marks of sensors are the same bits as their faults.
            sensors: Faults(round.sensors.into()),
            skipped: round.skipped,
            late: round.late,
            refused: !round.taken,
        };
        self.journal.note(round.period, &seen, &self.pace.tally);
        round
    }

    /// What went wrong outside the law since reset.
    #[must_use]
    pub const fn tally(&self) -> Tally {
        self.pace.tally
    }

    /// The controller, to look into.
    #[must_use]
    pub const fn cycle(&self) -> &Cycle<S> {
        &self.cycle
    }
}

impl<S: Recorded> Task<S> {
    /// [`Task::tick`] with a flight recorder, to which the controller was shown before its first period
    /// ([`Recorder::begin`] with [`Task::cycle`]). A period that is ticked without it breaks the recording.
    pub fn tick_recorded<const BLOCKS: usize, const FRAMES: usize>(
        &mut self,
        board: &mut impl Board,
        recorder: &mut Recorder<BLOCKS, FRAMES>,
    ) -> DriveFrame {
        let round = self.round(board);
        recorder.note(&self.cycle, &round.frame, &round.drive);
        round.drive
    }
}
