//! Healthy rides in search of false alarms.

use super::plan::{LEVELS, OCCUPANTS_KG, Plan, ride_command};
use crate::body::BodyKind;
use crate::closed_loop::{ClosedLoop, switches};
use crate::fault_words::fault_words;
use crate::floor::{self, FloorSpec};
use crate::occupancy::Occupancy;
use crate::ride::RideError;
use crate::rig::Rig;
use firmware::{Cycle, Faults, Parameters};
use serde::{Deserialize, Serialize};

/// Random floors of the healthy rides.
pub const FLOORS: [&str; 6] = [
    "hauler", "loader", "grader", "compact", "crawler", "ballast",
];
/// The floor with a single event, and how long it is ridden, s.
const EVENT: (&str, f64) = ("edge", 18.0);
/// Every floor, level and occupant is ridden from one seed for each of these, h.
const ROUND_H: f64 = 2.5;
/// Shortest ride, s.
const SHORTEST_S: f64 = 10.0;

/// One healthy ride.
#[derive(Clone, Debug, PartialEq)]
pub struct HealthyRide {
    /// The floor.
    pub floor: FloorSpec,
    /// Occupant, kg.
    pub occupant_kg: f64,
    /// Seated body or rigid load, in turn from ride to ride and from seed to seed.
    pub body: BodyKind,
    /// Length, s.
    pub seconds: f64,
    rig_option: Option<String>,
}

/// What a healthy ride came to.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct AlarmFigures {
    /// What tells the ride from others.
    pub id: String,
    /// Length, s.
    pub seconds: f64,
    /// How often a fault bit rose.
    pub alarms: u32,
    /// The first one, s.
    pub first_s: Option<f64>,
    /// Its bits in words.
    pub first_as: Vec<String>,
    /// The command of the ride.
    pub command: String,
}

/// The healthy rides of a campaign: six random floors and the edge, both levels, all occupants, seated bodies and rigid
/// loads, as many seeds and as long as the hours need.
#[must_use]
pub fn rides(plan: &Plan) -> Vec<HealthyRide> {
    if plan.hours <= 0.0 {
        return Vec::new();
    }
    let rounds = (plan.hours / ROUND_H).ceil().max(1.0);
    let combinations = (LEVELS.len() * OCCUPANTS_KG.len()) as f64;
    let random_s = plan.hours * 3600.0 / rounds - combinations * EVENT.1;
    let each_s = (random_s / (combinations * FLOORS.len() as f64))
        .ceil()
        .max(SHORTEST_S);
    let floors = || FLOORS.iter().map(|name| (*name, each_s)).chain([EVENT]);
    let mut rides = Vec::new();
    for (round, seed) in (plan.seed..).take(rounds as usize).enumerate() {
        for (name, seconds) in floors() {
            for level in LEVELS {
                for occupant_kg in OCCUPANTS_KG {
                    rides.push(HealthyRide {
                        floor: FloorSpec {
                            level,
                            seed,
                            ..FloorSpec::named(name)
                        },
                        occupant_kg,
                        body: if (round + rides.len()).is_multiple_of(2) {
                            BodyKind::TwoMass
                        } else {
                            BodyKind::Rigid
                        },
                        seconds,
                        rig_option: plan.rig_option.clone(),
                    });
                }
            }
        }
    }
    rides
}

impl HealthyRide {
    /// What tells the ride from others.
    #[must_use]
    pub fn id(&self) -> String {
        let f = &self.floor;
        format!(
            "healthy {} x{} {} {} kg {} s seed {}",
            f.name,
            f.level,
            self.body.name(),
            self.occupant_kg,
            self.seconds,
            f.seed
        )
    }

    /// Rides it and counts the fault bits that rise.
    ///
    /// # Errors
    /// The floor or the firmware's parameters.
    pub fn ride(&self, rig: &Rig, parameters: &Parameters) -> Result<AlarmFigures, RideError> {
        let rate = 1.0 / rig.timing.step_s;
        let mut source = floor::build(&self.floor, rate)?;
        let people = Occupancy::new(rig, self.body, self.occupant_kg, &[]);
        let body = people.body_at(self.occupant_kg);
        let seated = switches(people.seated(&body));
        let cycle = Cycle::<f32>::new(parameters)?;
        let mut machine = ClosedLoop::new(rig, cycle, body, self.floor.seed, None);
        let mut figures = AlarmFigures {
            id: self.id(),
            seconds: self.seconds,
            alarms: 0,
            first_s: None,
            first_as: Vec::new(),
            command: ride_command(
                &self.floor,
                self.occupant_kg,
                self.seconds,
                self.rig_option.as_deref(),
            ) + &format!(" --body {} --no-bound", self.body.name()),
        };
        let mut before = 0;
        let mut now = source.next_accel();
        for _ in 0..(self.seconds * rate).round() as u64 {
            let next = source.next_accel();
            let asked = machine.ask(now, seated);
            let risen = asked.answer.faults & !before;
            figures.alarms += risen.count_ones();
            if risen != 0 && figures.first_s.is_none() {
                figures.first_s = Some(machine.time_s());
                let words = fault_words(Faults(risen));
                figures.first_as = words.into_iter().map(str::to_owned).collect();
            }
            before = asked.answer.faults;
            machine.advance(asked.answer, now, now + (next - now));
            now = next;
        }
        Ok(figures)
    }
}
