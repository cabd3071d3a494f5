//! Faults that stay until they are reset deliberately.

use super::Mode;
use crate::vet::{Fault, Faults};
use shared_math::{Mirrored, plain};

/// The faults that have been latched.
///
/// A fault that is not passing stands from the step in which it is seen until the seat is Off and
/// the arming switch counts as off: not before, whether the fault itself is gone or not, and also
/// when it is seen while the seat is Off and armed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[repr(transparent)]
pub struct Latch(Mirrored);

plain!([] Latch { 0 });

impl Default for Latch {
    fn default() -> Self {
        Self(Mirrored::new(0))
    }
}

impl Latch {
    /// Before the state machine's step: the faults that stand when `seen` are seen.
    ///
    /// When memory was struck, what was latched is not sure: then this is latched.
    #[inline(always)]
    pub const fn hold(&mut self, seen: Faults) -> Faults {
        let mut latched = self.0.value() | seen.latching().0;
        if self.0.changed() != 0 {
            latched |= Fault::Memory as u16;
        }
        self.0 = Mirrored::new(latched);
        Faults(seen.0 | latched)
    }

    /// After the step, which led to `mode`. Disarming is the deliberate reset. Returns what is forgotten by it.
    #[inline(always)]
    pub const fn reset(&mut self, mode: Mode, armed: bool) -> Faults {
        if matches!(mode, Mode::Off) && !armed {
            let forgotten = self.0.value();
            self.0 = Mirrored::new(0);
            Faults(forgotten)
        } else {
            Faults(0)
        }
    }

    /// Whether this fault is latched.
    #[must_use]
    pub const fn has(self, fault: Fault) -> bool {
        Faults(self.0.value()).has(fault)
    }

    /// Whether a fault is latched.
    #[must_use]
    pub const fn any(self) -> bool {
        self.0.value() != 0
    }
}
