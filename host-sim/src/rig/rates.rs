//! Every rate in the plant against the plant's step: what is faster would not be stepped stably.

use super::Rig;
use super::check::Refusal;
use crate::plant::{COPPER_PK, Config};
use std::f64::consts::TAU;

/// Most that a rate times the plant step may be. The classical Runge-Kutta method is stable to 2.78
/// for decays and to 2.83 for oscillations (textbook); the rest is room for their interplay.
const RATE_TIMES_STEP_MAX: f64 = 2.0;
/// The hottest winding that is reckoned with, degrees Celsius.
const HOT_C: f64 = 300.0;
/// The hardest meeting with a bumper that is reckoned with: speed, m/s, and mass beside the seat's, kg.
const IMPACT: (f64, f64) = (2.0, 150.0);

/// Heat goes by one explicit step a control period.
pub(super) fn heat(rig: &Rig) -> Result<(), Refusal> {
    let (t, step_s) = (&rig.thermal, rig.timing.step_s);
    for (field, jpk, kpw) in [
        ("thermal.winding_jpk", t.winding_jpk, t.winding_to_case_kpw),
        ("thermal.case_jpk", t.case_jpk, t.winding_to_case_kpw),
        ("thermal.case_jpk", t.case_jpk, t.case_to_ambient_kpw),
    ] {
        if step_s > 0.5 * jpk * kpw {
            let expected = format!(
                "heat capacity times thermal resistance of at least {} s, two control periods; it is \
                 {} s",
                2.0 * step_s,
                jpk * kpw
            );
            return Err((field.to_owned(), jpk, expected));
        }
    }
    Ok(())
}

/// Every rate of the plant against its step.
pub(super) fn rates(rig: &Rig) -> Result<(), Refusal> {
    let (active, passive) = (Config::active(rig, 0.0, 0.0), Config::passive(rig));
    let supply = &rig.supply;
    let (motor, seat_kg, step_s) = (&rig.actuator, rig.seat.empty_mass_kg, active.step_s);
    let hot = motor.resistance_20c_ohm * (1.0 + COPPER_PK * (HOT_C - 20.0));
    let coupling = motor.force_constant_npa * (1.0 + motor.force_constant_error);
    // A bumper takes up the energy of the impact: 2/5 k x^2.5.
    let stiffness = rig.bumper.stiffness_npm15;
    let energy = 0.5 * (seat_kg + IMPACT.1) * IMPACT.0 * IMPACT.0;
    let deep_m = (energy / (0.4 * stiffness)).powf(0.4);
    let bumper_npm = 1.5 * stiffness * deep_m.sqrt();
    let bumper_nspm = stiffness * deep_m.powf(1.5) * rig.bumper.damping_spm;
    let breakaway_n = rig.friction.stiction_n - rig.friction.coulomb_n;
    let swing = |npm: f64| (npm / seat_kg).sqrt();
    let per_kg = "by seat.empty_mass_kg";
    for (field, value, rate, by) in [
        (
            "friction.viscous_nspm",
            rig.friction.viscous_nspm,
            active.viscous_nspm / seat_kg,
            per_kg,
        ),
        (
            "friction.stribeck_mps",
            rig.friction.stribeck_mps,
            breakaway_n / rig.friction.stribeck_mps / seat_kg,
            "by the rest of friction and seat.empty_mass_kg",
        ),
        (
            "spring.stiffness_npm",
            rig.spring.stiffness_npm,
            swing(active.spring_npm),
            per_kg,
        ),
        (
            "passive.frequency_hz",
            rig.passive.frequency_hz,
            swing(passive.spring_npm),
            per_kg,
        ),
        (
            "passive.damping_ratio",
            rig.passive.damping_ratio,
            passive.viscous_nspm / seat_kg,
            "by passive.frequency_hz and seat.empty_mass_kg",
        ),
        (
            "bumper.stiffness_npm15",
            stiffness,
            swing(bumper_npm),
            "at 2 m/s, by seat.empty_mass_kg",
        ),
        (
            "bumper.damping_spm",
            rig.bumper.damping_spm,
            bumper_nspm / seat_kg,
            "at 2 m/s, by the bumper's stiffness and seat.empty_mass_kg",
        ),
        (
            "actuator.current_loop_hz",
            motor.current_loop_hz,
            TAU * motor.current_loop_hz,
            "",
        ),
        (
            "actuator.resistance_20c_ohm",
            motor.resistance_20c_ohm,
            hot / motor.inductance_h,
            "hot, by actuator.inductance_h",
        ),
        (
            "actuator.brake_ohm",
            motor.brake_ohm,
            (motor.brake_ohm + hot) / motor.inductance_h,
            "with the hot winding, by actuator.inductance_h",
        ),
        (
            "actuator.force_constant_npa",
            motor.force_constant_npa,
            coupling / (seat_kg * motor.inductance_h).sqrt(),
            "by seat.empty_mass_kg and actuator.inductance_h",
        ),
        (
            "supply.source_ohm",
            supply.source_ohm,
            1.0 / (supply.source_ohm * supply.capacitance_f),
            "by supply.capacitance_f",
        ),
        (
            "supply.chopper_ohm",
            supply.chopper_ohm,
            (supply.chopper_v / supply.chopper_band_v + 2.0)
                / (supply.chopper_ohm * supply.capacitance_f),
            "by supply.chopper_band_v and supply.capacitance_f",
        ),
    ] {
        // A rate that is no number is refused as well.
        if rate * step_s <= RATE_TIMES_STEP_MAX {
            continue;
        }
        let gap = if by.is_empty() { "" } else { " " };
        let expected = format!(
            "a rate{gap}{by} of at most {:.0} 1/s for the plant step of {step_s} s (timing.step_s over \
             timing.plant_substeps); it is {rate:.0} 1/s",
            RATE_TIMES_STEP_MAX / step_s
        );
        return Err((field.to_owned(), value, expected));
    }
    Ok(())
}
