//! What breaks in motor, output stage, support and supply, and what lies under the seat.

use super::injection::Running;
use super::kind::{ActuatorFault, Kind, OperatorFault, SupplyFault};
use crate::plant::{Config, Drive, Plant};
use std::f64::consts::TAU;

/// The constants of a sound plant with one fault in them.
pub(super) fn broken(config: Config, kind: Kind, size: f64) -> Config {
    let c = config;
    match kind {
        Kind::Actuator(fault) => match fault {
            ActuatorFault::NoForce => Config {
                force_constant_npa: 0.0,
                ..c
            },
            ActuatorFault::Weak => Config {
                force_constant_npa: size * c.force_constant_npa,
                ..c
            },
            ActuatorFault::Reversed => Config {
                force_constant_npa: -c.force_constant_npa,
                ..c
            },
            ActuatorFault::LoopSlow => Config {
                current_loop_radps: TAU * size,
                ..c
            },
            ActuatorFault::Jammed => Config {
                coulomb_n: c.coulomb_n + size,
                stiction_n: c.stiction_n + size,
                ..c
            },
            ActuatorFault::SpringBroken => Config {
                spring_npm: (1.0 - size) * c.spring_npm,
                ..c
            },
            _ => c,
        },
        Kind::Supply(fault) => match fault {
            SupplyFault::Sag | SupplyFault::Spike => Config {
                supply_v: size,
                ..c
            },
            // The source gives current only into a bus that is lower.
            SupplyFault::Loss => Config { supply_v: 0.0, ..c },
            SupplyFault::ChopperShut => Config {
                chopper_v: f64::INFINITY,
                ..c
            },
        },
        _ => c,
    }
}

/// What happens to the plant itself while a fault acts, `since` periods after its onset.
pub(super) fn act(running: &Running, plant: &mut Plant, since: u64) {
    let size = running.fault.size;
    match running.fault.kind {
        Kind::Actuator(ActuatorFault::Hot) => {
            let case = plant.temperatures()[1];
            plant.set_temperatures([size, case]);
        }
        Kind::Operator(OperatorFault::Bounces) => {
            let turn = since as f64 / running.every as f64;
            plant.push(-size * (TAU * turn).sin());
        }
        Kind::Operator(OperatorFault::Wedged) if plant.travel() > -size => plant.wedge(Some(size)),
        _ => {}
    }
}

/// The onset of a fault, for what happens once.
pub(super) fn begin(running: &Running, plant: &mut Plant) {
    if running.fault.kind == Kind::Actuator(ActuatorFault::SpringBroken) {
        plant.set_preload((1.0 - running.fault.size) * plant.preload());
    }
}

/// The end of a fault: what is undone besides the constants. A broken spring that is mended has its
/// preload again.
pub(super) fn end(running: &Running, plant: &mut Plant) {
    match running.fault.kind {
        Kind::Actuator(ActuatorFault::SpringBroken) if running.fault.size < 1.0 => {
            plant.set_preload(plant.preload() / (1.0 - running.fault.size));
        }
        Kind::Operator(OperatorFault::Bounces) => plant.push(0.0),
        Kind::Operator(OperatorFault::Wedged) => plant.wedge(None),
        _ => {}
    }
}

/// What reaches the windings of what the answer `asked` for.
pub(super) fn drive(running: &mut Running, asked: Drive, acts: bool) -> Drive {
    let Kind::Actuator(fault) = running.fault.kind else {
        return asked;
    };
    if !acts {
        if let Drive::Current(current) = asked {
            running.last_current_a = current;
        }
        return asked;
    }
    match (fault, asked) {
        (ActuatorFault::CurrentStuck, Drive::Current(_)) => Drive::Current(running.fault.size),
        (ActuatorFault::OneSided, Drive::Current(current)) => {
            let works = current * running.fault.size >= 0.0;
            Drive::Current(if works { current } else { 0.0 })
        }
        (ActuatorFault::WindingShort, _) => Drive::Braked(0.0),
        (ActuatorFault::WindingOpen, _) => Drive::Open,
        (ActuatorFault::EnableStuck, Drive::Current(current)) => {
            running.last_current_a = current;
            asked
        }
        (ActuatorFault::EnableStuck, _) => Drive::Current(running.last_current_a),
        (ActuatorFault::ShortMissing, Drive::Braked(_)) => Drive::Open,
        _ => asked,
    }
}
