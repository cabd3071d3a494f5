#![no_std]
//! Control law of an actively suspended operator's seat.
//!
//! One function is the product: [`Cycle::step`]. It takes a raw
//! [`SensorFrame`] and gives a raw [`DriveFrame`], once every control period:
//!
//! ```text
//! raw frame -> calibrate -> vet -> estimate -> isolate -> arrest -> limit -> drive frame
//!                            \_______________ supervise ________________/
//! ```
//!
//! Each stage is one file with its parameters (SI units, checked by `build`),
//! its immutable configuration and its small state. The law (estimate,
//! isolate, arrest, limit) is written once over [`shared_math::Scalar`].
//!
//! # Caution
//!
//! This code moves a person. It is a basis for engineering work and no
//! certified safety function: limits, parameters and the machine itself must be
//! assessed by qualified people under the rules that hold where it is used.

pub mod agree;
pub mod arrest;
mod board;
pub mod brake;
pub mod calibrate;
mod check;
pub mod commission;
mod cycle;
#[cfg(feature = "drivers")]
pub mod drivers;
pub mod estimate;
mod events;
mod frame;
mod guard;
pub mod isolate;
mod journal;
pub mod limit;
#[cfg(feature = "link")]
pub mod link;
mod log;
mod parameters;
mod recorder;
pub mod supervise;
mod task;
pub mod vet;
pub mod weigh;

pub use board::{Board, WATCHDOG_PERIODS};
pub use check::BuildError;
pub use commission::Commission;
pub use cycle::{Cycle, Inside};
pub use events::Event;
pub use frame::{DriveFrame, Marks, SensorFrame, Switches};
pub use parameters::{CopyError, Parameters, StoredTable, TableError, Timing, crc32};
pub use recorder::{Phase, Recorded, Recorder, RecorderState, Recording, SNAPSHOT_WORDS};
pub use supervise::Mode;
pub use task::{CommissionTask, Tally, Task};
pub use vet::{Fault, Faults};
