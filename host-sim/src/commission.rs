//! The commissioning test against the plant: empty seat, still machine, idling engine.
//!
//! What can be wrong with a machine is put into the plant or the wiring, not into the
//! parameter table: the test must find it out.

use crate::body::{Body, BodyKind};
use crate::design::{self, DesignError};
use crate::machine::MachineErrors;
use crate::plant::{Config, Drive, Plant};
use crate::rig::Rig;
use crate::sensors::{Chance, SensorBank, Truth};
use firmware::commission::{Reason, State};
use firmware::{BuildError, Commission, DriveFrame, SensorFrame, Switches};
use serde::Serialize;
use std::f64::consts::TAU;

/// Something wrong with the machine.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Wrong {
    /// Motor leads swapped.
    DriveSign,
    /// Current sensor reversed.
    CurrentSign,
    /// Travel sensor reversed.
    TravelSign,
    /// Seat accelerometer upside down.
    SeatPolarity,
    /// Floor accelerometer upside down.
    FloorPolarity,
    /// Force constant times this.
    ForceConstant(f64),
    /// Moving mass times this, the seat levelled again.
    Mass(f64),
    /// Dry friction times this.
    Friction(f64),
    /// Travel reading times this.
    TravelGain(f64),
}

impl Wrong {
    /// The names that [`Wrong::parse`] reads, with a factor where one is wanted.
    pub const NAMES: &'static str = "drive-sign, current-sign, travel-sign, seat-polarity, floor-polarity, \
         force-constant:X, mass:X, friction:X or travel-gain:X with X from 0.2 to 5";

    /// Reads a name, `name:factor` where one is wanted.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let (name, factor) = match text.split_once(':') {
            None => (text, None),
            Some((name, factor)) => (name, Some(factor.parse::<f64>().ok()?)),
        };
        if factor.is_some_and(|x| !(0.2..=5.0).contains(&x)) {
            return None;
        }
        Some(match (name, factor) {
            ("drive-sign", None) => Self::DriveSign,
            ("current-sign", None) => Self::CurrentSign,
            ("travel-sign", None) => Self::TravelSign,
            ("seat-polarity", None) => Self::SeatPolarity,
            ("floor-polarity", None) => Self::FloorPolarity,
            ("force-constant", Some(x)) => Self::ForceConstant(x),
            ("mass", Some(x)) => Self::Mass(x),
            ("friction", Some(x)) => Self::Friction(x),
            ("travel-gain", Some(x)) => Self::TravelGain(x),
            _ => return None,
        })
    }

    fn in_plant(self, config: &mut Config) {
        match self {
            Self::DriveSign => config.force_constant_npa = -config.force_constant_npa,
            Self::ForceConstant(x) => config.force_constant_npa *= x,
            Self::Mass(x) => config.seat_kg *= x,
            Self::Friction(x) => {
                config.coulomb_n *= x;
                config.stiction_n *= x;
            }
            _ => {}
        }
    }

    fn in_frame(self, frame: &mut SensorFrame) {
        match self {
            Self::CurrentSign => frame.current = frame.current.saturating_neg(),
            Self::TravelSign => frame.travel = frame.travel.saturating_neg(),
            Self::SeatPolarity => frame.seat_accel = frame.seat_accel.saturating_neg(),
            Self::FloorPolarity => frame.floor_accel = frame.floor_accel.saturating_neg(),
            // A cast saturates.
            Self::TravelGain(x) => frame.travel = (f64::from(frame.travel) * x).round() as i16,
            _ => {}
        }
    }
}

/// What is tested.
#[derive(Clone, Debug)]
pub struct Spec {
    /// Draws the machine's errors, the noise, and where the seat rests.
    pub seed: u64,
    /// What is wrong with the machine.
    pub wrong: Option<Wrong>,
    /// Amplitude of the engine's hum on the floor, m/s^2. Invented.
    pub hum_mps2: f64,
    /// Mass of the floor that gives way to the seat's reaction, kg; infinite for a floor that does not. Invented.
    pub floor_kg: f64,
}

impl Spec {
    /// A sound machine with this seed, its engine idling.
    #[must_use]
    pub const fn of(seed: u64) -> Self {
        Self {
            seed,
            wrong: None,
            hum_mps2: 0.06,
            floor_kg: 1500.0,
        }
    }
}

/// The plant's truth, what is wrong with it included.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct MachineTruth {
    /// Force constant at mid travel, N/A.
    pub force_constant_npa: f64,
    /// Moving mass, kg.
    pub moving_mass_kg: f64,
    /// Viscous friction, N s/m.
    pub viscous_nspm: f64,
    /// Sliding friction, N.
    pub coulomb_n: f64,
}

/// How a test went.
#[derive(Clone, Debug)]
pub struct Run {
    /// The test, at its end.
    pub commission: Commission,
    /// The truth.
    pub truth: MachineTruth,
    /// Length, s.
    pub seconds: f64,
    /// Largest travel, m.
    pub travel_peak_m: f64,
    /// Largest force, N.
    pub force_peak_n: f64,
    /// Largest commanded current, A.
    pub command_peak_a: f64,
    /// Meetings with the stops.
    pub contacts: u32,
}

impl Run {
    /// Why the test gave up, when it did.
    #[must_use]
    pub const fn aborted(&self) -> Option<Reason> {
        match self.commission.state() {
            State::Aborted(reason) => Some(reason),
            _ => None,
        }
    }
}

/// Why a test cannot be run.
#[derive(Debug, thiserror::Error)]
pub enum CommissionError {
    /// The firmware's parameters.
    #[error("rig section firmware: {0}")]
    Parameters(#[from] BuildError),
    /// The observer's design.
    #[error("rig section observer: {0}")]
    Design(#[from] DesignError),
}

/// What stands for an empty seat, so that the body is never massless, kg.
const NOBODY_KG: f64 = 0.01;
/// The arming switch goes on then, s.
const ARM_S: f64 = 0.2;
/// No test takes longer, s.
const LONGEST_S: f64 = 300.0;
/// How far from its balance friction may hold the seat, m. Invented.
const HELD_M: f64 = 0.003;
/// Engine hum: second order of four cylinders at 750 turns a minute, and its double, Hz. Invented.
const HUM_HZ: [f64; 2] = [25.0, 50.0];

/// Suspension of the floor: natural frequency, Hz, and damping ratio. Invented.
const FLOOR_HZ: f64 = 1.8;
const FLOOR_DAMPING: f64 = 0.3;

/// A floor on its suspension, pushed by the seat's reaction, with the engine's hum on top.
struct Floor {
    hum_mps2: f64,
    phases: [f64; 2],
    per_kg: f64,
    displacement_m: f64,
    velocity_mps: f64,
}

impl Floor {
    /// Moves on by `step_s` under the force `push_n`; its acceleration at the end, `time`, m/s^2.
    fn step(&mut self, push_n: f64, time: f64, step_s: f64) -> f64 {
        let w = TAU * FLOOR_HZ;
        let accel = push_n * self.per_kg
            - 2.0 * FLOOR_DAMPING * w * self.velocity_mps
            - w * w * self.displacement_m;
        self.velocity_mps += step_s * accel;
        self.displacement_m += step_s * self.velocity_mps;
        let [a, b] = [0, 1].map(|i| (TAU * (HUM_HZ[i] * time + self.phases[i])).sin());
        accel + self.hum_mps2 * (0.8 * a + 0.2 * b)
    }
}

/// Runs the test. `meddle` sees every frame with its time (s) and may change it.
///
/// # Errors
/// Parameters that cannot be used.
pub fn run(
    rig: &Rig,
    spec: &Spec,
    mut meddle: impl FnMut(f64, &mut SensorFrame),
) -> Result<Run, CommissionError> {
    let mut commission = Commission::new(&design::parameters(rig)?)?;
    let step = rig.timing.step_s;
    let mut chance = Chance::new(spec.seed, 1);
    let errors = MachineErrors::draw(rig, &mut chance);
    let held_m = HELD_M * chance.even();
    let phases = [chance.even(), chance.even()];
    let mut config = Config::active(rig, errors.force, errors.level);
    if let Some(wrong) = spec.wrong {
        wrong.in_plant(&mut config);
    }
    let body = Body::new(BodyKind::Rigid, NOBODY_KG);
    let preload = Plant::balance_n(&config, &body) + errors.preload_n;
    let at = Plant::rest_travel(&config, &body, preload) + held_m;
    let mut plant = Plant::new(config, body, preload, at);
    let mut floor = Floor {
        hum_mps2: spec.hum_mps2,
        phases,
        per_kg: 1.0 / spec.floor_kg,
        displacement_m: 0.0,
        velocity_mps: 0.0,
    };
    let start = Truth::of(&plant, 0.0);
    let mut sensors = SensorBank::new(&rig.sensors, step, spec.seed, &start);
    let mut pipe = vec![DriveFrame::SAFE; rig.timing.transport_steps];
    let (mut travel_peak_m, mut force_peak_n, mut command_peak_a) = (0.0_f64, 0.0_f64, 0.0_f64);
    let (mut seconds, mut floor_now) = (0.0, 0.0);
    for k in 0..(LONGEST_S / step) as usize {
        let time = k as f64 * step;
        let arm = if time >= ARM_S { Switches::ARM } else { 0 };
        let switches = Switches(Switches::STOP_CIRCUIT | arm);
        let mut frame = sensors.sample(&Truth::of(&plant, floor_now), time, switches);
        if let Some(wrong) = spec.wrong {
            wrong.in_frame(&mut frame);
        }
        meddle(time, &mut frame);
        let answer = commission.step(&frame);
        let slot = k % pipe.len();
        let acting = core::mem::replace(&mut pipe[slot], answer);
        if acting.has(DriveFrame::ENABLE) {
            let asked = f64::from(acting.current_command) * rig.sensors.current.per_count;
            command_peak_a = command_peak_a.max(asked.abs());
        }
        let drive = Drive::of(&acting, rig);
        // What the seat is pushed up by, the floor is pushed down by.
        let push_n = -config.seat_kg * plant.seat_accel();
        let floor_end = floor.step(push_n, time + step, step);
        plant.step(floor_now, floor_end, drive, 0);
        floor_now = floor_end;
        travel_peak_m = travel_peak_m.max(plant.travel().abs());
        force_peak_n = force_peak_n.max(plant.force().abs());
        seconds = time + step;
        if matches!(commission.state(), State::Done | State::Aborted(_)) {
            break;
        }
    }
    Ok(Run {
        commission,
        truth: MachineTruth {
            force_constant_npa: config.force_constant_npa.abs(),
            moving_mass_kg: config.seat_kg,
            viscous_nspm: config.viscous_nspm,
            coulomb_n: config.coulomb_n,
        },
        seconds,
        travel_peak_m,
        force_peak_n,
        command_peak_a,
        contacts: plant.stops().contacts,
    })
}
