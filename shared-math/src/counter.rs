//! Debounced conditions.

/// A condition that must hold for a number of steps in a row, then stands
/// until it has been absent for as many steps.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Debounce {
    count: u16,
    stands: bool,
}

impl Debounce {
    /// One step; returns whether the condition stands. `steps` of zero acts as one.
    #[inline]
    pub fn step(&mut self, seen: bool, steps: u16) -> bool {
        if seen == self.stands {
            self.count = 0;
        } else {
            self.count = self.count.saturating_add(1);
            if self.count >= steps {
                self.stands = seen;
                self.count = 0;
            }
        }
        self.stands
    }

    /// Whether the condition stands.
    #[must_use]
    pub const fn stands(&self) -> bool {
        self.stands
    }
}
