//! The switches: stop circuit, occupant switch, arm switch.
//!
//! A pin that cannot be read counts as open, which is the safe value of all three: not armed,
//! nobody seated, machine stopped. Debouncing is the law's (`supervise`).

use super::error::from_pin;
use super::{Active, DriverError};
use crate::frame::Switches;
use embedded_hal::digital::InputPin;

/// What reads the switches of the frame.
pub trait SwitchInputs {
    /// The switches now; one that cannot be read is open.
    fn read(&mut self) -> Switches;
}

/// An input pin with the level that means closed.
#[derive(Clone, Debug)]
pub struct Contact<P> {
    /// The pin. Wire it so that a broken wire reads as open.
    pub pin: P,
    /// Its level when the contact is closed.
    pub active: Active,
}

impl<P: InputPin> Contact<P> {
    fn closed(&mut self) -> Result<bool, DriverError> {
        let high = self.pin.is_high().map_err(from_pin)?;
        Ok(high == (self.active == Active::High))
    }
}

/// Two contacts of one relay or switch, of which exactly one is closed at any time.
///
/// Common practice, no source: a broken or shorted wire, a welded contact or a failed pin makes
/// them agree, which no healthy circuit does for longer than a change-over takes. Contacts that
/// agree read as open at once, also during a change-over; no time is granted.
#[derive(Clone, Debug)]
pub struct Antivalent<A, B> {
    /// Closed when the circuit is closed (healthy).
    pub normally_open: Contact<A>,
    /// Open when the circuit is closed (healthy).
    pub normally_closed: Contact<B>,
}

/// The switches of a board.
#[derive(Clone, Debug)]
pub struct Inputs<A, B, O, R> {
    stop: Antivalent<A, B>,
    occupant: Contact<O>,
    arm: Contact<R>,
    disagreements: u32,
    pin_errors: u32,
}

impl<A: InputPin, B: InputPin, O: InputPin, R: InputPin> Inputs<A, B, O, R> {
    /// Switches that have not been read yet.
    pub const fn new(stop: Antivalent<A, B>, occupant: Contact<O>, arm: Contact<R>) -> Self {
        Self {
            stop,
            occupant,
            arm,
            disagreements: 0,
            pin_errors: 0,
        }
    }

    /// Readings in which the contacts of the stop circuit agreed, since reset; stops at its
    /// largest value.
    pub const fn disagreements(&self) -> u32 {
        self.disagreements
    }

    /// Pins that could not be read, since reset; stops at its largest value.
    pub const fn pin_errors(&self) -> u32 {
        self.pin_errors
    }

    /// Gives the pins back: both contacts of the stop circuit, occupant, arm.
    pub fn release(self) -> (A, B, O, R) {
        (
            self.stop.normally_open.pin,
            self.stop.normally_closed.pin,
            self.occupant.pin,
            self.arm.pin,
        )
    }
}

impl<A: InputPin, B: InputPin, O: InputPin, R: InputPin> SwitchInputs for Inputs<A, B, O, R> {
    fn read(&mut self) -> Switches {
        let readings = [
            self.stop.normally_open.closed(),
            self.stop.normally_closed.closed(),
            self.occupant.closed(),
            self.arm.closed(),
        ];
        let errors = readings.iter().filter(|r| r.is_err()).count() as u32;
        self.pin_errors = self.pin_errors.saturating_add(errors);
        let [open, closed, occupant, arm] = readings;
        let stop = match (open, closed) {
            (Ok(open), Ok(closed)) => {
                self.disagreements = self.disagreements.saturating_add((open == closed).into());
                open && !closed
            }
            _ => false,
        };
        let bit = |on: bool, mask: u8| if on { mask } else { 0 };
        Switches(
            bit(stop, Switches::STOP_CIRCUIT)
                | bit(occupant.unwrap_or(false), Switches::OCCUPANT)
                | bit(arm.unwrap_or(false), Switches::ARM),
        )
    }
}
