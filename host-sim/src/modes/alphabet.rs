//! Every input that the state machine can tell apart: one value of each band of each quantity.

use firmware::supervise::{Input, Parameters};
use firmware::{Fault, Faults, Switches};
use shared_math::q24_from_f32;

/// Which faults are seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Seen {
    /// None.
    None,
    /// One that passes.
    Passing,
    /// One that latches.
    Latching,
    /// One of each.
    Both,
}

/// Heat share against its two thresholds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Heat {
    /// Below `derated_below`.
    Low,
    /// Between the two.
    Middle,
    /// Above `active_above`.
    High,
}

/// One letter: a class of inputs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Letter {
    /// The arming switch is on.
    pub arm: bool,
    /// The occupant switch is closed.
    pub occupant: bool,
    /// The stop circuit is closed.
    pub stop_closed: bool,
    /// Faults seen.
    pub faults: Seen,
    /// Travel within `risen_m`.
    pub travel_within: bool,
    /// Travel rate within `risen_mps`.
    pub rate_within: bool,
    /// Heat share.
    pub heat: Heat,
    /// Static force: 0 within the lower threshold, 1 between the two, 2 beyond, with its sign.
    pub force: i8,
    /// An assumption of the proof of the travel does not hold.
    pub beyond: bool,
}

impl Letter {
    /// Whether a fault is seen or the stop circuit is open.
    #[must_use]
    pub fn disturbed(&self) -> bool {
        !self.stop_closed || self.faults != Seen::None
    }

    /// Travel and rate within what ends a rise.
    #[must_use]
    pub const fn risen(&self) -> bool {
        self.travel_within && self.rate_within
    }
}

/// Lower and upper end of each band of a quantity, counts of 2^-24.
#[derive(Clone, Copy, Debug)]
pub struct Bands {
    risen: i32,
    risen_rate: i32,
    derated_below: i32,
    active_above: i32,
    level_on: i32,
    level_off: i32,
}

impl Bands {
    /// The bands that these parameters make.
    #[must_use]
    pub fn of(p: &Parameters) -> Self {
        Self {
            risen: q24_from_f32(p.risen_m),
            risen_rate: q24_from_f32(p.risen_mps),
            derated_below: q24_from_f32(p.derated_below),
            active_above: q24_from_f32(p.active_above),
            level_on: q24_from_f32(p.level_force_n * 1.0e-3),
            level_off: q24_from_f32(p.level_force_n * 0.3e-3),
        }
    }

    /// The input of a letter. `at` picks the place of each quantity in its band: 0 is one end of
    /// it, `u32::MAX` the other.
    #[must_use]
    pub fn input(&self, letter: &Letter, at: [u32; 4]) -> Input {
        let [travel, rate, heat, force] = at;
        let bit = |on: bool, mask: u8| if on { mask } else { 0 };
        let mut faults = Faults::default();
        faults.set(
            Fault::Supply,
            matches!(letter.faults, Seen::Passing | Seen::Both),
        );
        faults.set(
            Fault::Travel,
            matches!(letter.faults, Seen::Latching | Seen::Both),
        );
        Input {
            switches: Switches(
                bit(letter.arm, Switches::ARM)
                    | bit(letter.occupant, Switches::OCCUPANT)
                    | bit(letter.stop_closed, Switches::STOP_CIRCUIT),
            ),
            faults,
            travel: two_sided(letter.travel_within, self.risen, travel),
            travel_rate: two_sided(letter.rate_within, self.risen_rate, rate),
            heat_share: match letter.heat {
                Heat::Low => place(0, self.derated_below - 1, heat),
                Heat::Middle => place(self.derated_below, self.active_above, heat),
                Heat::High => place(self.active_above + 1, 1 << 24, heat),
            },
            static_force: match letter.force {
                0 => place(-self.level_off, self.level_off, force),
                1 | -1 => i32::from(letter.force) * place(self.level_off + 1, self.level_on, force),
                sign => i32::from(sign.signum()) * place(self.level_on + 1, i32::MAX, force),
            },
            beyond: letter.beyond,
        }
    }
}

/// A value of `low..=high` at the share `at / u32::MAX`.
fn place(low: i32, high: i32, at: u32) -> i32 {
    let width = i64::from(high) - i64::from(low);
    (i64::from(low) + width * i64::from(at) / i64::from(u32::MAX)) as i32
}

/// Within `-limit..=limit`, or beyond; the lowest bit of `at` gives the sign.
fn two_sided(within: bool, limit: i32, at: u32) -> i32 {
    if within {
        place(-limit, limit, at)
    } else {
        let size = place(limit + 1, i32::MAX, at);
        if at & 1 == 0 { size } else { -size }
    }
}

/// Every letter. Quantities that rarely matter change fastest.
pub fn letters() -> impl Iterator<Item = Letter> {
    const BOTH: [bool; 2] = [false, true];
    let faults = [Seen::None, Seen::Passing, Seen::Latching, Seen::Both];
    BOTH.into_iter().flat_map(move |arm| {
        BOTH.into_iter().flat_map(move |occupant| {
            BOTH.into_iter().flat_map(move |stop_closed| {
                faults.into_iter().flat_map(move |faults| {
                    [-2, -1, 0, 1, 2].into_iter().flat_map(move |force| {
                        [Heat::Low, Heat::Middle, Heat::High]
                            .into_iter()
                            .flat_map(move |heat| {
                                (0..8).map(move |n| Letter {
                                    arm,
                                    occupant,
                                    stop_closed,
                                    faults,
                                    travel_within: n & 1 == 0,
                                    rate_within: n & 2 == 0,
                                    heat,
                                    force,
                                    beyond: n & 4 != 0,
                                })
                            })
                    })
                })
            })
        })
    })
}
