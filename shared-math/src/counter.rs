//! Debounced and counted conditions.

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

/// Sixteen conditions debounced at once, each as [`Debounce`] does, for the same number of steps.
///
/// The sixteen counts stand upright: bit `i` of each plane belongs to condition `i` (bit-sliced counters,
/// textbook material), so that a step costs the same whatever it finds.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct DebounceBits {
    planes: [u32; PLANES],
    stands: u32,
}

const PLANES: usize = 5;

impl DebounceBits {
    /// Most steps that can be counted.
    pub const MOST: u16 = (1 << PLANES) - 1;

    /// One step; returns which conditions stand. `steps` is 1 to [`Self::MOST`].
    #[inline]
    pub fn step(&mut self, seen: u16, steps: u16) -> u16 {
        let differs = u32::from(seen) ^ self.stands;
        let mut carry = differs;
        let mut short = 0;
        let mut wanted = u32::from(steps);
        for plane in &mut self.planes {
            let kept = *plane & differs;
            *plane = kept ^ carry;
            carry &= kept;
            short |= *plane ^ 0_u32.wrapping_sub(wanted & 1);
            wanted >>= 1;
        }
        self.stands ^= differs & !short;
        // What has been reached begins anew; it agrees with what was seen, so the next step clears it.
        self.stands as u16
    }
}

/// Constants of [`Strikes`].
#[derive(Clone, Copy, Debug)]
pub struct StrikesConfig {
    most: u32,
    forgive: u16,
}

impl StrikesConfig {
    /// `most` strikes make the condition stand; one is forgotten every `forgive` steps.
    /// Zeros act as ones.
    #[must_use]
    pub const fn new(most: u16, forgive: u16) -> Self {
        let forgive = if forgive == 0 { 1 } else { forgive };
        let most = if most == 0 { 1 } else { most };
        Self {
            most: most as u32 * forgive as u32,
            forgive,
        }
    }
}

/// A count of single events of which some are tolerated. The condition stands once a stated number has come
/// faster than they are forgotten, and until all are forgotten.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Strikes {
    weight: u32,
    stands: bool,
}

impl Strikes {
    /// One step; returns whether the condition stands.
    #[inline]
    pub fn step(&mut self, config: &StrikesConfig, seen: bool) -> bool {
        self.weight = if seen {
            self.weight.saturating_add(u32::from(config.forgive))
        } else {
            self.weight.saturating_sub(1)
        };
        if self.weight >= config.most {
            self.weight = config.most;
            self.stands = true;
        }
        self.stands &= self.weight > 0;
        self.stands
    }
}
