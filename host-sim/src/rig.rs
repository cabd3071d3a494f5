//! A rig: one machine's description, read from a TOML file.
//!
//! A rig holds the truth (what the plant simulates) and, under `firmware`, what
//! the firmware is told of it and how it is tuned. The two differ on purpose.

use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};

/// Why a rig cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum RigError {
    /// The file cannot be read.
    #[error("{path}: cannot be read: {source}")]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// The file is not a rig in TOML; the message carries line and column.
    #[error("{path}: not a rig: {message}")]
    Syntax {
        /// The file.
        path: PathBuf,
        /// Line, column and what was expected.
        message: String,
    },
    /// A value cannot be used.
    #[error("{path}: {field} = {value}: expected {expected}")]
    Value {
        /// The file.
        path: PathBuf,
        /// `section.field`.
        field: String,
        /// The value found.
        value: f64,
        /// What was expected.
        expected: String,
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
    /// Largest current, A.
    pub current_max_a: f64,
    /// Bandwidth of the current loop, Hz.
    pub current_loop_hz: f64,
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
    /// Voltage from which the brake chopper conducts, V.
    pub chopper_v: f64,
    /// Resistance of the brake chopper, ohm.
    pub chopper_ohm: f64,
    /// Ripple, V r.m.s.
    pub noise_v: f64,
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
    /// Modes.
    pub supervise: firmware::supervise::Parameters,
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
        let text = std::fs::read_to_string(path).map_err(|source| RigError::Unreadable {
            path: path.to_owned(),
            source,
        })?;
        Self::from_toml(&text, path)
    }

    /// Reads a rig from text; `path` names it in errors.
    ///
    /// # Errors
    /// TOML that is no rig, or a value that cannot be used.
    pub fn from_toml(text: &str, path: &Path) -> Result<Self, RigError> {
        let rig: Self = toml::from_str(text).map_err(|e| RigError::Syntax {
            path: path.to_owned(),
            message: e.to_string().trim_end().replace('\n', "\n  "),
        })?;
        rig.check()
            .map_err(|(field, value, expected)| RigError::Value {
                path: path.to_owned(),
                field: field.to_owned(),
                value,
                expected: expected.to_owned(),
            })?;
        Ok(rig)
    }

    /// The text of the default rig, to start a rig of one's own from.
    #[must_use]
    pub const fn default_text() -> &'static str {
        DEFAULT
    }

    fn check(&self) -> Result<(), (&'static str, f64, &'static str)> {
        let range = |field, x: f64, lo: f64, hi: f64, expected| {
            if x.is_finite() && x >= lo && x <= hi {
                Ok(())
            } else {
                Err((field, x, expected))
            }
        };
        let above = |field, x: f64| {
            range(
                field,
                x,
                f64::MIN_POSITIVE,
                1.0e9,
                "a finite value above zero",
            )
        };
        let from_zero =
            |field, x: f64| range(field, x, 0.0, 1.0e9, "a finite value of zero or more");
        let share = |field, x: f64| range(field, x, 0.0, 1.0, "a share from 0 to 1");

        range(
            "seat.empty_mass_kg",
            self.seat.empty_mass_kg,
            1.0,
            500.0,
            "1 to 500 kg",
        )?;
        range(
            "seat.on_seat_share",
            self.seat.on_seat_share,
            0.1,
            1.0,
            "a share from 0.1 to 1",
        )?;
        range(
            "seat.travel_m",
            self.seat.travel_m,
            0.005,
            0.5,
            "0.005 to 0.5 m",
        )?;
        from_zero("spring.stiffness_npm", self.spring.stiffness_npm)?;
        from_zero("spring.preload_error_n", self.spring.preload_error_n)?;
        above("spring.level_rate_nps", self.spring.level_rate_nps)?;
        share("spring.level_rate_error", self.spring.level_rate_error)?;
        above("spring.preload_max_n", self.spring.preload_max_n)?;
        from_zero("friction.viscous_nspm", self.friction.viscous_nspm)?;
        from_zero("friction.coulomb_n", self.friction.coulomb_n)?;
        range(
            "friction.stiction_n",
            self.friction.stiction_n,
            self.friction.coulomb_n,
            1.0e6,
            "at least friction.coulomb_n",
        )?;
        above("friction.stribeck_mps", self.friction.stribeck_mps)?;
        above("bumper.stiffness_npm15", self.bumper.stiffness_npm15)?;
        from_zero("bumper.damping_spm", self.bumper.damping_spm)?;
        above(
            "actuator.force_constant_npa",
            self.actuator.force_constant_npa,
        )?;
        share(
            "actuator.force_constant_error",
            self.actuator.force_constant_error,
        )?;
        share(
            "actuator.force_constant_droop",
            self.actuator.force_constant_droop,
        )?;
        above(
            "actuator.resistance_20c_ohm",
            self.actuator.resistance_20c_ohm,
        )?;
        above("actuator.inductance_h", self.actuator.inductance_h)?;
        above("actuator.current_max_a", self.actuator.current_max_a)?;
        range(
            "actuator.current_loop_hz",
            self.actuator.current_loop_hz,
            10.0,
            2000.0,
            "10 to 2000 Hz",
        )?;
        range(
            "thermal.ambient_c",
            self.thermal.ambient_c,
            -60.0,
            100.0,
            "-60 to 100 degrees Celsius",
        )?;
        above("thermal.winding_jpk", self.thermal.winding_jpk)?;
        above("thermal.case_jpk", self.thermal.case_jpk)?;
        above(
            "thermal.winding_to_case_kpw",
            self.thermal.winding_to_case_kpw,
        )?;
        above(
            "thermal.case_to_ambient_kpw",
            self.thermal.case_to_ambient_kpw,
        )?;
        above("supply.voltage_v", self.supply.voltage_v)?;
        above("supply.source_ohm", self.supply.source_ohm)?;
        above("supply.capacitance_f", self.supply.capacitance_f)?;
        range(
            "supply.chopper_v",
            self.supply.chopper_v,
            self.supply.voltage_v,
            1.0e6,
            "at least supply.voltage_v",
        )?;
        above("supply.chopper_ohm", self.supply.chopper_ohm)?;
        from_zero("supply.noise_v", self.supply.noise_v)?;
        for (field, s) in [
            ("sensors.floor_accel", &self.sensors.floor_accel),
            ("sensors.seat_accel", &self.sensors.seat_accel),
            ("sensors.travel", &self.sensors.travel),
            ("sensors.current", &self.sensors.current),
            ("sensors.supply", &self.sensors.supply),
            ("sensors.coil_temperature", &self.sensors.coil_temperature),
        ] {
            let good = above(field, s.per_count).is_ok()
                && [s.noise_rms, s.bias_max, s.gain_error]
                    .iter()
                    .all(|&x| from_zero(field, x).is_ok())
                && s.drift_per_minute.is_finite()
                && above(field, s.bandwidth_hz).is_ok();
            if !good {
                return Err((
                    field,
                    s.per_count,
                    "per_count and bandwidth_hz above zero, noise_rms, bias_max and gain_error of zero or more",
                ));
            }
        }
        range(
            "timing.step_s",
            self.timing.step_s,
            0.000_25,
            0.005,
            "0.00025 to 0.005 s",
        )?;
        range(
            "firmware.timing.step_s",
            f64::from(self.firmware.timing.step_s),
            self.timing.step_s * 0.999_999,
            self.timing.step_s * 1.000_001,
            "the same as timing.step_s",
        )?;
        range(
            "timing.transport_steps",
            self.timing.transport_steps as f64,
            1.0,
            20.0,
            "1 to 20",
        )?;
        range(
            "timing.plant_substeps",
            self.timing.plant_substeps as f64,
            1.0,
            1000.0,
            "1 to 1000",
        )?;
        range(
            "passive.frequency_hz",
            self.passive.frequency_hz,
            0.1,
            20.0,
            "0.1 to 20 Hz",
        )?;
        range(
            "passive.damping_ratio",
            self.passive.damping_ratio,
            0.0,
            5.0,
            "0 to 5",
        )?;
        above(
            "observer.floor_displacement_rms_m",
            self.observer.floor_displacement_rms_m,
        )?;
        above(
            "observer.floor_correlation_s",
            self.observer.floor_correlation_s,
        )?;
        above(
            "observer.bias_wander_mps2_psqrts",
            self.observer.bias_wander_mps2_psqrts,
        )?;
        above("observer.start_bias_mps2", self.observer.start_bias_mps2)?;
        above("observer.start_s", self.observer.start_s)?;
        from_zero("observer.unmodelled_mps2", self.observer.unmodelled_mps2)?;
        from_zero(
            "observer.unmodelled_travel_m",
            self.observer.unmodelled_travel_m,
        )?;
        Ok(())
    }
}
