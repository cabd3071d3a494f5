//! The analog inputs. embedded-hal 1.0 has no converter, so this trait is our own.

use super::DriverError;

/// The three analog channels of the frame.
///
/// A port lets the timer that starts the control periods start the conversions (or a little
/// earlier, so that they are done by then) and only fetches the results here: no call waits for
/// a conversion. Common practice, no source.
///
/// The counts are the converter's, raw; `calibrate` turns them into SI units. A channel whose
/// converter is unsigned gives its word minus half of the range, or unchanged where the range
/// fits; the zero goes into `calibrate` then.
pub trait AnalogInputs {
    /// Winding current, counts.
    ///
    /// # Errors
    /// [`DriverError::Analog`] when the result is not there or the converter reports a failure.
    fn current(&mut self) -> Result<i16, DriverError>;

    /// Supply voltage, counts.
    ///
    /// # Errors
    /// As [`AnalogInputs::current`].
    fn supply(&mut self) -> Result<u16, DriverError>;

    /// Coil temperature, counts.
    ///
    /// # Errors
    /// As [`AnalogInputs::current`]. A wire that is broken or shorted, where the board can tell,
    /// is an error too.
    fn coil_temperature(&mut self) -> Result<i16, DriverError>;
}
