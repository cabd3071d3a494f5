//! Every input that the state machine can tell apart: one value of each band of each quantity.

use firmware::supervise::{Input, Parameters};
use firmware::{Fault, Faults, Switches};
use shared_math::q24_from_f32;

/// Which latching faults are seen, as far as the machine can tell them apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Latching {
    /// None.
    None,
    /// The floor accelerometer alone is lost.
    Floor,
    /// The seat accelerometer alone is lost.
    Seat,
    /// The current sensor alone is lost.
    Current,
    /// The travel sensor alone is lost.
    Travel,
    /// More than one of these but the current sensor, another sensor, or a wrong force, and nothing worse: the current follows its
    /// commands and is led to zero.
    Releasing,
    /// Any other, whatever else is seen.
    Hard,
}

impl Latching {
    /// All, the mildest first.
    pub const ALL: [Self; 7] = [
        Self::None,
        Self::Floor,
        Self::Seat,
        Self::Current,
        Self::Travel,
        Self::Releasing,
        Self::Hard,
    ];

    /// A set of faults that stands for the class.
    #[must_use]
    pub const fn faults(self) -> Faults {
        Faults(match self {
            Self::None => 0,
            Self::Floor => Fault::FloorAccel as u16,
            Self::Seat => Fault::SeatAccel as u16,
            Self::Current => Fault::Current as u16,
            Self::Travel => Fault::Travel as u16,
            Self::Releasing => Fault::CrossCheck as u16,
            Self::Hard => Fault::Output as u16,
        })
    }

    /// The class of a set of faults, passing ones left aside.
    #[must_use]
    pub const fn of(faults: Faults) -> Self {
        let latching = faults.latching();
        if !latching.any() {
            Self::None
        } else if latching.0 == Fault::Current as u16 {
            Self::Current
        } else if !latching.within(Faults::RELEASED) {
            Self::Hard
        } else if latching.0 == Fault::FloorAccel as u16 {
            Self::Floor
        } else if latching.0 == Fault::SeatAccel as u16 {
            Self::Seat
        } else if latching.0 == Fault::Travel as u16 {
            Self::Travel
        } else {
            Self::Releasing
        }
    }

    /// Whether one sensor that the seat can do without is lost and nothing else.
    #[must_use]
    pub const fn one_lost(self) -> bool {
        matches!(self, Self::Floor | Self::Seat | Self::Current)
    }
}

/// Which passing faults are seen, as far as the machine can tell them apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Passing {
    /// None.
    None,
    /// Only such as the law can go on under while the occupant is set down.
    Bearable,
    /// Any other, whatever else is seen.
    Grave,
}

impl Passing {
    /// All, the mildest first.
    pub const ALL: [Self; 3] = [Self::None, Self::Bearable, Self::Grave];

    /// A set of faults that stands for the class.
    #[must_use]
    pub const fn faults(self) -> Faults {
        Faults(match self {
            Self::None => 0,
            Self::Bearable => Fault::Supply as u16,
            Self::Grave => Fault::Sequence as u16,
        })
    }

    /// The class of a set of faults, latching ones left aside.
    #[must_use]
    pub const fn of(faults: Faults) -> Self {
        let passing = faults.passing();
        if !passing.any() {
            Self::None
        } else if passing.within(Faults::BEARABLE) {
            Self::Bearable
        } else {
            Self::Grave
        }
    }
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

/// Travel against its thresholds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Height {
    /// Within `risen_m`.
    Risen,
    /// Outside it, and above `afloat_m` below mid travel.
    Afloat,
    /// There or lower.
    Resting,
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
    /// Passing faults seen.
    pub passing: Passing,
    /// Latching faults seen.
    pub latching: Latching,
    /// Travel.
    pub height: Height,
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
    pub const fn disturbed(&self) -> bool {
        let seen = self.passing.faults().any() || self.latching.faults().any();
        !self.stop_closed || seen
    }

    /// Travel and rate within what ends a rise.
    #[must_use]
    pub const fn risen(&self) -> bool {
        matches!(self.height, Height::Risen) && self.rate_within
    }
}

/// Lower and upper end of each band of a quantity, counts of 2^-24.
#[derive(Clone, Copy, Debug)]
pub struct Bands {
    risen: i32,
    afloat: i32,
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
            afloat: q24_from_f32(p.afloat_m),
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
        let faults = Faults(letter.latching.faults().0 | letter.passing.faults().0);
        Input {
            switches: Switches(
                bit(letter.arm, Switches::ARM)
                    | bit(letter.occupant, Switches::OCCUPANT)
                    | bit(letter.stop_closed, Switches::STOP_CIRCUIT),
            ),
            faults,
            travel: match letter.height {
                Height::Risen => two_sided(true, self.risen, travel),
                // The lowest bit gives the side, as elsewhere.
                Height::Afloat if travel & 1 == 1 => {
                    -place(self.risen + 1, self.afloat - 1, travel)
                }
                Height::Afloat => place(self.risen + 1, i32::MAX, travel),
                Height::Resting => -place(self.afloat, i32::MAX, travel),
            },
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

/// Every letter. Quantities that rarely matter change fastest. With a latching fault seen a bearable fault is what a grave one
/// is, and is left out.
pub fn letters() -> impl Iterator<Item = Letter> {
    const SIGNALS: u8 = 1 << 5;
    let seen = Latching::ALL
        .into_iter()
        .flat_map(|latching| Passing::ALL.map(|passing| (latching, passing)))
        .filter(|(latching, passing)| *latching == Latching::None || *passing != Passing::Bearable);
    seen.flat_map(|(latching, passing)| {
        (0..SIGNALS).flat_map(move |signals| {
            let on = move |bit: u8| signals >> bit & 1 == 1;
            [Height::Risen, Height::Afloat, Height::Resting]
                .into_iter()
                .flat_map(move |height| {
                    [-2, -1, 0, 1, 2].into_iter().flat_map(move |force| {
                        [Heat::Low, Heat::Middle, Heat::High].map(move |heat| Letter {
                            arm: on(4),
                            occupant: on(3),
                            stop_closed: on(2),
                            passing,
                            latching,
                            height,
                            rate_within: !on(0),
                            heat,
                            force,
                            beyond: on(1),
                        })
                    })
                })
        })
    })
}
