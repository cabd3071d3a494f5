//! What people do: who sits on the seat, and the switches.

use super::Fault;
use super::kind::{Kind, OperatorFault};
use crate::ride::OccupantChange;
use firmware::Switches;

/// The changes of occupant of a ride with those of its faults, in order of time. `occupant_kg` sits there
/// at the start.
pub(crate) fn occupants(
    changes: &[OccupantChange],
    occupant_kg: f64,
    faults: &[Fault],
) -> Vec<OccupantChange> {
    let mut all = changes.to_vec();
    for fault in faults {
        let change = |at_s, occupant_kg| OccupantChange { at_s, occupant_kg };
        match fault.kind {
            Kind::Operator(OperatorFault::Leaves) => {
                // Who would sit there at that time comes back.
                let back_s = fault.onset_s + fault.duration_s;
                let before = |c: &&OccupantChange| c.at_s <= back_s;
                let kg = changes.iter().rev().find(before);
                all.retain(|c| c.at_s < fault.onset_s || c.at_s > back_s);
                all.push(change(fault.onset_s, 0.0));
                if back_s.is_finite() {
                    all.push(change(back_s, kg.map_or(occupant_kg, |c| c.occupant_kg)));
                }
            }
            Kind::Operator(OperatorFault::Swapped) => all.push(change(fault.onset_s, fault.size)),
            _ => {}
        }
    }
    all.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
    all
}

/// What the switches show while a fault acts.
pub(super) const fn switches(kind: Kind, switches: Switches) -> Switches {
    let open = match kind {
        Kind::Operator(OperatorFault::StopOpened) => Switches::STOP_CIRCUIT,
        Kind::Operator(OperatorFault::Disarmed) => Switches::ARM,
        Kind::Operator(OperatorFault::SwitchOpen) => Switches::OCCUPANT,
        _ => 0,
    };
    Switches(switches.0 & !open)
}
