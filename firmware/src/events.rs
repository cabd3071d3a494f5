//! The last changes of mode and fault, in fixed memory.

use crate::supervise::Mode;
use crate::vet::Faults;
use heapless::Vec;

/// One change, with the step at which it happened.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Event {
    /// Control steps since reset, wraps.
    pub step: u32,
    /// Mode after the change.
    pub mode: Mode,
    /// Faults that stand after the change.
    pub faults: Faults,
}

const KEPT: usize = 16;

/// A ring of the newest events.
#[derive(Clone, Debug, Default)]
pub(crate) struct EventLog {
    ring: Vec<Event, KEPT>,
    /// Place of the next event, and of the oldest when the ring is full.
    next: usize,
}

impl EventLog {
    pub(crate) fn note(&mut self, event: Event) {
        if let Some(place) = self.ring.get_mut(self.next) {
            *place = event;
        } else {
            // There is room: places are taken in order.
            let _ = self.ring.push(event);
        }
        self.next = (self.next + 1) % KEPT;
    }

    pub(crate) fn iter(&self) -> impl Iterator<Item = Event> + '_ {
        let (newer, older) = self.ring.split_at(self.next.min(self.ring.len()));
        older.iter().chain(newer).copied()
    }
}
