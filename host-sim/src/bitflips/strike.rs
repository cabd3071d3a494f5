//! One bit turned over in one moment: what it ends in.

use super::bench::Bench;
use crate::closed_loop::{ClosedLoop, switches};
use crate::fault::memory;
use crate::floor::period_ends;
use crate::limits::constant;
use firmware::{Cycle, Mode};

/// What a strike ends in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Ending {
    /// Within [`super::HEAL_S`] the law's whole memory and the seat's motion were the healthy ones again.
    Healed,
    /// A fault was told, and the seat came to the safe state, was being set down to it, or came to the gentle ride without
    /// the sensor that seemed lost; it still is there or has begun anew, and no limit was broken in [`super::AFTER_S`].
    SafeState,
    /// Something still differed, but no limit was broken and the seat then rode as the healthy one.
    Harmless,
    /// A stop was met too hard.
    HardContact,
    /// The seat was accelerated too much.
    HardSeat,
    /// No limit was broken, but the seat neither rode as the healthy one nor came to the safe state.
    OtherRide,
}

impl Ending {
    /// Whether it must not be.
    #[must_use]
    pub const fn is_broken(self) -> bool {
        matches!(self, Self::HardContact | Self::HardSeat | Self::OtherRide)
    }

    /// What a ride ends in that broke no limit: whether it came to the safe state or the gentle ride, and the seat's r.m.s. over
    /// the healthy one's.
    #[must_use]
    pub fn of_ride(was_safe: bool, ratio: f64) -> Self {
        if was_safe {
            Self::SafeState
        } else if (ratio - 1.0).abs() <= RIDES_ALIKE {
            Self::Harmless
        } else {
            Self::OtherRide
        }
    }

    /// In words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Healed => "healed",
            Self::SafeState => "safe state",
            Self::Harmless => "undetected, harmless",
            Self::HardContact => "a stop met too hard",
            Self::HardSeat => "seat accelerated too much",
            Self::OtherRide => "rides otherwise, no safe state",
        }
    }
}

/// One bit turned over.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Strike {
    /// The bit, as `memory-flip` counts them.
    pub bit: u64,
    /// Number of the moment.
    pub moment: usize,
    /// What it ended in.
    pub ending: Ending,
    /// Hardest contact over its limit, or peak of the seat over its limit, whichever is larger.
    pub used: f64,
    /// R.m.s. of the seat after [`super::HEAL_S`] over the healthy one's; 1 where the ride ended before.
    pub ride_ratio: f64,
}

/// The ride after [`super::HEAL_S`] may differ by this share of the healthy one's r.m.s. and count as the same.
const RIDES_ALIKE: f64 = constant::BITFLIP_RIDE_ALIKE;

/// Paths of what only records: it does not come back by itself, and nothing in the law reads it.
const RECORDS: [&str; 4] = ["events.", "noted", "step", "guard.healed"];

impl Bench<'_> {
    /// Turns one bit over in one moment, and rides on until it is clear what becomes of it.
    #[must_use]
    pub fn strike(&self, moment: usize, bit: u64) -> Strike {
        let healthy = &self.moments[moment];
        let mut machine = healthy.machine.clone();
        machine.forget_stops();
        memory::flip(machine.cycle_mut(), bit);
        let (mut peak, mut was_safe, mut squares) = (0.0_f64, false, [0.0; 2]);
        let used = |machine: &ClosedLoop<'_, f32>, peak: f64| {
            let stops = machine.plant().stops();
            [stops.speed_max_mps, peak]
        };
        let strike = |ending, used: [f64; 2], ratio: f64| Strike {
            bit,
            ride_ratio: ratio,
            moment,
            ending,
            used: f64::max(used[0] / healthy.limits[0], used[1] / healthy.limits[1]),
        };
        for (k, &[travel, accel]) in healthy.motion.iter().enumerate() {
            let (start, end) = period_ends(&self.floor, healthy.period as usize + k);
            let asked = machine.ask(start, switches(true));
            machine.advance(asked.answer, start, end);
            was_safe |= match asked.inside.permit.mode {
                Mode::Fault | Mode::Damped | Mode::Release | Mode::Limp => true,
                // Set down for a fault.
                Mode::Settle => asked.inside.faults.any(),
                _ => false,
            };
            let plant = machine.plant();
            peak = peak.max(plant.seat_accel().abs());
            let seen = used(&machine, peak);
            if seen[0] > healthy.limits[0] {
                return strike(Ending::HardContact, seen, 1.0);
            }
            if seen[1].is_nan() || seen[1] > healthy.limits[1] {
                return strike(Ending::HardSeat, seen, 1.0);
            }
            match healthy.states.get(k) {
                Some(state) => {
                    let moves_alike = (plant.travel() - travel).abs() <= self.motion_tolerance[0]
                        && (plant.seat_accel() - accel).abs() <= self.motion_tolerance[1];
                    if moves_alike && self.remembers_alike(machine.cycle(), state, healthy, bit) {
                        return strike(Ending::Healed, seen, 1.0);
                    }
                }
                None => {
                    squares[0] += plant.seat_accel().powi(2);
                    squares[1] += accel.powi(2);
                }
            }
        }
        let seen = used(&machine, peak);
        let ratio = (squares[0] / squares[1]).sqrt();
        strike(Ending::of_ride(was_safe, ratio), seen, ratio)
    }

    /// Whether the law's memory is the healthy one's: constants and whole numbers bit by bit, numbers within their
    /// tolerance. What only records counts where it was struck itself.
    fn remembers_alike(
        &self,
        cycle: &Cycle<f32>,
        state: &[u32],
        healthy: &super::bench::Moment<'_>,
        bit: u64,
    ) -> bool {
        if cycle.config_words() != healthy.machine.cycle().config_words() {
            return false;
        }
        let struck = (bit / 32) as usize;
        let found = cycle.state_words().iter().zip(state).enumerate();
        found.filter(|(_, (a, b))| a != b).all(|(n, (&a, &b))| {
            if self.is_number(n) {
                let [a, b] = [a, b].map(|word| f64::from(f32::from_bits(word)));
                return (a - b).abs() <= self.tolerance[n];
            }
            let records = RECORDS
                .iter()
                .any(|path| self.places[n].path.starts_with(path));
            records && n != struck
        })
    }
}
