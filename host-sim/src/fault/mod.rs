//! Faults put into the bench: what can break, how much, when, and what the firmware made of it.
//!
//! A [`Fault`] is one kind from the [`catalogue()`] with its onset, duration and size. A ride takes a list of
//! them ([`crate::ride::RideSpec::faults`]), or [`crate::closed_loop::ClosedLoop::inject`] one
//! [`Injection`] while it runs. Each acts where it sits: in a sensor before or behind its converter, in
//! the answer's way to the motor, in the plant's constants, in when the law is called and with what, in the
//! law's memory. Same faults, same seed: same bits. Without one nothing is different.
//!
//! | file | purpose |
//! |---|---|
//! | [`kind`] | what can break, as types |
//! | [`mod@catalogue`] | every kind with its name, words and ranges |
//! | `parse` | a fault from text |
//! | `injection` | the faults of a ride while it runs |
//! | `sensor` | what a broken sensor makes of its reading |
//! | `machine` | motor, output stage, support, supply and what lies under the seat |
//! | `time` | late, skipped, uneven and repeated periods, restarts |
//! | [`memory`] | words of the law's memory by name, and one bit of one of them |
//! | `operator` | who sits there, and the switches |
//! | [`notice`] | when the firmware noticed, and the mode it came to |

pub mod catalogue;
mod injection;
pub mod kind;
mod machine;
pub mod memory;
pub mod notice;
mod operator;
mod parse;
mod sensor;
mod time;

pub use catalogue::{Argument, Entry, Lasts, catalogue};
pub use injection::{InjectError, Injection};
pub use kind::{ActuatorFault, Class, Kind, OperatorFault, SensorFault, SupplyFault, TimeFault};
pub(crate) use operator::occupants;
pub use parse::FaultError;
pub(crate) use parse::Given;

use std::fmt;

/// One thing that breaks in a ride.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fault {
    /// What.
    pub kind: Kind,
    /// When it begins, s.
    pub onset_s: f64,
    /// How long it lasts, s; infinite for the rest of the ride, zero where the kind has no duration.
    pub duration_s: f64,
    /// How much, in the unit of the catalogue's entry; zero where the kind has no size.
    pub size: f64,
    /// How often it comes, s; zero where the kind does not say.
    pub every_s: f64,
}

/// When a fault begins unless told otherwise, s: the operator has been lifted and the filters have settled.
pub const ONSET_S: f64 = 10.0;

impl Fault {
    /// The kind of a catalogue's entry as the catalogue has it.
    #[must_use]
    pub fn usual(entry: &Entry) -> Self {
        Self {
            kind: entry.kind,
            onset_s: ONSET_S,
            duration_s: match entry.lasts {
                Lasts::ToTheEnd => f64::INFINITY,
                Lasts::For(s) => s,
                Lasts::Moment => 0.0,
            },
            size: entry.size.map_or(0.0, |a| a.default),
            every_s: entry.every.map_or(0.0, |a| a.default),
        }
    }

    /// The control periods in which it acts: from the first to before the second.
    #[must_use]
    pub fn periods(&self, step_s: f64) -> (u64, u64) {
        let count = |s: f64| (s / step_s).round().min(1.0e18) as u64;
        let start = count(self.onset_s);
        let end = match self.kind {
            Kind::MemoryFlip | Kind::Time(TimeFault::SequenceJump) => start + 1,
            // It lasts as long as the controller is dead, and one period in which it is restarted.
            Kind::Time(TimeFault::Watchdog) => start + count(self.size) + 1,
            _ => count(self.onset_s + self.duration_s).max(start),
        };
        (start, end)
    }
}

impl fmt::Display for Fault {
    /// As the command line takes it.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Some(entry) = catalogue::entry(self.kind) else {
            return write!(f, "{:?}", self.kind);
        };
        write!(f, "{}:onset={}", entry.name, self.onset_s)?;
        if entry.lasts != Lasts::Moment && self.duration_s.is_finite() {
            write!(f, ",duration={}", self.duration_s)?;
        }
        if entry.size.is_some() {
            write!(f, ",size={}", self.size)?;
        }
        if entry.every.is_some() {
            write!(f, ",every={}", self.every_s)?;
        }
        Ok(())
    }
}
