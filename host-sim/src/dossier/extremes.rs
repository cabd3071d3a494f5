//! What the readings, powers and estimates of a ride came to at most, and the residuals of the firmware's checks.

use super::residuals::{ResidualFigures, Residuals};
use super::run::DossierError;
use crate::design;
use crate::plant::COPPER_PK;
use crate::ride::Sample;
use crate::rig::Rig;
use serde::Serialize;

/// The figures.
#[derive(Clone, Copy, Debug, Serialize)]
pub(super) struct ExtremeFigures {
    accel_mps2: f64,
    accel_jump_mps2: f64,
    /// Most equal readings in a row of either accelerometer, at each of as many samples as make a fault of bad ones.
    accel_equal: u32,
    travel_m: f64,
    travel_jump_m: f64,
    current_a: f64,
    supply_least_v: f64,
    supply_most_v: f64,
    coil_least_c: f64,
    coil_most_c: f64,
    power_drawn_w: f64,
    power_returned_w: f64,
    /// Biases of the accelerometers as estimated, mean of both: the observer bounds them together.
    bias_mps2: f64,
    mass_kg: f64,
    preload_n: f64,
    disturbance_n: f64,
    faults_told: u32,
    residuals: ResidualFigures,
}

/// Looks at a ride period by period.
#[derive(Clone, Debug)]
pub(super) struct Extremes {
    found: ExtremeFigures,
    residuals: Residuals,
    /// Equal readings in a row up to now.
    equal: [u32; 2],
    before: Option<Sample>,
}

impl Extremes {
    /// Before the first period.
    pub(super) fn new(rig: &Rig) -> Result<Self, DossierError> {
        let residuals = Residuals::new(&design::parameters(rig)?);
        Ok(Self {
            found: ExtremeFigures {
                accel_mps2: 0.0,
                accel_jump_mps2: 0.0,
                accel_equal: 0,
                travel_m: 0.0,
                travel_jump_m: 0.0,
                current_a: 0.0,
                supply_least_v: f64::INFINITY,
                supply_most_v: 0.0,
                coil_least_c: f64::INFINITY,
                coil_most_c: f64::NEG_INFINITY,
                power_drawn_w: 0.0,
                power_returned_w: 0.0,
                bias_mps2: 0.0,
                mass_kg: 0.0,
                preload_n: 0.0,
                disturbance_n: 0.0,
                faults_told: 0,
                residuals: residuals.figures(),
            },
            residuals,
            equal: [1; 2],
            before: None,
        })
    }

    /// What the ride came to up to now.
    pub(super) fn figures(&self) -> ExtremeFigures {
        ExtremeFigures {
            residuals: self.residuals.figures(),
            ..self.found
        }
    }

    /// Looks at a period.
    pub(super) fn see(&mut self, rig: &Rig, s: &Sample) {
        let read = |s: &Sample| {
            let (f, of) = (&s.frame, &rig.sensors);
            [
                f64::from(f.floor_accel) * of.floor_accel.per_count,
                f64::from(f.seat_accel) * of.seat_accel.per_count,
                f64::from(f.travel) * of.travel.per_count,
            ]
        };
        let most = |known: &mut f64, value: f64| *known = known.max(value);
        let (now, found) = (read(s), &mut self.found);
        most(&mut found.accel_mps2, now[0].abs().max(now[1].abs()));
        most(&mut found.travel_m, now[2].abs());
        let sensors = &rig.sensors;
        let current = f64::from(s.frame.current) * sensors.current.per_count;
        most(&mut found.current_a, current.abs());
        let supply = f64::from(s.frame.supply) * sensors.supply.per_count;
        found.supply_least_v = found.supply_least_v.min(supply);
        most(&mut found.supply_most_v, supply);
        // Read in hundreds of degrees.
        let coil = 100.0 * f64::from(s.frame.coil_temperature) * sensors.coil_temperature.per_count;
        found.coil_least_c = found.coil_least_c.min(coil);
        most(&mut found.coil_most_c, coil);
        // Into the winding: heat of the copper and the force's work.
        let ohm = rig.actuator.resistance_20c_ohm * (1.0 + COPPER_PK * (s.coil_c - 20.0));
        let power = s.current * s.current * ohm + s.force * s.travel_rate;
        most(&mut found.power_drawn_w, power);
        most(&mut found.power_returned_w, -power);
        let inside = &s.inside;
        let (floor, seat) = (inside.motion.floor_bias, inside.motion.seat_bias);
        most(&mut found.bias_mps2, 0.5 * (floor.abs() + seat.abs()));
        most(&mut found.mass_kg, 1000.0 * inside.mass);
        most(&mut found.preload_n, 1000.0 * inside.preload);
        // To a thousandth of a newton: a clamp in single precision is no round number to the last bit.
        let disturbance = (1.0e6 * inside.drive.disturbance.abs()).round();
        most(&mut found.disturbance_n, 1.0e-3 * disturbance);
        if let Some(before) = &self.before {
            let last = read(before);
            let jump = (now[0] - last[0]).abs().max((now[1] - last[1]).abs());
            most(&mut found.accel_jump_mps2, jump);
            most(&mut found.travel_jump_m, (now[2] - last[2]).abs());
            found.faults_told += (s.drive.faults & !before.drive.faults).count_ones();
            let same = [
                s.frame.floor_accel == before.frame.floor_accel,
                s.frame.seat_accel == before.frame.seat_accel,
            ];
            let others = rig.firmware.vet.fault_steps.saturating_sub(1);
            for (run, same) in self.equal.iter_mut().zip(same) {
                *run = if same { *run + 1 } else { 1 };
                found.accel_equal = found.accel_equal.max(run.saturating_sub(others));
            }
        }
        self.residuals.see(s);
        self.before = Some(*s);
    }
}
