//! What the test found, and the judgement item by item.

use super::fit::{Fit, Told, Tone};
use super::parameters::Parameters;
use super::phasor::Phasor;
use super::rest::Rest;
use shared_math::Scalar;

/// What is judged.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
pub enum Item {
    /// Positive current command lifts the seat, by the travel and seat sensors.
    DriveSign,
    /// The current sensor's sign, against the command.
    CurrentSign,
    /// The travel sensor's sign, against drive and seat accelerometer.
    TravelSign,
    /// The seat accelerometer's polarity, against drive and travel.
    SeatPolarity,
    /// The floor accelerometer's polarity, against the seat's at rest; zero when the floor is too still to tell.
    FloorPolarity,
    /// Force constant, N/A.
    ForceConstant,
    /// Moving mass, kg.
    MovingMass,
    /// Viscous friction, N s/m.
    Viscous,
    /// Dry friction, N.
    Coulomb,
    /// Seat accelerometer against travel and floor accelerometer, gain.
    TravelGain,
    /// Measured against commanded current, gain.
    CurrentGain,
    /// Bias of the floor accelerometer, m/s^2.
    FloorBias,
    /// Bias of the seat accelerometer, m/s^2.
    SeatBias,
    /// Bias of the current sensor, A.
    CurrentBias,
    /// What the equations are missed by, share.
    Residual,
}

/// One item's judgement.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct Verdict {
    /// What is judged.
    pub item: Item,
    /// What was found, in the item's unit; +1 or -1 for signs.
    pub found: f32,
    /// What the parameter table says.
    pub told: f32,
    /// By how much the two may differ.
    pub tolerance: f32,
    /// Whether they differ by no more.
    pub agrees: bool,
}

/// Signs as the parameter table has them: +1 right, -1 reversed, 0 not seen.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct Signs {
    /// Drive: positive current command lifts.
    pub drive: f32,
    /// Current sensor.
    pub current: f32,
    /// Travel sensor.
    pub travel: f32,
    /// Seat accelerometer.
    pub seat: f32,
    /// Floor accelerometer.
    pub floor: f32,
}

/// Number of items.
pub const ITEMS: usize = 15;

/// What the test found. Everything is by the measured current and the told spring.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct Finding {
    /// Force constant, magnitude, N/A.
    pub force_constant_npa: f32,
    /// Moving mass, kg.
    pub moving_mass_kg: f32,
    /// Viscous friction, N s/m.
    pub viscous_nspm: f32,
    /// Dry friction, N.
    pub coulomb_n: f32,
    /// Amplitude of seat acceleration over that by travel and floor, mean of three motions.
    pub travel_gain: f32,
    /// Amplitude of measured over commanded current, mean of three motions.
    pub current_gain: f32,
    /// Signs.
    pub signs: Signs,
    /// Correlation of the accelerometers at rest, -1 to 1.
    pub correlation: f32,
    /// Bias of the floor accelerometer, m/s^2.
    pub floor_bias_mps2: f32,
    /// Bias of the seat accelerometer, m/s^2.
    pub seat_bias_mps2: f32,
    /// Bias of the current sensor, A.
    pub current_bias_a: f32,
    /// Travel at which the seat rested, m.
    pub rest_travel_m: f32,
    /// R.m.s. of the floor accelerometer at rest, bias left out, m/s^2.
    pub floor_rms_mps2: f32,
    /// R.m.s. of the seat accelerometer at rest, bias left out, m/s^2.
    pub seat_rms_mps2: f32,
    /// R.m.s. by which the equations are missed, share of their force.
    pub residual: f32,
    /// The judgement of every item.
    pub verdicts: [Verdict; ITEMS],
}

impl Finding {
    /// Whether every item agrees: the law may be armed.
    #[must_use]
    pub fn agrees(&self) -> bool {
        self.verdicts.iter().all(|v| v.agrees)
    }

    /// The items that do not agree.
    pub fn refused(&self) -> impl Iterator<Item = &Verdict> + '_ {
        self.verdicts.iter().filter(|v| !v.agrees)
    }
}

fn sign(x: f32) -> f32 {
    if x > 0.0 {
        1.0
    } else if x < 0.0 {
        -1.0
    } else {
        0.0
    }
}

/// Signs of the sensors relative to one another, before anything is fitted.
#[derive(Clone, Copy, Debug)]
pub(super) struct Relative {
    current_to_command: f32,
    seat_to_travel: f32,
    floor_to_seat: f32,
}

impl Relative {
    /// From the motion of largest amplitude and the command that made it, phase relative to travel.
    pub(super) fn new(tone: &Tone, command: Phasor, rest: &Rest, correlation_min: f32) -> Self {
        let along = tone.current.re * command.re + tone.current.im * command.im;
        let seen = rest.correlation.abs() >= correlation_min;
        Self {
            current_to_command: sign(along),
            seat_to_travel: sign(-tone.seat.re),
            floor_to_seat: if seen { sign(rest.correlation) } else { 0.0 },
        }
    }

    /// The floor accelerometer's polarity in the travel sensor's view.
    pub(super) fn floor_to_travel(&self) -> f32 {
        self.floor_to_seat * self.seat_to_travel
    }

    /// Who is reversed, when drive, travel and seat accelerometer cannot all be right: the one that stands alone.
    fn blame(&self, force_constant: f32) -> Signs {
        let drive_to_travel = sign(force_constant) * self.current_to_command;
        let (drive, travel, seat) = match (drive_to_travel > 0.0, self.seat_to_travel > 0.0) {
            (true, true) => (1.0, 1.0, 1.0),
            (true, false) => (1.0, 1.0, -1.0),
            (false, true) => (-1.0, 1.0, 1.0),
            (false, false) => (1.0, -1.0, 1.0),
        };
        Signs {
            drive,
            current: self.current_to_command,
            travel,
            seat,
            floor: self.floor_to_seat * seat,
        }
    }
}

/// Everything that is judged.
pub(super) struct Evidence<'a> {
    pub(super) fit: Fit,
    pub(super) relative: Relative,
    pub(super) rest: &'a Rest,
    pub(super) travel_gain: f32,
    pub(super) current_gain: f32,
}

/// Judges the evidence by what was told.
pub(super) fn judge(told: &Told, p: &Parameters, e: &Evidence<'_>) -> Finding {
    let (fit, rest) = (&e.fit, e.rest);
    let signs = e.relative.blame(fit.force_constant_npa);
    let force_constant_npa = fit.force_constant_npa.abs();
    let of = |item, found: f32, told: f32, tolerance: f32| Verdict {
        item,
        found,
        told,
        tolerance,
        // What is no number agrees with nothing.
        agrees: Scalar::abs(found - told) <= tolerance,
    };
    let is_right = |item, found| of(item, found, 1.0, 0.0);
    let share = |item, found, told: f32, tolerance: f32| of(item, found, told, tolerance * told);
    Finding {
        force_constant_npa,
        moving_mass_kg: fit.mass_kg,
        viscous_nspm: fit.viscous_nspm,
        coulomb_n: fit.coulomb_n,
        travel_gain: e.travel_gain,
        current_gain: e.current_gain,
        signs,
        correlation: rest.correlation,
        floor_bias_mps2: rest.floor_mps2,
        seat_bias_mps2: rest.seat_mps2,
        current_bias_a: rest.current_a,
        rest_travel_m: rest.travel_m,
        floor_rms_mps2: rest.floor_rms_mps2,
        seat_rms_mps2: rest.seat_rms_mps2,
        residual: fit.residual,
        verdicts: [
            is_right(Item::DriveSign, signs.drive),
            is_right(Item::CurrentSign, signs.current),
            is_right(Item::TravelSign, signs.travel),
            is_right(Item::SeatPolarity, signs.seat),
            is_right(Item::FloorPolarity, signs.floor),
            share(
                Item::ForceConstant,
                force_constant_npa,
                told.force_constant_npa,
                p.force_tolerance,
            ),
            share(
                Item::MovingMass,
                fit.mass_kg,
                told.mass_kg,
                p.mass_tolerance,
            ),
            share(
                Item::Viscous,
                fit.viscous_nspm,
                told.viscous_nspm,
                p.viscous_tolerance,
            ),
            share(
                Item::Coulomb,
                fit.coulomb_n,
                told.coulomb_n,
                p.coulomb_tolerance,
            ),
            share(Item::TravelGain, e.travel_gain, 1.0, p.gain_tolerance),
            share(Item::CurrentGain, e.current_gain, 1.0, p.gain_tolerance),
            of(Item::FloorBias, rest.floor_mps2, 0.0, p.accel_bias_max_mps2),
            of(Item::SeatBias, rest.seat_mps2, 0.0, p.accel_bias_max_mps2),
            of(Item::CurrentBias, rest.current_a, 0.0, p.current_bias_max_a),
            of(Item::Residual, fit.residual, 0.0, p.residual_max),
        ],
    }
}
