//! When the firmware noticed a fault, and the mode it came to.

use super::{Fault, catalogue};
use crate::fault_words::fault_words;
use crate::ride::Sample;
use firmware::{DriveFrame, Faults, Mode};
use serde::Serialize;

/// One fault of a ride and what the firmware made of it.
#[derive(Clone, Debug, Serialize)]
pub struct FaultFigures {
    /// Name in the catalogue.
    pub name: &'static str,
    /// Class of the fault.
    pub class: &'static str,
    /// As the command line takes it.
    pub fault: String,
    /// Onset, s.
    pub onset_s: f64,
    /// Duration, s; none to the end of the ride.
    pub duration_s: Option<f64>,
    /// Size, in `unit`.
    pub size: Option<f64>,
    /// Unit of the size.
    pub unit: Option<&'static str>,
    /// Time from one coming to the next, s.
    pub every_s: Option<f64>,
    /// From the onset to the first fault bit that did not stand before it, s; none when there was none.
    pub noticed_after_s: Option<f64>,
    /// The fault bits in words that then stood for the first time.
    pub noticed_as: Vec<&'static str>,
    /// From the onset until the firmware no longer drove the motor, s; none when it always did.
    pub drive_off_after_s: Option<f64>,
    /// Modes after the onset, each once, in the order in which they came first.
    pub modes: Vec<&'static str>,
    /// Mode at the end of the ride.
    pub mode_at_end: &'static str,
}

/// Watches the firmware from the onset of one fault on.
#[derive(Clone, Debug)]
pub struct Notice {
    fault: Fault,
    before: Faults,
    noticed: Option<(f64, Faults)>,
    drive_off_s: Option<f64>,
    drove: bool,
    /// Numbers of the modes, each once, in the order in which they came first.
    modes: Vec<u8>,
    mode: u8,
}

impl Notice {
    /// Before the ride.
    #[must_use]
    pub const fn new(fault: Fault) -> Self {
        Self {
            fault,
            before: Faults(0),
            noticed: None,
            drive_off_s: None,
            drove: false,
            modes: Vec::new(),
            mode: 0,
        }
    }

    /// Looks at a period of a ride.
    pub fn push(&mut self, sample: &Sample) {
        self.look(sample.time_s, &sample.drive);
    }

    /// Looks at the answer of a period.
    pub fn look(&mut self, time_s: f64, drive: &DriveFrame) {
        let drives = Mode::from_code(drive.mode).is_some_and(Mode::drives);
        // Half a period early: sums of steps are not exact.
        if time_s < self.fault.onset_s - 1.0e-4 {
            (self.before, self.drove) = (Faults(drive.faults), drives);
            return;
        }
        let since = (time_s - self.fault.onset_s).max(0.0);
        let new = Faults(drive.faults & !self.before.0);
        if self.noticed.is_none() && new.any() {
            self.noticed = Some((since, new));
        }
        if self.drove && !drives && self.drive_off_s.is_none() {
            self.drive_off_s = Some(since);
        }
        self.mode = drive.mode;
        if !self.modes.contains(&drive.mode) {
            self.modes.push(drive.mode);
        }
    }

    /// From the onset to the first new fault bit, s, and the new bits.
    #[must_use]
    pub const fn noticed(&self) -> Option<(f64, Faults)> {
        self.noticed
    }

    /// From the onset until the motor was no longer driven, s.
    #[must_use]
    pub const fn drive_off_after_s(&self) -> Option<f64> {
        self.drive_off_s
    }

    /// What it saw.
    #[must_use]
    pub fn figures(&self) -> FaultFigures {
        let fault = &self.fault;
        let entry = catalogue::entry(fault.kind);
        let name = |code: &u8| Mode::from_code(*code).map_or("none", Mode::name);
        FaultFigures {
            name: entry.map_or("", |e| e.name.as_str()),
            class: fault.kind.class().name(),
            fault: fault.to_string(),
            onset_s: fault.onset_s,
            duration_s: fault.duration_s.is_finite().then_some(fault.duration_s),
            size: entry.and_then(|e| e.size).map(|_| fault.size),
            unit: entry.and_then(|e| e.size).map(|a| a.unit),
            every_s: entry.and_then(|e| e.every).map(|_| fault.every_s),
            noticed_after_s: self.noticed.map(|(s, _)| s),
            noticed_as: self
                .noticed
                .map_or_else(Vec::new, |(_, faults)| fault_words(faults)),
            drive_off_after_s: self.drive_off_s,
            modes: self.modes.iter().map(name).collect(),
            mode_at_end: name(&self.mode),
        }
    }
}
