//! Which cases a campaign has: faults, floors, levels, occupants, onsets.

use crate::body::BodyKind;
use crate::fault::{
    ActuatorFault, Class, Entry, Fault, Kind, Lasts, OperatorFault, SensorFault, SupplyFault,
    TimeFault, catalogue,
};
use crate::floor::{self, FloorError, FloorSpec};
use crate::limits::constant;
use crate::ride::RideSpec;

/// Floors of the cases.
pub const FLOORS: [&str; 4] = ["hauler", "loader", "ballast", "edge"];
/// Levels of the floors.
pub const LEVELS: [f64; 2] = [1.0, 2.5];
/// Occupants, kg.
pub const OCCUPANTS_KG: [f64; 3] = [40.0, 80.0, 130.0];
/// Onsets, s: while the seat still rises and is not levelled; while it isolates; and a little later, in another phase
/// of the floor and of the law's turns.
pub const ONSETS_S: [f64; 3] = [0.8, 10.0, 11.37];
/// The event of a floor with one begins this long after the onset, s, in turn: the fault has come by then, or comes in
/// the middle of the drop.
const EVENT_AFTER_S: [f64; 2] = [0.5, -0.06];

/// What a campaign rides.
#[derive(Clone, Debug)]
pub struct Plan {
    /// The kinds of fault.
    pub faults: Vec<&'static Entry>,
    /// Floors by name.
    pub floors: Vec<String>,
    /// Levels of the floors.
    pub levels: Vec<f64>,
    /// Occupants, kg.
    pub occupants_kg: Vec<f64>,
    /// Onsets, s.
    pub onsets_s: Vec<f64>,
    /// Hours of healthy riding, h.
    pub hours: f64,
    /// Seed of floors, machines, sensors and faults.
    pub seed: u64,
    /// As the command line takes the rig; none for the default one.
    pub rig_option: Option<String>,
}

impl Plan {
    /// Everything.
    #[must_use]
    pub fn whole() -> Self {
        Self {
            faults: faults(),
            floors: FLOORS.map(str::to_owned).to_vec(),
            levels: LEVELS.to_vec(),
            occupants_kg: OCCUPANTS_KG.to_vec(),
            onsets_s: ONSETS_S.to_vec(),
            hours: 10.0,
            seed: 1,
            rig_option: None,
        }
    }

    /// The places of the campaign, in order.
    ///
    /// # Errors
    /// A floor that is not known.
    pub fn places(&self) -> Result<Vec<Place>, FloorError> {
        let mut places = Vec::new();
        for floor in &self.floors {
            for level in &self.levels {
                for occupant_kg in &self.occupants_kg {
                    for (n, onset_s) in self.onsets_s.iter().enumerate() {
                        let after_s = EVENT_AFTER_S[n / 2 % EVENT_AFTER_S.len()];
                        let spec = floor_spec(floor, *level, self.seed, onset_s + after_s)?;
                        places.push(Place {
                            title: floor.clone(),
                            floor: spec,
                            occupant_kg: *occupant_kg,
                            onset_s: *onset_s,
                            rig_option: self.rig_option.clone(),
                        });
                    }
                }
            }
        }
        Ok(places)
    }
}

/// The kinds that a campaign breaks: all but the flip of one bit of memory, whose size is a place and not an amount.
#[must_use]
pub fn faults() -> Vec<&'static Entry> {
    let one_of_many = |e: &&Entry| e.kind != Kind::MemoryFlip;
    catalogue().iter().filter(one_of_many).collect()
}

/// A floor; if it is a single event, that begins at `event_s`, s.
fn floor_spec(name: &str, level: f64, seed: u64, event_s: f64) -> Result<FloorSpec, FloorError> {
    let mut spec = FloorSpec {
        level,
        seed,
        ..FloorSpec::named(name)
    };
    if floor::event_start_s(&spec)?.is_some() {
        let joint = if name.contains(':') { ',' } else { ':' };
        spec.name = format!("{name}{joint}at={}", (event_s * 1000.0).round() / 1000.0);
    }
    Ok(spec)
}

/// Where and when something breaks: one floor, level, occupant and onset.
#[derive(Clone, Debug, PartialEq)]
pub struct Place {
    /// Name of the floor without the time of its event.
    pub title: String,
    /// The floor.
    pub floor: FloorSpec,
    /// Occupant, kg.
    pub occupant_kg: f64,
    /// Onset, s.
    pub onset_s: f64,
    /// As the command line takes the rig.
    pub rig_option: Option<String>,
}

impl Place {
    /// The fault at its usual size, here.
    #[must_use]
    pub fn fault(&self, entry: &Entry) -> Fault {
        Fault {
            onset_s: self.onset_s,
            ..Fault::usual(entry)
        }
    }

    /// The ride of a case: what [`Place::command`] rides.
    #[must_use]
    pub fn ride(&self, entry: &Entry) -> RideSpec {
        RideSpec {
            occupant_kg: self.occupant_kg,
            body: BodyKind::TwoMass,
            seconds: self.seconds(entry),
            skip_s: self.onset_s,
            faults: vec![self.fault(entry)],
            ..RideSpec::on(self.floor.clone())
        }
    }

    fn seconds(&self, entry: &Entry) -> f64 {
        ((self.onset_s + window_s(entry)) * 1000.0).round() / 1000.0
    }

    /// The command that rides this case and gives the same figures.
    #[must_use]
    pub fn command(&self, entry: &Entry) -> String {
        format!(
            "{} --skip {} --no-bound --fault {}",
            ride_command(
                &self.floor,
                self.occupant_kg,
                self.seconds(entry),
                self.rig_option.as_deref()
            ),
            self.onset_s,
            self.fault(entry)
        )
    }

    /// What tells this case from all others.
    #[must_use]
    pub fn id(&self, entry: &Entry) -> String {
        format!(
            "{} x{} {} kg {} s seed {} {}",
            self.floor.name,
            self.floor.level,
            self.occupant_kg,
            self.onset_s,
            self.floor.seed,
            entry.name
        )
    }
}

/// The command of a ride.
pub(super) fn ride_command(
    floor: &FloorSpec,
    occupant_kg: f64,
    seconds: f64,
    rig: Option<&str>,
) -> String {
    let mut command = format!(
        "becalm ride --floor {} --level {} --occupant {occupant_kg} --seconds {seconds}",
        floor.name, floor.level
    );
    if floor.seed != 1 {
        command += &format!(" --seed {}", floor.seed);
    }
    if let Some(rig) = rig {
        command += &format!(" --rig {rig}");
    }
    command
}

/// How long a case runs from its onset on, s: 3; 12 for drifts; 2 more than a duration that is long; 6 for a restart, after
/// which the seat rises anew.
#[must_use]
pub fn window_s(entry: &Entry) -> f64 {
    match (entry.kind, entry.lasts) {
        (Kind::Sensor(_, SensorFault::Drift), _) => 12.0,
        (Kind::Time(TimeFault::Watchdog), _) => 6.0,
        (_, Lasts::For(s)) => (s + 2.0).max(3.0),
        _ => 3.0,
    }
}

/// Whether a fault grows slowly.
#[must_use]
pub const fn is_drift(kind: Kind) -> bool {
    matches!(kind, Kind::Sensor(_, SensorFault::Drift))
}

/// Within what time a fault is to be noticed, s; none for what people do.
#[must_use]
pub const fn to_be_noticed_within_s(kind: Kind) -> Option<f64> {
    match kind {
        Kind::Operator(_) => None,
        Kind::Sensor(_, SensorFault::Drift)
        | Kind::Actuator(
            ActuatorFault::Weak
            | ActuatorFault::LoopSlow
            | ActuatorFault::Hot
            | ActuatorFault::Jammed
            | ActuatorFault::SpringBroken,
        ) => Some(constant::FAULT_NOTICE_SLOW),
        _ => Some(constant::FAULT_NOTICE),
    }
}

/// Whether a fault is answered by a mode and needs no fault bit.
#[must_use]
pub const fn is_answered_by_mode(kind: Kind) -> bool {
    matches!(kind, Kind::Operator(_) | Kind::Time(TimeFault::Watchdog))
}

/// Whether the motor can no longer do what a firmware wants: no current, no force, a current of its own, no supply; or
/// more than it can make up for: a jammed guide, a broken spring. For the last two the unreacting law is the measure too.
#[must_use]
pub const fn motor_is_lost(kind: Kind) -> bool {
    matches!(
        kind,
        Kind::Actuator(
            ActuatorFault::WindingOpen
                | ActuatorFault::WindingShort
                | ActuatorFault::NoForce
                | ActuatorFault::CurrentStuck
                | ActuatorFault::Jammed
                | ActuatorFault::SpringBroken
        ) | Kind::Supply(SupplyFault::Loss)
    )
}

/// Whether a fault also acts on a seat without motor: people, and the support.
#[must_use]
pub const fn reaches_the_passive_seat(kind: Kind) -> bool {
    match kind {
        Kind::Operator(fault) => !matches!(
            fault,
            OperatorFault::StopOpened | OperatorFault::Disarmed | OperatorFault::SwitchOpen
        ),
        Kind::Actuator(ActuatorFault::Jammed | ActuatorFault::SpringBroken) => true,
        _ => false,
    }
}

/// The entries whose name or class begins with one of the texts.
///
/// # Errors
/// The text that fits none.
pub fn only(texts: &[String]) -> Result<Vec<&'static Entry>, String> {
    let fits =
        |e: &Entry, text: &str| e.name.starts_with(text) || e.kind.class().name().starts_with(text);
    let all = faults();
    if let Some(text) = texts.iter().find(|t| !all.iter().any(|e| fits(e, t))) {
        let classes: Vec<&str> = Class::ALL
            .into_iter()
            .filter(|c| *c != Class::Memory)
            .map(Class::name)
            .collect();
        return Err(format!(
            "--only {text}: fits no fault: expected the beginning of a name (see `becalm ride --list-faults`) or of a class: {}",
            classes.join(", ")
        ));
    }
    Ok(all
        .into_iter()
        .filter(|e| texts.iter().any(|t| fits(e, t)))
        .collect())
}
