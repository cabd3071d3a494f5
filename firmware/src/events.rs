//! The last changes of mode and fault, in fixed memory.

use crate::supervise::Mode;
use crate::vet::Faults;
use heapless::Deque;

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
    ring: Deque<Event, KEPT>,
}

impl EventLog {
    pub(crate) fn note(&mut self, event: Event) {
        if self.ring.is_full() {
            self.ring.pop_front();
        }
        // There is room: one was taken out when the ring was full.
        let _ = self.ring.push_back(event);
    }

    pub(crate) fn iter(&self) -> impl Iterator<Item = Event> + '_ {
        self.ring.iter().copied()
    }
}
