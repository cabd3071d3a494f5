//! Operating points: who sits there, where the seat is, and what the law is doing.

use super::forecast::{self, LearnError};
use super::friction;
use super::law::{ForecastMap, Law, LawPoint};
use super::linearise::SETTLE_STEPS;
use super::plant_model::Machine;
use crate::body::{Body, BodyKind};
use crate::design::{self, DesignError};
use crate::floor::FloorSpec;
use crate::rig::Rig;
use firmware::estimate::TIMES;
use firmware::{BuildError, Parameters};
use serde::Serialize;

/// What the law is doing.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Doing {
    /// The floor stays within the travel: no constraint of the look-ahead is active.
    Isolating,
    /// The farthest forecast time binds.
    FollowingLate,
    /// One in the middle binds.
    FollowingMid,
    /// The second of the times binds.
    FollowingEarly,
    /// The same on a rough floor, of which the law follows more.
    FollowingRough,
    /// The nearest time binds.
    FollowingNearest,
    /// Several bind.
    FollowingSeveral,
    /// The clamp for the end of travel acts, at this share of the travel to its rest point: an instant
    /// of a motion, held still.
    Braking(f64),
}

impl Doing {
    /// Everything but braking.
    pub const ISOLATING: [Self; 7] = [
        Self::Isolating,
        Self::FollowingLate,
        Self::FollowingMid,
        Self::FollowingEarly,
        Self::FollowingRough,
        Self::FollowingNearest,
        Self::FollowingSeveral,
    ];

    /// Name in tables and on the command line.
    #[must_use]
    pub fn name(self) -> String {
        match self {
            Self::Isolating => "isolating".to_owned(),
            Self::FollowingLate => "following-late".to_owned(),
            Self::FollowingMid => "following-mid".to_owned(),
            Self::FollowingEarly => "following-early".to_owned(),
            Self::FollowingRough => "following-rough".to_owned(),
            Self::FollowingNearest => "following-nearest".to_owned(),
            Self::FollowingSeveral => "following-several".to_owned(),
            Self::Braking(share) => format!("braking at {:.0} % of the travel", 100.0 * share),
        }
    }

    /// Whether it is an instant of braking.
    #[must_use]
    pub const fn brakes(self) -> bool {
        matches!(self, Self::Braking(_))
    }

    /// Which forecast times are given too much floor.
    fn binding(self) -> [bool; TIMES] {
        core::array::from_fn(|j| match self {
            Self::Isolating | Self::Braking(_) => false,
            Self::FollowingLate => j + 1 == TIMES,
            Self::FollowingMid => j == TIMES / 2,
            Self::FollowingEarly | Self::FollowingRough => j == 1,
            Self::FollowingNearest => j == 0,
            Self::FollowingSeveral => j % 2 == 1,
        })
    }
}

/// Dry friction while the seat slides: amplitude of the travel rate, m/s, and whether the law cancels.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Sliding {
    /// Amplitude, m/s; infinite where friction no longer counts.
    pub rate_mps: f64,
    /// Share of the cancellation in use: 1 on a floor that stirs, 0 on a still one.
    pub cancelled: f64,
}

/// An operating point.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Point {
    /// Mass of the occupant, kg.
    pub occupant_kg: f64,
    /// Seated body.
    #[serde(serialize_with = "body_name")]
    pub body: BodyKind,
    /// What the law is doing.
    #[serde(serialize_with = "doing_name")]
    pub doing: Doing,
    /// Friction.
    pub friction: Sliding,
    /// Where the seat is, share of the travel to a stop; braking has its own.
    pub travel_share: f64,
    /// Error of the force constant, share.
    pub force_share: f64,
    /// Supply, V.
    pub supply_v: f64,
    /// Coil, degrees Celsius.
    pub coil_c: f64,
}

fn body_name<S: serde::Serializer>(body: &BodyKind, s: S) -> Result<S::Ok, S::Error> {
    s.serialize_str(body.name())
}

fn doing_name<S: serde::Serializer>(doing: &Doing, s: S) -> Result<S::Ok, S::Error> {
    s.serialize_str(&doing.name())
}

impl Point {
    /// An occupant at mid travel, isolating, without friction.
    #[must_use]
    pub fn plain(rig: &Rig, occupant_kg: f64, body: BodyKind) -> Self {
        Self {
            occupant_kg,
            body,
            doing: Doing::Isolating,
            friction: Sliding {
                rate_mps: f64::INFINITY,
                cancelled: 1.0,
            },
            travel_share: 0.0,
            force_share: 0.0,
            supply_v: rig.supply.voltage_v,
            coil_c: rig.thermal.ambient_c,
        }
    }

    /// In words.
    #[must_use]
    pub fn words(&self) -> String {
        let friction = if !self.friction.rate_mps.is_finite() {
            "no friction".to_owned()
        } else if self.friction.cancelled > 0.0 {
            format!("sliding at {} m/s", self.friction.rate_mps)
        } else {
            format!("sliding at {} m/s, not cancelled", self.friction.rate_mps)
        };
        let travel = if self.doing.brakes() || self.travel_share == 0.0 {
            String::new()
        } else {
            format!(", {:.0} % off mid travel", 100.0 * self.travel_share)
        };
        let force = if self.force_share == 0.0 {
            String::new()
        } else {
            format!(", force {:+.0} %", 100.0 * self.force_share)
        };
        format!(
            "{} kg {}, {}, {friction}{travel}{force}",
            self.occupant_kg,
            self.body.name(),
            self.doing.name()
        )
    }
}

/// Why an operating point cannot be looked at.
#[derive(Debug, thiserror::Error)]
pub enum PointError {
    /// The observer's design.
    #[error("rig section observer: {0}")]
    Design(#[from] DesignError),
    /// The forecast.
    #[error("forecast: {0}")]
    Learn(#[from] LearnError),
    /// A parameter.
    #[error("rig section firmware: {0}")]
    Parameters(#[from] BuildError),
}

/// What all points of a rig share.
#[derive(Clone, Debug)]
pub struct Bench {
    /// The rig.
    pub rig: Rig,
    /// The firmware's parameters, with dry friction as told.
    pub parameters: Parameters,
    /// The forecast's map, learnt on the bench's roughest common floor.
    forecast: ForecastMap,
}

/// Floor on which the forecast's frozen coefficients are learnt, and for how long, s.
const FLOOR: (&str, f64) = ("hauler", 30.0);
/// Wanted acceleration that a binding constraint should ask for, m/s^2: well within its limit.
const BINDING_MPS2: f64 = 3.0;
/// Peak of the floor's acceleration where the floor is rough, times the law's threshold.
const ROUGH: f64 = 1.5;

impl Bench {
    /// Prepares a rig.
    ///
    /// # Errors
    /// An observer that cannot be designed or a floor that cannot be made.
    pub fn new(rig: &Rig) -> Result<Self, PointError> {
        let parameters = design::parameters(rig)?;
        let forecast = forecast::learnt(&parameters, &FloorSpec::named(FLOOR.0), FLOOR.1)?;
        Ok(Self {
            rig: rig.clone(),
            parameters,
            forecast,
        })
    }

    /// The body at a point.
    #[must_use]
    pub fn body(&self, point: &Point) -> Body {
        Body::new(point.body, point.occupant_kg * self.rig.seat.on_seat_share)
    }

    /// The firmware's parameters with friction's cancellation as the describing function of its
    /// saturation: a slope that never ends.
    #[must_use]
    pub fn parameters_at(&self, point: &Point) -> Parameters {
        let mut parameters = self.parameters;
        let told = &mut parameters.limit;
        let (force, full) = (
            f64::from(told.coulomb_n * told.coulomb_share),
            f64::from(told.coulomb_full_mps),
        );
        let slope = if point.friction.rate_mps.is_finite() {
            friction::saturating(force, full, point.friction.rate_mps)
        } else {
            0.0
        };
        told.coulomb_n = slope as f32;
        told.coulomb_share = 1.0;
        told.coulomb_full_mps = 1.0;
        parameters
    }

    /// The law's operating point.
    ///
    /// # Errors
    /// A parameter that cannot be used.
    pub fn law_point(&self, point: &Point) -> Result<LawPoint, PointError> {
        let body = self.body(point);
        let mut at = LawPoint {
            friction: point.friction.cancelled,
            supply_v: point.supply_v,
            coil_c: point.coil_c,
            forecast: self.forecast,
            ..LawPoint::still(self.rig.seat.empty_mass_kg + body.total_kg())
        };
        let told = &self.parameters.isolate;
        let interval = f64::from(self.parameters.timing.step_s)
            * (firmware::estimate::SAMPLE_STEPS * firmware::estimate::SAMPLES_PER_TIME) as f64;
        let (near, far) = (f64::from(told.usable_m), f64::from(told.usable_far_m));
        let gain = f64::from(told.forecast_gain);
        for (j, bound) in point.doing.binding().into_iter().enumerate() {
            if bound {
                let share = (j + 1) as f64;
                let tau = interval * share;
                let edge = near + (far - near) * share / TIMES as f64;
                // The least acceleration against an excess e at tau is about 3 e / tau^2.
                let excess = (BINDING_MPS2 * tau * tau / 3.0).min(0.5 * edge);
                at.ahead_m[j] = -(edge + excess) / gain;
            }
        }
        if point.doing == Doing::FollowingRough {
            at.floor_peak_mps2 = ROUGH * f64::from(told.rough_mps2);
        }
        if let Doing::Braking(share) = point.doing {
            at.travel_m = share * f64::from(self.parameters.arrest.rest_m);
            at.rate_mps = 1.02 * self.braking_rate(&at)?;
        }
        Ok(at)
    }

    /// Least travel rate at which the clamp acts, m/s.
    fn braking_rate(&self, at: &LawPoint) -> Result<f64, PointError> {
        let acts = |rate_mps: f64| -> Result<bool, PointError> {
            let point = LawPoint { rate_mps, ..*at };
            let mut law = Law::<f64>::new(&self.parameters, point)?;
            let mut acts = false;
            for _ in 0..SETTLE_STEPS {
                let output = law.step([0.0; 3]);
                acts = output.permitted < output.wanted - 1.0e-6;
            }
            Ok(acts)
        };
        let (mut low, mut high) = (0.0, 4.0);
        for _ in 0..24 {
            let mid = 0.5 * (low + high);
            if acts(mid)? {
                high = mid;
            } else {
                low = mid;
            }
        }
        Ok(high)
    }

    /// How many constraints of the look-ahead are active at a point.
    ///
    /// # Errors
    /// A parameter that cannot be used.
    pub fn constraints(&self, point: &Point) -> Result<usize, PointError> {
        let at = self.law_point(point)?;
        let wanted = |at: LawPoint| -> Result<f64, PointError> {
            let mut law = Law::<f64>::new(&self.parameters, at)?;
            let mut wanted = 0.0;
            for _ in 0..SETTLE_STEPS {
                wanted = law.step([0.0; 3]).wanted;
            }
            Ok(wanted)
        };
        let usual = wanted(at)?;
        let mut active = 0;
        for j in 0..TIMES {
            let mut moved = at;
            moved.ahead_m[j] += 1.0e-5;
            active += usize::from((wanted(moved)? - usual).abs() > 1.0e-9);
        }
        Ok(active)
    }

    /// The machine at a point: `rig` and `body` may differ from what the law was designed for.
    #[must_use]
    pub fn machine(&self, rig: &Rig, body: Body, point: &Point) -> Machine {
        let mut machine = Machine::of(rig, body);
        machine.force_constant_npa *= 1.0 + point.force_share;
        if point.friction.rate_mps.is_finite() {
            machine.dry_nspm = friction::dry(rig.friction.coulomb_n, point.friction.rate_mps);
        }
        let share = match point.doing {
            Doing::Braking(share) => {
                share * f64::from(self.parameters.arrest.rest_m) / rig.seat.travel_m
            }
            _ => point.travel_share,
        };
        machine.travel_m = share * rig.seat.travel_m;
        // The support is balanced at mid travel; the motor holds its spring.
        machine.force_n = rig.spring.stiffness_npm * machine.travel_m;
        machine
    }
}
