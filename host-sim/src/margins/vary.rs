//! A machine that differs from the one the law was told of: every value that the linear loop depends on.

use super::plant_model::Machine;
use super::point::{Bench, Point};
use crate::body::Body;
use crate::rig::Rig;

/// The truth, apart from what the law believes.
#[derive(Clone, Debug)]
pub struct Truth {
    rig: Rig,
    delay: f64,
    gain: [f64; 3],
    body_stiffness: f64,
    body_damper: f64,
}

/// A value of the rig, and how it is multiplied.
#[derive(Clone, Copy)]
pub struct Value {
    /// Its name in the rig file; the body's and the sensors' scale have none there.
    pub name: &'static str,
    scale: fn(&mut Truth, f64),
}

/// All values that the linear loop depends on. The others (heat, supply, winding, bumpers, noise, biases,
/// passive seat) have no part in it while nothing saturates.
pub const VALUES: [Value; 19] = [
    Value {
        name: "seat.empty_mass_kg",
        scale: |t, f| t.rig.seat.empty_mass_kg *= f,
    },
    Value {
        name: "seat.on_seat_share",
        scale: |t, f| t.rig.seat.on_seat_share *= f,
    },
    Value {
        name: "seat.travel_m",
        scale: |t, f| t.rig.seat.travel_m *= f,
    },
    Value {
        name: "spring.stiffness_npm",
        scale: |t, f| t.rig.spring.stiffness_npm *= f,
    },
    Value {
        name: "friction.viscous_nspm",
        scale: |t, f| t.rig.friction.viscous_nspm *= f,
    },
    Value {
        name: "friction.coulomb_n",
        scale: |t, f| t.rig.friction.coulomb_n *= f,
    },
    Value {
        name: "actuator.force_constant_npa",
        scale: |t, f| t.rig.actuator.force_constant_npa *= f,
    },
    Value {
        name: "actuator.force_constant_droop",
        scale: |t, f| t.rig.actuator.force_constant_droop *= f,
    },
    Value {
        name: "actuator.current_loop_hz",
        scale: |t, f| t.rig.actuator.current_loop_hz *= f,
    },
    Value {
        name: "sensors.floor_accel.bandwidth_hz",
        scale: |t, f| t.rig.sensors.floor_accel.bandwidth_hz *= f,
    },
    Value {
        name: "sensors.seat_accel.bandwidth_hz",
        scale: |t, f| t.rig.sensors.seat_accel.bandwidth_hz *= f,
    },
    Value {
        name: "sensors.travel.bandwidth_hz",
        scale: |t, f| t.rig.sensors.travel.bandwidth_hz *= f,
    },
    Value {
        name: "sensors.floor_accel scale",
        scale: |t, f| t.gain[0] *= f,
    },
    Value {
        name: "sensors.seat_accel scale",
        scale: |t, f| t.gain[1] *= f,
    },
    Value {
        name: "sensors.travel scale",
        scale: |t, f| t.gain[2] *= f,
    },
    Value {
        name: "timing.step_s",
        scale: |t, f| t.rig.timing.step_s *= f,
    },
    Value {
        name: "timing.transport_steps",
        scale: |t, f| t.delay *= f,
    },
    Value {
        name: "body stiffness",
        scale: |t, f| t.body_stiffness *= f,
    },
    Value {
        name: "body damping",
        scale: |t, f| t.body_damper *= f,
    },
];

impl Truth {
    /// As the law was told.
    #[must_use]
    pub fn of(rig: &Rig) -> Self {
        Self {
            rig: rig.clone(),
            delay: 1.0,
            gain: [1.0; 3],
            body_stiffness: 1.0,
            body_damper: 1.0,
        }
    }

    /// Multiplies one value.
    #[must_use]
    pub fn with(mut self, value: &Value, factor: f64) -> Self {
        (value.scale)(&mut self, factor);
        self
    }

    /// The machine at an operating point.
    #[must_use]
    pub fn machine(&self, bench: &Bench, point: &Point) -> Machine {
        let mut body = Body::new(point.body, point.occupant_kg * self.rig.seat.on_seat_share);
        for s in &mut body.sprung {
            s.stiffness_npm *= self.body_stiffness;
            s.damper_nspm *= self.body_damper;
        }
        let mut machine = bench.machine(&self.rig, body, point);
        machine.delay_s *= self.delay;
        machine.gain = self.gain;
        machine
    }
}
