//! Figures that follow from a rig.

use super::Failure;
use host_sim::design::{self, ObserverModel};
use host_sim::plant::COPPER_PK;
use host_sim::rig::Rig;
use nalgebra::{DMatrix, SMatrix};
use serde::Serialize;
use std::f64::consts::TAU;

/// With an occupant of one mass.
#[derive(Clone, Copy, Debug, Serialize)]
pub(super) struct OccupantFigures {
    pub(super) occupant_kg: f64,
    /// Seat and what rests on it.
    pub(super) supported_kg: f64,
    pub(super) support_hz: f64,
    pub(super) support_damping: f64,
    pub(super) passive_hz: f64,
    pub(super) passive_damping: f64,
    /// Peak force over supported mass.
    pub(super) peak_mps2: f64,
    /// Continuous force over supported mass.
    pub(super) continuous_mps2: f64,
}

/// A pole of the observer, as a damped oscillation or decay in continuous time.
#[derive(Clone, Copy, Debug, Serialize)]
pub(super) struct Pole {
    pub(super) frequency_hz: f64,
    pub(super) damping: f64,
    /// Time to a hundredth.
    pub(super) settles_s: f64,
}

/// All of them.
#[derive(Clone, Debug, Serialize)]
pub(super) struct RigFigures {
    pub(super) name: String,
    pub(super) occupants: Vec<OccupantFigures>,
    pub(super) peak_force_n: f64,
    pub(super) continuous_force_n: f64,
    pub(super) continuous_coil_c: f64,
    pub(super) peak_copper_w: f64,
    /// N/sqrt(W), at 20 degrees Celsius.
    pub(super) motor_constant: f64,
    pub(super) no_load_mps: f64,
    pub(super) peak_force_mps: f64,
    pub(super) electrical_s: f64,
    pub(super) observer_poles: Vec<Pole>,
}

impl RigFigures {
    /// Of a rig that has been checked.
    pub(super) fn of(rig: &Rig) -> Result<Self, Failure> {
        let (motor, limit) = (&rig.actuator, &rig.firmware.limit);
        let constant = motor.force_constant_npa;
        let resistance = |c: f64| motor.resistance_20c_ohm * (1.0 + COPPER_PK * (c - 20.0));
        let current = motor.current_max_a.min(f64::from(limit.current_max_a));
        // Copper heat that holds the coil where derating begins, through both thermal resistances.
        let coil_c = f64::from(limit.derate_from_c);
        let rise = (coil_c - rig.thermal.ambient_c).max(0.0);
        let heat = rise / (rig.thermal.winding_to_case_kpw + rig.thermal.case_to_ambient_kpw);
        let continuous = constant * (heat / resistance(coil_c)).sqrt().min(current);
        let peak = constant * current;
        let drop = current * (resistance(20.0) + rig.supply.source_ohm);
        let passive_kg = rig.seat.empty_mass_kg + 80.0 * rig.seat.on_seat_share;
        let passive_omega = TAU * rig.passive.frequency_hz;
        let occupants = [40.0, 80.0, 130.0]
            .into_iter()
            .map(|occupant_kg| {
                let kg = rig.seat.empty_mass_kg + occupant_kg * rig.seat.on_seat_share;
                let omega = (rig.spring.stiffness_npm / kg).sqrt();
                let own_omega = passive_omega * (passive_kg / kg).sqrt();
                OccupantFigures {
                    occupant_kg,
                    supported_kg: kg,
                    support_hz: omega / TAU,
                    support_damping: rig.friction.viscous_nspm / (2.0 * kg * omega),
                    passive_hz: own_omega / TAU,
                    passive_damping: rig.passive.damping_ratio * (passive_kg / kg).sqrt(),
                    peak_mps2: peak / kg,
                    continuous_mps2: continuous / kg,
                }
            })
            .collect();
        Ok(Self {
            name: rig.name.clone(),
            occupants,
            peak_force_n: peak,
            continuous_force_n: continuous,
            continuous_coil_c: coil_c,
            peak_copper_w: current * current * resistance(20.0),
            motor_constant: constant / motor.resistance_20c_ohm.sqrt(),
            no_load_mps: rig.supply.voltage_v / constant,
            peak_force_mps: (rig.supply.voltage_v - drop).max(0.0) / constant,
            electrical_s: motor.inductance_h / motor.resistance_20c_ohm,
            observer_poles: observer_poles(rig)?,
        })
    }
}

/// Poles of the observer's error: eigenvalues of `(I - K C) A`.
fn observer_poles(rig: &Rig) -> Result<Vec<Pole>, Failure> {
    let t = rig.timing.step_s;
    let ObserverModel { a, c, .. } = design::observer_model(t);
    let gains = design::parameters(rig)?.estimate.gains;
    let k = SMatrix::<f64, 6, 2>::from_fn(|i, j| f64::from(gains[i][j]));
    let closed = (SMatrix::<f64, 6, 6>::identity() - k * c) * a;
    let closed = DMatrix::from_column_slice(6, 6, closed.as_slice());
    let mut poles: Vec<Pole> = closed
        .complex_eigenvalues()
        .iter()
        // One of each conjugate pair.
        .filter(|z| z.im >= 0.0)
        .map(|z| {
            let s = z.ln() / t;
            Pole {
                frequency_hz: s.norm() / TAU,
                damping: -s.re / s.norm(),
                settles_s: 100.0_f64.ln() / -s.re,
            }
        })
        .collect();
    poles.sort_by(|a, b| a.frequency_hz.total_cmp(&b.frequency_hz));
    Ok(poles)
}
