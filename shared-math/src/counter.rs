//! Debounced and counted conditions.

use crate::plain;

/// A condition that must hold for a number of steps in a row, then stands
/// until it has been absent for as many steps.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[repr(C)]
pub struct Debounce {
    count: u32,
}

plain!([] Debounce { count });

impl Debounce {
    /// One step of a condition that `stood` after the last one; returns whether it stands. `steps` of zero acts as one.
    #[inline]
    pub const fn step(&mut self, stood: bool, seen: bool, steps: u32) -> bool {
        if seen == stood {
            self.count = 0;
            return stood;
        }
        // It is never more than `steps`, but where memory was struck.
        self.count = self.count.wrapping_add(1);
        if self.count < steps {
            return stood;
        }
        self.count = 0;
        seen
    }
}

/// Sixteen conditions debounced at once, each as [`Debounce`] does, for the same number of steps.
///
/// The sixteen counts stand upright: bit `i` of each plane belongs to condition `i` (bit-sliced counters,
/// textbook material), so that a step costs the same whatever it finds.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[repr(C)]
pub struct DebounceBits {
    planes: [u32; PLANES],
    stands: u32,
    /// What has changed in the last step: its count begins anew.
    changed: u32,
}

plain!([] DebounceBits { planes, stands, changed });

const PLANES: usize = 3;

/// The number of steps of [`DebounceBits`].
#[derive(Clone, Copy, Debug)]
#[repr(C)]
pub struct DebounceBitsConfig {
    /// Each of its bits as a mask.
    wanted: [u32; PLANES],
}

plain!([] DebounceBitsConfig { wanted });

impl DebounceBitsConfig {
    /// Most steps that can be counted.
    pub const MOST: u16 = (1 << PLANES) - 1;

    /// `steps` from 1 to [`Self::MOST`]; what lies beyond is taken as the nearest.
    #[must_use]
    pub fn new(steps: u16) -> Self {
        let steps = u32::from(steps.clamp(1, Self::MOST));
        Self {
            wanted: core::array::from_fn(|bit| 0_u32.wrapping_sub(steps >> bit & 1)),
        }
    }
}

impl DebounceBits {
    /// One step; returns which conditions stand.
    #[inline]
    pub fn step(&mut self, config: &DebounceBitsConfig, seen: u16) -> u16 {
        let differs = u32::from(seen) ^ self.stands;
        let counting = differs & !self.changed;
        let mut carry = differs;
        let mut short = 0;
        for (plane, wanted) in self.planes.iter_mut().zip(&config.wanted) {
            let kept = *plane & counting;
            *plane = kept ^ carry;
            carry &= kept;
            short |= *plane ^ wanted;
        }
        self.changed = differs & !short;
        self.stands ^= self.changed;
        self.stands as u16
    }
}

/// Constants of [`Strikes`].
#[derive(Clone, Copy, Debug)]
#[repr(C)]
pub struct StrikesConfig {
    most: u32,
    forgive: u32,
}

plain!([] StrikesConfig { most, forgive });

impl StrikesConfig {
    /// `most` strikes make the condition stand; one is forgotten every `forgive` steps.
    /// Zeros act as ones.
    #[must_use]
    pub const fn new(most: u16, forgive: u16) -> Self {
        let forgive = if forgive == 0 { 1 } else { forgive };
        let most = if most == 0 { 1 } else { most };
        let weight = most as u32 * forgive as u32;
        Self {
            most: if weight < Strikes::STANDS {
                weight
            } else {
                Strikes::STANDS - 1
            },
            forgive: forgive as u32,
        }
    }
}

/// A count of single events of which some are tolerated. The condition stands once a stated number has come
/// faster than they are forgotten, and until all are forgotten.
///
/// One word: the weight of what is not forgotten yet, and above it a bit that says whether the condition stands.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[repr(transparent)]
pub struct Strikes(u32);

plain!([] Strikes { 0 });

impl Strikes {
    /// Weights stay below it.
    const STANDS: u32 = 1 << 31;

    /// One step; returns whether the condition stands.
    #[inline(always)]
    pub fn step(&mut self, config: &StrikesConfig, seen: bool) -> bool {
        let weight = self.0 & !Self::STANDS;
        let weight = if seen {
            weight + config.forgive
        } else {
            weight.saturating_sub(1)
        };
        if weight >= config.most {
            self.0 = config.most | Self::STANDS;
            return true;
        }
        let stands = if weight == 0 {
            0
        } else {
            self.0 & Self::STANDS
        };
        self.0 = weight | stands;
        stands != 0
    }
}
