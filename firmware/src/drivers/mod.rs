//! Drivers for what a real board has, over the traits of embedded-hal 1.0, and a
//! [`SeatBoard`] made of them.
//!
//! No driver knows a particular part. A part's register map is a plain struct that the port
//! fills in from the data sheet of the part it uses; nothing here was taken from one. What the
//! files call common practice has no other source.
//!
//! No driver allocates, panics, waits or tries a transfer again; but after an output has failed
//! all of them are written once more, to the safe state. What a driver cannot do is a
//! [`DriverError`]; [`SeatBoard`] turns that into a mark in the frame ([`crate::Marks`]) or into
//! an answer not taken, and the law decides.
//!
//! # Time
//!
//! embedded-hal knows no timeout: a call on a bus may block for ever. So the bus must bound its
//! transfers by itself. Whatever implements `SpiDevice`, `OutputPin` or `SetDutyCycle` for these
//! drivers must give up after a stated time and return its error (kind `Other` when it has no
//! better one). Such a transfer arrives here as [`DriverError::Spi`], [`DriverError::Pin`] or
//! [`DriverError::Pwm`], like any other failure. On a bus that never returns the task makes no
//! step, and the watchdog resets the controller. All bounds of one period together, plus the
//! step, must stay below half of the control period (see [`crate::Task`]).

mod accelerometer;
mod analog;
mod assembly;
mod crc;
mod current;
mod encoder;
mod error;
mod inputs;
mod outputs;
mod word;

pub use accelerometer::{Accelerometer, AccelerometerLayout, Identity, Ready};
pub use analog::AnalogInputs;
pub use assembly::{Clock, DriverErrors, Parts, SeatBoard, Watchdog};
pub use crc::Crc;
pub use current::{CurrentCommand, DacCurrent, DacLayout, PwmCurrent};
pub use encoder::{Encoder, EncoderLayout, Flag, WordCheck};
pub use error::DriverError;
pub use inputs::{Antivalent, Contact, Inputs, SwitchInputs};
pub use outputs::{DriveOutputs, Output, Outputs};
pub use word::{Coding, Field, Order};

/// A sensor that gives counts.
pub trait CountSensor {
    /// Makes the sensor ready and checks that it is the one expected. Call it before the control
    /// periods begin; it may take several transfers.
    ///
    /// # Errors
    /// When the sensor does not answer, or is another one.
    fn start(&mut self) -> Result<(), DriverError>;

    /// One reading, counts.
    ///
    /// # Errors
    /// When there is no reading to trust; nothing else than the error is known then.
    fn read(&mut self) -> Result<i16, DriverError>;
}

/// Level of a pin that means "on".
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Active {
    /// On is high.
    High,
    /// On is low.
    Low,
}
