//! A rig: one machine's description, read from a TOML file.
//!
//! A rig holds the truth (what the plant simulates) and, under `firmware`, what
//! the firmware is told of it and how it is tuned. The two differ on purpose.

mod check;
mod rates;

use crate::design::{self, DesignError};
use crate::limits;
use crate::toml_file::{self, TomlError, find_field};
use firmware::Cycle;
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};

/// Why a rig cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum RigError {
    /// The file.
    #[error(transparent)]
    File(#[from] TomlError),
    /// No observer can be designed.
    #[error("{}: section observer: {source}", path.display())]
    Observer {
        /// The file.
        path: PathBuf,
        /// Why.
        source: DesignError,
    },
}

/// Seat and how the body rests on it.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Seat {
    /// Moving mass of the empty seat, kg.
    pub empty_mass_kg: f64,
    /// Share of body mass that rests on the seat.
    pub on_seat_share: f64,
    /// Travel to either side, to the bumper faces, m.
    pub travel_m: f64,
}

/// Support spring and height adjuster.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Spring {
    /// Stiffness, N/m.
    pub stiffness_npm: f64,
    /// Error of the preload that the firmware is told, N, either way by seed.
    pub preload_error_n: f64,
    /// Rate of the height adjuster, N/s.
    pub level_rate_nps: f64,
    /// Its error, share, either way by seed.
    pub level_rate_error: f64,
    /// Largest preload, N.
    pub preload_max_n: f64,
}

/// Friction of the support.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Friction {
    /// Viscous, N s/m.
    pub viscous_nspm: f64,
    /// Sliding, N.
    pub coulomb_n: f64,
    /// Breakaway, N, at least the sliding force.
    pub stiction_n: f64,
    /// Rate over which breakaway fades into sliding, m/s.
    pub stribeck_mps: f64,
}

/// End bumpers.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Bumper {
    /// Force at compression x is this times x^1.5, N/m^1.5.
    pub stiffness_npm15: f64,
    /// Share by which force grows for 1 m/s of closing speed, s/m.
    pub damping_spm: f64,
}

/// Linear motor with its current loop.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Actuator {
    /// Data-sheet force constant, N/A.
    pub force_constant_npa: f64,
    /// Error of the data sheet, share, either way by seed.
    pub force_constant_error: f64,
    /// Fall from mid travel to the stops, share.
    pub force_constant_droop: f64,
    /// Winding resistance at 20 degrees Celsius, ohm.
    pub resistance_20c_ohm: f64,
    /// Inductance, H.
    pub inductance_h: f64,
    /// Largest current that the drive gives, A.
    pub current_max_a: f64,
    /// Bandwidth of the current loop, Hz.
    pub current_loop_hz: f64,
    /// Resistor through which the windings are joined in the safe state, ohm; a transistor across it,
    /// pulsed, bridges it by the share that the firmware asks for.
    pub brake_ohm: f64,
}

/// Two-node thermal model.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Thermal {
    /// Ambient temperature, degrees Celsius.
    pub ambient_c: f64,
    /// Heat capacity of the winding, J/K.
    pub winding_jpk: f64,
    /// Heat capacity of the case, J/K.
    pub case_jpk: f64,
    /// Thermal resistance from winding to case, K/W.
    pub winding_to_case_kpw: f64,
    /// Thermal resistance from case to ambient, K/W.
    pub case_to_ambient_kpw: f64,
}

/// Electrical supply.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Supply {
    /// Open-circuit voltage, V.
    pub voltage_v: f64,
    /// Source resistance, ohm; the source takes no current back.
    pub source_ohm: f64,
    /// Bus capacitor, F.
    pub capacitance_f: f64,
    /// Bus voltage from which the brake chopper conducts, V: a switch before a resistor.
    pub chopper_v: f64,
    /// How much above that it conducts all the time, V; in between it is pulsed in proportion.
    pub chopper_band_v: f64,
    /// Brake resistor behind the chopper, ohm.
    pub chopper_ohm: f64,
}

/// One sensor.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Sensor {
    /// Unit of the quantity for one count.
    pub per_count: f64,
    /// White noise at the control rate, r.m.s.
    pub noise_rms: f64,
    /// Largest bias, drawn by seed.
    pub bias_max: f64,
    /// Drift of the bias a minute.
    pub drift_per_minute: f64,
    /// Largest gain error, share, drawn by seed.
    pub gain_error: f64,
    /// Bandwidth, first order, Hz.
    pub bandwidth_hz: f64,
}

/// All sensors.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Sensors {
    /// Floor accelerometer, m/s^2.
    pub floor_accel: Sensor,
    /// Seat accelerometer, m/s^2.
    pub seat_accel: Sensor,
    /// Travel, m.
    pub travel: Sensor,
    /// Winding current, A.
    pub current: Sensor,
    /// Supply voltage, V.
    pub supply: Sensor,
    /// Coil temperature, hundreds of degrees Celsius.
    pub coil_temperature: Sensor,
}

/// When things happen.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Timing {
    /// Control period, s.
    pub step_s: f64,
    /// Control periods from sampling to the current command.
    pub transport_steps: usize,
    /// Plant steps in a control period.
    pub plant_substeps: usize,
}

/// The passive seat that the law is compared with.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Passive {
    /// Natural frequency with an 80 kg occupant, Hz.
    pub frequency_hz: f64,
    /// Damping ratio with an 80 kg occupant.
    pub damping_ratio: f64,
}

/// What the observer's design is told.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ObserverDesign {
    /// Floor displacement, r.m.s., m.
    pub floor_displacement_rms_m: f64,
    /// Correlation time of the floor displacement, s.
    pub floor_correlation_s: f64,
    /// Wander of an accelerometer bias, m/s^2 per square root of a second.
    pub bias_wander_mps2_psqrts: f64,
    /// Bias at switch-on, m/s^2.
    pub start_bias_mps2: f64,
    /// Time in which it is learnt, s.
    pub start_s: f64,
    /// Errors that are not noise, as white noise, m/s^2 r.m.s.
    pub unmodelled_mps2: f64,
    /// Errors of the travel sensor that are not noise, as white noise, m r.m.s.
    pub unmodelled_travel_m: f64,
    /// Without a floor accelerometer: wander of the floor's acceleration, m/s^2 per square root of a second.
    pub floor_wander_mps2_psqrts: f64,
    /// Without a seat accelerometer: error of the law's model of the seat, as white noise, m/s^2 r.m.s.
    pub model_mps2: f64,
}

/// How the bounds of the firmware's checks are worked out.
#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Checks {
    /// False alarms of a check in an hour that are borne, by noise.
    pub false_alarms_per_hour: f64,
}

/// Forecast settings of the firmware.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Forecast {
    /// Memory, s.
    pub window_s: f32,
    /// Floor velocity below which the prior rules, m/s.
    pub floor_mps: f32,
    /// Residual velocity below which later coefficients fade, m/s.
    pub residual_mps: f32,
    /// Velocity kept over one sample without experience, share.
    pub persistence: f32,
}

/// What the firmware is told, except what is designed from the rest.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Firmware {
    /// Control period and latency.
    pub timing: firmware::Timing,
    /// Plausibility limits.
    pub vet: firmware::vet::Parameters,
    /// Forecast.
    pub forecast: Forecast,
    /// Mass and preload.
    pub weigh: firmware::weigh::Parameters,
    /// Isolation.
    pub isolate: firmware::isolate::Parameters,
    /// End-of-travel deceleration.
    pub arrest: firmware::arrest::Parameters,
    /// Actuator limits and compensation.
    pub limit: firmware::limit::Parameters,
    /// How sensors and motor must agree.
    pub agree: firmware::agree::Parameters,
    /// Braking by the unpowered motor.
    pub brake: firmware::brake::Parameters,
    /// Modes.
    pub supervise: firmware::supervise::Parameters,
    /// Commissioning test.
    pub commission: firmware::commission::Parameters,
}

/// What the proof of the travel takes for granted, and what it is to show. Every ride reports how
/// much of it was used. Bounds on floor, astray and mass that the firmware watches stand in
/// `firmware.supervise` (`proved_*`); the floor's acceleration in `firmware.arrest.floor_accel_max_mps2`.
#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Proof {
    /// Change of the floor's acceleration, m/s^3.
    pub floor_jerk_mps3: f64,
    /// Lightest occupant, kg.
    pub occupant_min_kg: f64,
    /// Heaviest occupant, kg.
    pub occupant_max_kg: f64,
    /// True travel rate when a step's force acts, toward a near end, less the one foreseen, m/s.
    pub foresight_rate_mps: f64,
    /// The same where no end is near, m/s.
    pub foresight_rate_away_mps: f64,
    /// True travel then, toward a near end, less the one foreseen, m.
    pub foresight_travel_m: f64,
    /// How far the seat may go astray where no end is near, m/s.
    pub astray_away_mps: f64,
    /// How far the seat may go astray in one control period, m/s.
    pub astray_step_mps: f64,
    /// Distance in rate from the proven set's edge from which an end counts as near, m/s.
    pub near_mps: f64,
    /// What is to be shown: highest speed at which a stop is met, m/s.
    pub touch_mps: f64,
}

/// One machine.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Rig {
    /// What it is.
    pub name: String,
    /// Seat.
    pub seat: Seat,
    /// Support spring.
    pub spring: Spring,
    /// Friction.
    pub friction: Friction,
    /// End bumpers.
    pub bumper: Bumper,
    /// Actuator.
    pub actuator: Actuator,
    /// Heat.
    pub thermal: Thermal,
    /// Electrical supply.
    pub supply: Supply,
    /// Sensors.
    pub sensors: Sensors,
    /// Timing.
    pub timing: Timing,
    /// Passive seat.
    pub passive: Passive,
    /// Design of the observer.
    pub observer: ObserverDesign,
    /// Bounds of the firmware's checks.
    pub checks: Checks,
    /// What the proof of the travel takes for granted.
    pub proof: Proof,
    /// What the firmware is told.
    pub firmware: Firmware,
}

/// The rig that ships with the bench.
const DEFAULT: &str = include_str!("../rigs/default.toml");

impl Rig {
    /// The invented default machine.
    ///
    /// # Errors
    /// None in a sound build; the file is part of it and is checked like any other.
    pub fn default_machine() -> Result<Self, RigError> {
        Self::from_toml(DEFAULT, Path::new("default rig"))
    }

    /// Reads a rig file.
    ///
    /// # Errors
    /// Unreadable file, TOML that is no rig, or a value that cannot be used.
    pub fn read(path: &Path) -> Result<Self, RigError> {
        let expected = "a rig in TOML; `becalm rig show` prints one to start from";
        let text = toml_file::read(path, expected)?;
        Self::from_toml(&text, path)
    }

    /// Reads a rig from text; `path` names it in errors. A value may name a limit of the register
    /// (`"@peak-current"`). The firmware must accept its parameters
    /// (in single precision; another arithmetic may still refuse them in a ride).
    ///
    /// # Errors
    /// TOML that is no rig, or a value that cannot be used.
    pub fn from_toml(text: &str, path: &Path) -> Result<Self, RigError> {
        let text = &limits::resolve(text, path, &limits::register())?;
        let rig: Self = toml_file::parse(text, path)?;
        check::check(&rig).map_err(|(field, value, expected)| TomlError::Value {
            place: find_field(path, text, &field),
            field,
            value,
            expected,
        })?;
        let parameters = design::parameters(&rig).map_err(|source| RigError::Observer {
            path: path.to_owned(),
            source,
        })?;
        let accepted = Cycle::<f32>::new(&parameters)
            .and_then(|_| parameters.commission.build(&parameters.timing));
        if let Err(e) = accepted {
            let field = format!("firmware.{}", e.field);
            let place = find_field(path, text, &field);
            return Err(TomlError::Value {
                // What is designed from other sections has no line of its own.
                field: if place.line == 0 {
                    e.field.to_owned()
                } else {
                    field
                },
                place,
                value: f64::from(e.value),
                expected: e.expected.to_owned(),
            }
            .into());
        }
        Ok(rig)
    }

    /// The text of the default rig, to start a rig of one's own from.
    #[must_use]
    pub const fn default_text() -> &'static str {
        DEFAULT
    }
}
