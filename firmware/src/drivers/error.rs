//! What a driver can report.

use core::fmt;
use embedded_hal::{digital, pwm, spi};

/// Why a driver gave no value, or did not set its output.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DriverError {
    /// The SPI transfer failed; one that the bus gave up on in time counts too.
    Spi(spi::ErrorKind),
    /// A pin could not be read or set.
    Pin(digital::ErrorKind),
    /// The duty of a PWM could not be set.
    Pwm(pwm::ErrorKind),
    /// [`super::CountSensor::start`] has not succeeded yet.
    NotStarted,
    /// Another part answers, or none: the identity register holds this value.
    Identity(u8),
    /// The sensor has no new value.
    NotReady,
    /// The cyclic redundancy check failed.
    Crc,
    /// The parity is wrong.
    Parity,
    /// All bits of the word are equal: a broken or shorted line.
    Line,
    /// The device reports an error of its own.
    Device,
    /// The converter of an analog input failed, or its result was not ready.
    Analog,
}

impl fmt::Display for DriverError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Spi(kind) => write!(f, "SPI transfer failed: {kind}"),
            Self::Pin(kind) => write!(f, "pin failed: {kind}"),
            Self::Pwm(kind) => write!(f, "PWM failed: {kind}"),
            Self::NotStarted => f.write_str("sensor not started"),
            Self::Identity(found) => write!(f, "identity register holds {found:#04x}"),
            Self::NotReady => f.write_str("no new value"),
            Self::Crc => f.write_str("wrong CRC"),
            Self::Parity => f.write_str("wrong parity"),
            Self::Line => f.write_str("all bits equal"),
            Self::Device => f.write_str("the device reports an error"),
            Self::Analog => f.write_str("the analog converter failed"),
        }
    }
}

impl core::error::Error for DriverError {}

pub(super) fn from_spi(error: impl spi::Error) -> DriverError {
    DriverError::Spi(error.kind())
}

pub(super) fn from_pin(error: impl digital::Error) -> DriverError {
    DriverError::Pin(error.kind())
}

pub(super) fn from_pwm(error: impl pwm::Error) -> DriverError {
    DriverError::Pwm(error.kind())
}
