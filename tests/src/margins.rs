//! What the tests of the margins share.

use host_sim::margins::law::LawPoint;
use host_sim::rig::{Rig, Sensor};

/// The default rig without friction, noise, biases and errors, with fine sensors: linear as far as it can be.
pub fn quiet_rig() -> Rig {
    let mut rig = Rig::default_machine().expect("a sound rig");
    rig.friction.coulomb_n = 0.0;
    rig.friction.stiction_n = 0.0;
    rig.firmware.limit.coulomb_n = 0.0;
    rig.actuator.force_constant_error = 0.0;
    rig.actuator.force_constant_droop = 0.0;
    rig.spring.preload_error_n = 0.0;
    rig.spring.level_rate_error = 0.0;
    let fine = |sensor: &mut Sensor, per_count: f64| {
        sensor.per_count = per_count;
        sensor.noise_rms = 0.0;
        sensor.bias_max = 0.0;
        sensor.gain_error = 0.0;
    };
    fine(&mut rig.sensors.floor_accel, 0.0004);
    fine(&mut rig.sensors.seat_accel, 0.0004);
    fine(&mut rig.sensors.travel, 0.0000015);
    fine(&mut rig.sensors.current, 0.003);
    fine(&mut rig.sensors.supply, 0.01);
    fine(&mut rig.sensors.coil_temperature, 0.001);
    // The observer is still designed for the sensors that ship.
    let shipped = Rig::default_machine().expect("a sound rig");
    rig.observer.unmodelled_mps2 = (shipped.observer.unmodelled_mps2.powi(2)
        + shipped.sensors.seat_accel.noise_rms.powi(2))
    .sqrt();
    rig.observer.unmodelled_travel_m = (shipped.observer.unmodelled_travel_m.powi(2)
        + shipped.sensors.travel.per_count.powi(2) / 12.0)
        .sqrt();
    // A still reading is no broken sensor here.
    // Noise that is not there must not bound what the observer believes.
    rig.firmware.agree.travel_noise_m = 0.01;
    // Frames fed by hand tell of no current.
    rig.firmware.agree.current_a = 100.0;
    rig.firmware.vet.stuck_steps = 60_000;
    rig
}

/// The law isolating on a stirring floor.
pub fn law_point(mass_kg: f64) -> LawPoint {
    LawPoint {
        friction: 1.0,
        ..LawPoint::still(mass_kg)
    }
}
