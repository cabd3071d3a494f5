//! Finds as files: a recording of the floor and a scenario that rides it.

use super::floor::Knots;
use super::search::Find;
use crate::floor::FloorSpec;
use crate::ride::{Arithmetic, RideSpec};
use std::path::Path;

/// The scenario of a find, beside its recording `csv`; `rig` names a rig file beside it.
#[must_use]
pub fn scenario(find: &Find, csv: &str, rig: Option<&str>, remark: &str) -> String {
    let m = &find.machine;
    let spec = ride(find, Path::new(csv));
    let rig = rig.map_or_else(String::new, |name| format!("rig = \"{name}\"\n"));
    format!(
        "# {remark}\n\
         occupant_kg = {:.1}\n\
         body = \"{}\"\n\
         seconds = {}\n\
         skip_s = {}\n\
         coil_c = {:.1}\n\
         {rig}\n\
         [floor]\n\
         name = \"{csv}\"\n\
         seed = {}\n\
         recording = {{ fade_s = 0.0, high_pass_hz = 0.0, keep_mean = true }}\n",
        m.occupant_kg,
        m.body.name(),
        spec.seconds,
        spec.skip_s,
        m.coil_c,
        m.seed
    )
}

/// The same ride, for `ride::run`.
#[must_use]
pub fn ride(find: &Find, csv: &Path) -> RideSpec {
    let knots = &find.knots;
    // Rounded, so that the sum of steps reads well.
    let seconds = |n: usize| (n as f64 * knots.spacing_s * 1e6).round() / 1e6;
    RideSpec {
        floor: FloorSpec {
            name: csv.display().to_string(),
            seed: find.machine.seed,
            recording: Knots::reading(),
            ..FloorSpec::default()
        },
        occupant_kg: find.machine.occupant_kg,
        body: find.machine.body,
        seconds: seconds(knots.accel_mps2.len() - 1),
        skip_s: seconds(knots.searched_from),
        arithmetic: Arithmetic::F32,
        changes: Vec::new(),
        coil_c: Some(find.machine.coil_c),
        faults: Vec::new(),
    }
}
