//! The last changes of mode and fault, in fixed memory.

use crate::supervise::Mode;
use crate::vet::Faults;
use shared_math::plain;

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

/// Mode and faults in one word: faults above, the mode's code below.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[repr(transparent)]
pub(crate) struct Standing(u32);

plain!([] Standing { 0 });

impl Standing {
    #[inline(always)]
    pub(crate) const fn new(mode: Mode, faults: Faults) -> Self {
        Self((faults.0 as u32) << 16 | mode.code() as u32)
    }

    /// A code that stands for no mode is a fault.
    pub(crate) fn mode(self) -> Mode {
        Mode::from_code(self.0 as u8).unwrap_or(Mode::Fault)
    }

    pub(crate) const fn faults(self) -> Faults {
        Faults((self.0 >> 16) as u16)
    }
}

/// A power of two.
const KEPT: usize = 16;
const _: () = assert!(KEPT.is_power_of_two());

/// An [`Event`] as it is kept.
#[derive(Clone, Copy, Debug, Default)]
#[repr(C)]
struct Kept {
    step: u32,
    standing: Standing,
}

plain!([] Kept { step, standing });

/// A ring of the newest events.
#[derive(Clone, Copy, Debug, Default)]
#[repr(C)]
pub(crate) struct EventLog {
    ring: [Kept; KEPT],
    /// Events noted so far, which may wrap: its last bits are the place of the next event.
    noted: u32,
}

plain!([] EventLog { ring, noted });

impl EventLog {
    #[inline(always)]
    pub(crate) fn note(&mut self, step: u32, standing: Standing) {
        if let Some(place) = self.ring.get_mut(self.noted as usize % KEPT) {
            *place = Kept { step, standing };
        }
        self.noted = self.noted.wrapping_add(1);
    }

    pub(crate) fn iter(&self) -> impl Iterator<Item = Event> + '_ {
        let (newer, older) = self.ring.split_at(self.noted as usize % KEPT);
        let kept = older.iter().chain(newer);
        kept.filter(|kept| kept.is_event()).map(|kept| Event {
            step: kept.step,
            mode: kept.standing.mode(),
            faults: kept.standing.faults(),
        })
    }
}

impl Kept {
    /// Whether an event is kept here: as it was before the first step it has not become by one.
    fn is_event(&self) -> bool {
        self.step != 0 || self.standing != Standing::default()
    }
}
