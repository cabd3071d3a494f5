//! Faults that stay until they are reset deliberately.

use super::Mode;
use crate::vet::Faults;
use shared_math::plain;

/// The faults that have been latched.
///
/// A fault that is not passing stands from the step in which it is seen until the seat is Off and
/// the arming switch counts as off: not before, whether the fault itself is gone or not, and also
/// when it is seen while the seat is Off and armed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[repr(transparent)]
pub struct Latch(u32);

plain!([] Latch { 0 });

impl Latch {
    /// Before the state machine's step: the faults that stand when `seen` are seen.
    #[inline(always)]
    pub const fn hold(&mut self, seen: Faults) -> Faults {
        self.0 |= seen.latching().0 as u32;
        Faults(seen.0 | self.0 as u16)
    }

    /// After the step, which led to `mode`. Disarming is the deliberate reset.
    #[inline(always)]
    pub const fn reset(&mut self, mode: Mode, armed: bool) {
        if matches!(mode, Mode::Off) && !armed {
            self.0 = 0;
        }
    }

    /// Whether a fault is latched.
    #[must_use]
    pub const fn any(self) -> bool {
        self.0 != 0
    }
}
