//! A whole board made of drivers.

use super::{AnalogInputs, CountSensor, DriveOutputs, DriverError, SwitchInputs};
use crate::board::Board;
use crate::frame::{DriveFrame, Marks, SensorFrame};

/// The timer that starts the control periods.
pub trait Clock {
    /// Control periods since reset; wraps. See [`Board::period`].
    fn period(&mut self) -> u32;
}

/// The windowed watchdog; the contract is that of [`Board::refresh_watchdog`].
pub trait Watchdog {
    /// Refreshes it.
    fn refresh(&mut self);
}

/// What a board is made of.
#[derive(Clone, Debug)]
pub struct Parts<F, S, T, A, I, O, C, W> {
    /// Floor accelerometer.
    pub floor_accel: F,
    /// Seat accelerometer.
    pub seat_accel: S,
    /// Travel sensor.
    pub travel: T,
    /// Current, supply and coil temperature.
    pub analog: A,
    /// Switches.
    pub inputs: I,
    /// Outputs.
    pub outputs: O,
    /// Timer of the control periods.
    pub clock: C,
    /// Watchdog.
    pub watchdog: W,
}

/// The last error of each driver since reset, for whoever looks for the cause of a fault.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct DriverErrors {
    /// Floor accelerometer.
    pub floor_accel: Option<DriverError>,
    /// Seat accelerometer.
    pub seat_accel: Option<DriverError>,
    /// Travel sensor.
    pub travel: Option<DriverError>,
    /// Current sensor.
    pub current: Option<DriverError>,
    /// Supply voltage.
    pub supply: Option<DriverError>,
    /// Coil temperature.
    pub coil_temperature: Option<DriverError>,
    /// Outputs.
    pub output: Option<DriverError>,
}

/// A board made of drivers.
///
/// A driver's error becomes a mark in the frame; the count beside it is the last good one, so
/// that the first good reading afterwards is not taken for a jump. An output's error makes the
/// answer one that was not taken.
#[derive(Clone, Debug)]
pub struct SeatBoard<F, S, T, A, I, O, C, W> {
    parts: Parts<F, S, T, A, I, O, C, W>,
    /// The last good counts.
    good: SensorFrame,
    errors: DriverErrors,
}

impl<F, S, T, A, I, O, C, W> SeatBoard<F, S, T, A, I, O, C, W>
where
    F: CountSensor,
    S: CountSensor,
    T: CountSensor,
    O: DriveOutputs,
{
    /// Puts the safe state out, then starts the sensors. It takes as long as their transfers;
    /// start the watchdog and the control periods afterwards.
    ///
    /// Nothing is refused here: an output or a sensor that fails shows in [`SeatBoard::errors`].
    /// An accelerometer that did not start gives a mark in every frame, so that the law stays in
    /// the safe state.
    pub fn start(mut parts: Parts<F, S, T, A, I, O, C, W>) -> Self {
        let output = parts.outputs.apply(&DriveFrame::SAFE).err();
        let errors = DriverErrors {
            floor_accel: parts.floor_accel.start().err(),
            seat_accel: parts.seat_accel.start().err(),
            travel: parts.travel.start().err(),
            output,
            ..DriverErrors::default()
        };
        Self {
            parts,
            good: SensorFrame::default(),
            errors,
        }
    }

    /// The last error of each driver since reset.
    pub const fn errors(&self) -> &DriverErrors {
        &self.errors
    }

    /// The parts, to look into.
    pub const fn parts(&self) -> &Parts<F, S, T, A, I, O, C, W> {
        &self.parts
    }

    /// Gives the parts back. The outputs stay as they are.
    pub fn release(self) -> Parts<F, S, T, A, I, O, C, W> {
        self.parts
    }
}

/// Takes a reading over, or leaves the last good one and sets the mark.
fn take<N>(
    reading: Result<N, DriverError>,
    good: &mut N,
    error: &mut Option<DriverError>,
    marks: &mut Marks,
    mark: u8,
) {
    match reading {
        Ok(count) => *good = count,
        Err(cause) => {
            *error = Some(cause);
            marks.0 |= mark;
        }
    }
}

impl<F, S, T, A, I, O, C, W> Board for SeatBoard<F, S, T, A, I, O, C, W>
where
    F: CountSensor,
    S: CountSensor,
    T: CountSensor,
    A: AnalogInputs,
    I: SwitchInputs,
    O: DriveOutputs,
    C: Clock,
    W: Watchdog,
{
    /// Accelerometers first, then travel, the analog inputs and the switches: the faster a
    /// quantity changes, the closer to the period's beginning.
    fn sample(&mut self) -> SensorFrame {
        let Self {
            parts,
            good,
            errors,
        } = self;
        let mut marks = Marks::default();
        take(
            parts.floor_accel.read(),
            &mut good.floor_accel,
            &mut errors.floor_accel,
            &mut marks,
            Marks::FLOOR_ACCEL,
        );
        take(
            parts.seat_accel.read(),
            &mut good.seat_accel,
            &mut errors.seat_accel,
            &mut marks,
            Marks::SEAT_ACCEL,
        );
        take(
            parts.travel.read(),
            &mut good.travel,
            &mut errors.travel,
            &mut marks,
            Marks::TRAVEL,
        );
        take(
            parts.analog.current(),
            &mut good.current,
            &mut errors.current,
            &mut marks,
            Marks::CURRENT,
        );
        take(
            parts.analog.supply(),
            &mut good.supply,
            &mut errors.supply,
            &mut marks,
            Marks::SUPPLY,
        );
        take(
            parts.analog.coil_temperature(),
            &mut good.coil_temperature,
            &mut errors.coil_temperature,
            &mut marks,
            Marks::COIL_TEMPERATURE,
        );
        SensorFrame {
            switches: parts.inputs.read(),
            marks,
            ..*good
        }
    }

    fn apply(&mut self, drive: &DriveFrame) -> bool {
        match self.parts.outputs.apply(drive) {
            Ok(()) => true,
            Err(cause) => {
                self.errors.output = Some(cause);
                false
            }
        }
    }

    fn period(&mut self) -> u32 {
        self.parts.clock.period()
    }

    fn refresh_watchdog(&mut self) {
        self.parts.watchdog.refresh();
    }
}
