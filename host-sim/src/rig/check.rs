//! Ranges of a rig's values: wide, they take in any machine that could carry a person, and no more.
//! On top of them, see [`rates`](super::rates), the plant's step must be able to follow.

use super::rates::{heat, rates};
use super::{Proof, Rig, Sensor};
use crate::units;

/// A value that cannot be used: `section.field`, the value, what was expected.
pub(super) type Refusal = (String, f64, String);

/// Field, value, least, greatest, unit.
type Row<'a> = (&'a str, f64, f64, f64, &'a str);

/// Checks every value of the plant, the sensors, the timing and the observer's design.
pub(super) fn check(rig: &Rig) -> Result<(), Refusal> {
    for rows in [&machine(rig)[..], &electrics(rig), &bench(rig)] {
        for &row in rows {
            within(row)?;
        }
    }
    for (name, s) in [
        ("floor_accel", &rig.sensors.floor_accel),
        ("seat_accel", &rig.sensors.seat_accel),
        ("travel", &rig.sensors.travel),
        ("current", &rig.sensors.current),
        ("supply", &rig.sensors.supply),
        ("coil_temperature", &rig.sensors.coil_temperature),
    ] {
        for (field, value, least, most, unit) in sensor(s) {
            let field = format!("sensors.{name}.{field}");
            within((&field, value, least, most, unit))?;
        }
    }
    for row in proof(&rig.proof) {
        within(row)?;
    }
    same_step(rig)?;
    heat(rig)?;
    rates(rig)
}

fn within((field, value, least, most, unit): Row<'_>) -> Result<(), Refusal> {
    if value.is_finite() && (least..=most).contains(&value) {
        return Ok(());
    }
    let expected = format!("{least} to {}", units::beside(most, unit));
    Err((field.to_owned(), value, expected))
}

/// Seat, spring, friction, bumpers, passive seat.
fn machine(rig: &Rig) -> [Row<'_>; 16] {
    let (seat, spring, friction) = (&rig.seat, &rig.spring, &rig.friction);
    [
        ("seat.empty_mass_kg", seat.empty_mass_kg, 5.0, 500.0, "kg"),
        ("seat.on_seat_share", seat.on_seat_share, 0.1, 1.0, ""),
        ("seat.travel_m", seat.travel_m, 0.005, 0.5, "m"),
        (
            "spring.stiffness_npm",
            spring.stiffness_npm,
            0.0,
            1.0e6,
            "N/m",
        ),
        (
            "spring.preload_error_n",
            spring.preload_error_n,
            0.0,
            2000.0,
            "N",
        ),
        (
            "spring.level_rate_nps",
            spring.level_rate_nps,
            0.1,
            1.0e5,
            "N/s",
        ),
        (
            "spring.level_rate_error",
            spring.level_rate_error,
            0.0,
            0.9,
            "",
        ),
        (
            "spring.preload_max_n",
            spring.preload_max_n,
            10.0,
            1.0e5,
            "N",
        ),
        (
            "friction.viscous_nspm",
            friction.viscous_nspm,
            0.0,
            1.0e5,
            "N s/m",
        ),
        ("friction.coulomb_n", friction.coulomb_n, 0.0, 1.0e4, "N"),
        (
            "friction.stiction_n",
            friction.stiction_n,
            friction.coulomb_n,
            2.0e4,
            "N, at least friction.coulomb_n",
        ),
        (
            "friction.stribeck_mps",
            friction.stribeck_mps,
            1.0e-5,
            1.0,
            "m/s",
        ),
        (
            "bumper.stiffness_npm15",
            rig.bumper.stiffness_npm15,
            1.0e4,
            1.0e9,
            "N/m^1.5",
        ),
        (
            "bumper.damping_spm",
            rig.bumper.damping_spm,
            0.0,
            100.0,
            "s/m",
        ),
        (
            "passive.frequency_hz",
            rig.passive.frequency_hz,
            0.1,
            20.0,
            "Hz",
        ),
        (
            "passive.damping_ratio",
            rig.passive.damping_ratio,
            0.0,
            5.0,
            "",
        ),
    ]
}

/// Motor, heat, supply.
fn electrics(rig: &Rig) -> [Row<'_>; 19] {
    let (motor, heat, supply) = (&rig.actuator, &rig.thermal, &rig.supply);
    [
        (
            "actuator.force_constant_npa",
            motor.force_constant_npa,
            0.1,
            1000.0,
            "N/A",
        ),
        (
            "actuator.force_constant_error",
            motor.force_constant_error,
            0.0,
            0.5,
            "",
        ),
        (
            "actuator.force_constant_droop",
            motor.force_constant_droop,
            0.0,
            0.5,
            "",
        ),
        (
            "actuator.resistance_20c_ohm",
            motor.resistance_20c_ohm,
            1.0e-3,
            100.0,
            "ohm",
        ),
        (
            "actuator.inductance_h",
            motor.inductance_h,
            1.0e-6,
            1.0,
            "H",
        ),
        (
            "actuator.current_max_a",
            motor.current_max_a,
            0.1,
            1000.0,
            "A",
        ),
        (
            "actuator.current_loop_hz",
            motor.current_loop_hz,
            10.0,
            2000.0,
            "Hz",
        ),
        ("actuator.brake_ohm", motor.brake_ohm, 0.0, 100.0, "ohm"),
        (
            "thermal.ambient_c",
            heat.ambient_c,
            -60.0,
            100.0,
            "degrees Celsius",
        ),
        ("thermal.winding_jpk", heat.winding_jpk, 10.0, 1.0e6, "J/K"),
        ("thermal.case_jpk", heat.case_jpk, 10.0, 1.0e7, "J/K"),
        (
            "thermal.winding_to_case_kpw",
            heat.winding_to_case_kpw,
            1.0e-3,
            100.0,
            "K/W",
        ),
        (
            "thermal.case_to_ambient_kpw",
            heat.case_to_ambient_kpw,
            1.0e-3,
            100.0,
            "K/W",
        ),
        ("supply.voltage_v", supply.voltage_v, 5.0, 1000.0, "V"),
        ("supply.source_ohm", supply.source_ohm, 1.0e-4, 100.0, "ohm"),
        (
            "supply.capacitance_f",
            supply.capacitance_f,
            1.0e-4,
            100.0,
            "F",
        ),
        (
            "supply.chopper_v",
            supply.chopper_v,
            supply.voltage_v,
            2000.0,
            "V, at least supply.voltage_v",
        ),
        (
            "supply.chopper_band_v",
            supply.chopper_band_v,
            0.01,
            1000.0,
            "V",
        ),
        (
            "supply.chopper_ohm",
            supply.chopper_ohm,
            1.0e-3,
            1000.0,
            "ohm",
        ),
    ]
}

/// What the proof takes for granted.
fn proof(proof: &Proof) -> [Row<'_>; 10] {
    [
        (
            "proof.floor_jerk_mps3",
            proof.floor_jerk_mps3,
            1.0,
            1.0e5,
            "m/s3",
        ),
        (
            "proof.occupant_min_kg",
            proof.occupant_min_kg,
            20.0,
            200.0,
            "kg",
        ),
        (
            "proof.occupant_max_kg",
            proof.occupant_max_kg,
            proof.occupant_min_kg,
            200.0,
            "kg, at least proof.occupant_min_kg",
        ),
        (
            "proof.foresight_rate_mps",
            proof.foresight_rate_mps,
            1.0e-4,
            1.0,
            "m/s",
        ),
        (
            "proof.foresight_rate_away_mps",
            proof.foresight_rate_away_mps,
            1.0e-4,
            1.0,
            "m/s",
        ),
        (
            "proof.foresight_travel_m",
            proof.foresight_travel_m,
            1.0e-6,
            0.1,
            "m",
        ),
        (
            "proof.astray_away_mps",
            proof.astray_away_mps,
            1.0e-3,
            10.0,
            "m/s",
        ),
        (
            "proof.astray_step_mps",
            proof.astray_step_mps,
            1.0e-5,
            1.0,
            "m/s",
        ),
        ("proof.near_mps", proof.near_mps, 1.0e-3, 10.0, "m/s"),
        ("proof.touch_mps", proof.touch_mps, 0.01, 2.0, "m/s"),
    ]
}

/// Timing and the observer's design. Exposure figures take 400 Hz or more.
fn bench(rig: &Rig) -> [Row<'_>; 13] {
    let (timing, o) = (&rig.timing, &rig.observer);
    [
        ("timing.step_s", timing.step_s, 0.000_25, 0.0025, "s"),
        (
            "timing.transport_steps",
            timing.transport_steps as f64,
            1.0,
            20.0,
            "",
        ),
        (
            "timing.plant_substeps",
            timing.plant_substeps as f64,
            1.0,
            1000.0,
            "",
        ),
        (
            "observer.floor_displacement_rms_m",
            o.floor_displacement_rms_m,
            1.0e-4,
            10.0,
            "m",
        ),
        (
            "observer.floor_correlation_s",
            o.floor_correlation_s,
            1.0e-3,
            1000.0,
            "s",
        ),
        (
            "observer.bias_wander_mps2_psqrts",
            o.bias_wander_mps2_psqrts,
            1.0e-6,
            10.0,
            "m/s^2 per square root of a second",
        ),
        (
            "observer.start_bias_mps2",
            o.start_bias_mps2,
            1.0e-3,
            100.0,
            "m/s^2",
        ),
        ("observer.start_s", o.start_s, 0.01, 1000.0, "s"),
        (
            "observer.unmodelled_mps2",
            o.unmodelled_mps2,
            0.0,
            100.0,
            "m/s^2",
        ),
        (
            "observer.unmodelled_travel_m",
            o.unmodelled_travel_m,
            0.0,
            0.1,
            "m",
        ),
        (
            "observer.floor_wander_mps2_psqrts",
            o.floor_wander_mps2_psqrts,
            0.01,
            1.0e4,
            "m/s^2 per square root of a second",
        ),
        ("observer.model_mps2", o.model_mps2, 0.001, 1000.0, "m/s^2"),
        (
            "checks.false_alarms_per_hour",
            rig.checks.false_alarms_per_hour,
            1.0e-12,
            1.0,
            "an hour",
        ),
    ]
}

/// One sensor; the unit is that of its quantity.
fn sensor(s: &Sensor) -> [Row<'_>; 6] {
    let unit = "of the sensor's unit";
    [
        ("per_count", s.per_count, 1.0e-8, 1.0, unit),
        ("noise_rms", s.noise_rms, 0.0, 1000.0, unit),
        ("bias_max", s.bias_max, 0.0, 1000.0, unit),
        (
            "drift_per_minute",
            s.drift_per_minute,
            -1000.0,
            1000.0,
            unit,
        ),
        ("gain_error", s.gain_error, 0.0, 1.0, ""),
        ("bandwidth_hz", s.bandwidth_hz, 0.01, 1.0e6, "Hz"),
    ]
}

fn same_step(rig: &Rig) -> Result<(), Refusal> {
    let told = f64::from(rig.firmware.timing.step_s);
    if (told / rig.timing.step_s - 1.0).abs() <= 1.0e-6 {
        return Ok(());
    }
    let expected = format!("the same as timing.step_s, {}", rig.timing.step_s);
    Err(("firmware.timing.step_s".to_owned(), told, expected))
}
