//! Shared by the target checks: many rides on all processors.

use host_sim::body::BodyKind;
use host_sim::floor::FloorSpec;
use host_sim::parallel::{map, processors};
use host_sim::ride::RideSpec;
use host_sim::rig::Rig;

/// The six invented machine spectra.
pub const FLOORS: [&str; 6] = [
    "hauler", "loader", "grader", "compact", "crawler", "ballast",
];

/// Light, middle and heavy occupant as a rigid load and as a seated body.
pub const LOADS: [(BodyKind, f64); 6] = [
    (BodyKind::Rigid, 40.0),
    (BodyKind::Rigid, 80.0),
    (BodyKind::Rigid, 130.0),
    (BodyKind::TwoMass, 40.0),
    (BodyKind::TwoMass, 80.0),
    (BodyKind::TwoMass, 130.0),
];

pub fn rig() -> Rig {
    Rig::default_machine().expect("the default rig")
}

/// 60 s on a floor, 80 kg, two-mass body, the first 5 s left out.
pub fn spec(floor: &str, level: f64, seed: u64) -> RideSpec {
    RideSpec::on(FloorSpec {
        level,
        seed,
        ..FloorSpec::named(floor)
    })
}

/// `of` for every item, on all processors, in the order of the items.
pub fn for_all<T: Sync, R: Send>(items: &[T], of: impl Fn(&T) -> R + Sync) -> Vec<R> {
    map(processors(), items.len(), |n| of(&items[n]))
}

/// Passes when nothing was collected, or fails with all of it.
pub fn assert_none(what: &str, failures: &[String]) {
    assert!(failures.is_empty(), "{what}:\n  {}", failures.join("\n  "));
}
