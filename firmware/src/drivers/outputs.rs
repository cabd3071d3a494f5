//! The outputs: current command, enable, damp, height adjuster, in an order that is safe.
//!
//! The order is our own rule; that a drive and a short across its windings exclude each other
//! is common practice, no source.
//!
//! | from -> to | order |
//! |---|---|
//! | any -> off | current 0, enable off, then damp (on if asked), then the brake's share |
//! | off -> on | current 0, damp off, enable on, then the current |
//! | on -> on | damp off, enable on (both written again), then the current |
//!
//! Enable and damp are never on together: damp goes on only after the pin of enable has said that
//! it is off, and enable only after the pin of damp has. When anything fails, everything is put
//! to the safe state: current 0, enable off, damp on, adjuster off. If enable cannot be switched
//! off even then, damp is left as it is.
//!
//! Nothing is remembered of a failure: the next frame tries again, and the law gives up after
//! `vet.fault_steps` frames that were not taken.

use super::error::from_pin;
use super::{Active, CurrentCommand, DriverError};
use crate::frame::DriveFrame;
use embedded_hal::digital::{OutputPin, PinState};

/// What takes a drive frame.
pub trait DriveOutputs {
    /// Puts the frame out.
    ///
    /// # Errors
    /// The first failure. The outputs are in the safe state then, as far as they can be reached.
    fn apply(&mut self, drive: &DriveFrame) -> Result<(), DriverError>;
}

/// An output pin with the level that means on.
#[derive(Clone, Debug)]
pub struct Output<P> {
    /// The pin.
    pub pin: P,
    /// Its level when on.
    pub active: Active,
}

impl<P: OutputPin> Output<P> {
    fn set(&mut self, on: bool) -> Result<(), DriverError> {
        let high = on == (self.active == Active::High);
        self.pin.set_state(PinState::from(high)).map_err(from_pin)
    }
}

/// The outputs of a board.
#[derive(Clone, Debug)]
pub struct Outputs<C, E, D, U, L> {
    current: C,
    enable: Output<E>,
    damp: Output<D>,
    up: Output<U>,
    down: Output<L>,
    on: bool,
}

impl<C, E, D, U, L> Outputs<C, E, D, U, L>
where
    C: CurrentCommand,
    E: OutputPin,
    D: OutputPin,
    U: OutputPin,
    L: OutputPin,
{
    /// Outputs that have not been touched yet: current command, enable, damp, adjuster up,
    /// adjuster down. Put [`DriveFrame::SAFE`] out first ([`super::SeatBoard::start`] does).
    pub const fn new(
        current: C,
        enable: Output<E>,
        damp: Output<D>,
        up: Output<U>,
        down: Output<L>,
    ) -> Self {
        Self {
            current,
            enable,
            damp,
            up,
            down,
            on: false,
        }
    }

    /// Gives the parts back, in the order of [`Outputs::new`].
    pub fn release(self) -> (C, E, D, U, L) {
        (
            self.current,
            self.enable.pin,
            self.damp.pin,
            self.up.pin,
            self.down.pin,
        )
    }

    /// Off, with every output tried whatever fails before it; the first failure is returned.
    fn switch_off(&mut self, damp: bool, share: i16, lift: bool) -> Result<(), DriverError> {
        self.on = false;
        let current = self.current.set(0);
        let enable = self.enable.set(false);
        let damp = if enable.is_ok() {
            self.damp.set(damp)
        } else {
            Ok(())
        };
        let up = if lift { Ok(()) } else { self.up.set(false) };
        let down = self.down.set(false);
        let done = current.and(enable).and(damp).and(up).and(down);
        if lift && done.is_ok() {
            self.up.set(true)?;
        }
        // Without a share, or when anything failed, the command stays at zero.
        if share > 0 && done.is_ok() {
            self.current.brake(share)
        } else {
            done
        }
    }

    fn drive(&mut self, counts: i16) -> Result<(), DriverError> {
        if !self.on {
            self.current.set(0)?;
        }
        self.damp.set(false)?;
        self.enable.set(true)?;
        self.on = true;
        self.current.set(counts)
    }

    /// Never both on, also while they change.
    fn level(&mut self, up: bool, down: bool) -> Result<(), DriverError> {
        if up {
            self.down.set(false)?;
            self.up.set(true)
        } else {
            self.up.set(false)?;
            self.down.set(down)
        }
    }
}

impl<C, E, D, U, L> DriveOutputs for Outputs<C, E, D, U, L>
where
    C: CurrentCommand,
    E: OutputPin,
    D: OutputPin,
    U: OutputPin,
    L: OutputPin,
{
    /// A frame that asks for enable and damp together is damped. One that asks for both
    /// directions of the adjuster moves it in neither; while damped the adjuster only adds preload, and while neither enabled nor
    /// damped it rests.
    fn apply(&mut self, drive: &DriveFrame) -> Result<(), DriverError> {
        let damp = drive.has(DriveFrame::DAMP);
        let enable = drive.has(DriveFrame::ENABLE);
        let up = drive.has(DriveFrame::LEVEL_UP);
        let down = drive.has(DriveFrame::LEVEL_DOWN);
        let done = if enable && !damp {
            self.drive(drive.current_command)
                .and_then(|()| self.level(up && !down, down && !up))
        } else {
            let share = if damp { drive.current_command } else { 0 };
            self.switch_off(damp, share, damp && !enable && up && !down)
        };
        if done.is_err() {
            // The first failure is the one to report.
            let _ = self.switch_off(true, 0, false);
        }
        done
    }
}
