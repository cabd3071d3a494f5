//! What is proved or worked out: the certificate of the travel, stability margins, the modes.

use super::plan::Plan;
use super::run::{Bench, DossierError};
use crate::margins::limits::Limits;
use crate::margins::point;
use crate::margins::study::{self, StudySpec};
use crate::modes::proof;
use crate::proof::certificate::{Progress, certify};
use serde_json::{Value, json};
use std::sync::Mutex;

/// The proof of the travel.
pub(super) fn certificate(
    bench: &Bench<'_>,
    done: &(dyn Fn(f64) + Sync),
) -> Result<Value, DossierError> {
    let progress = Mutex::new(Progress::default());
    let part = |done_now: usize, of: usize| done(done_now as f64 / of.max(1) as f64);
    let found = certify(bench.rig, &progress, part, || !(bench.stop)())?;
    let mut value = serde_json::to_value(&found)?;
    if let Some(object) = value.as_object_mut() {
        // The speed of this machine is no figure of the proof.
        object.remove("seconds");
    }
    Ok(json!({ "certificate": value, "command": format!("becalm certify{}", bench.rig_option()) }))
}

/// Stability margins over the grid and over random machines.
pub(super) fn margins(
    bench: &Bench<'_>,
    plan: &Plan,
    done: &(dyn Fn(f64) + Sync),
) -> Result<Value, DossierError> {
    let grid = point::Bench::new(bench.rig)?;
    let spec = StudySpec {
        draws: plan.margin_draws.unwrap_or(0),
        ..StudySpec::default()
    };
    let count = study::count(&grid, &spec).max(1) as f64;
    let found = study::run(&grid, &spec, || !(bench.stop)(), |n| done(n as f64 / count))?;
    let pole = found
        .points
        .iter()
        .chain(&found.draws)
        .fold(0.0, |m, f| f64::max(m, f.largest_pole));
    Ok(json!({
        "command": format!("becalm margins --draws {}{}", spec.draws, bench.rig_option()),
        "draws": spec.draws,
        "points": found.points.len(),
        "worst": found.worst(false),
        "worst_braking": found.worst(true),
        "worst_drawn": (spec.draws > 0).then(|| found.worst_drawn(false)),
        "largest_pole": pole,
        "broken": found.broken(&Limits::default()),
    }))
}

/// The modes, explored whole.
pub(super) fn modes(bench: &Bench<'_>) -> Result<Value, DossierError> {
    let firmware = &bench.rig.firmware;
    let found = proof::prove(&firmware.supervise, &firmware.timing)?;
    Ok(json!({ "proof": found, "command": format!("becalm modes{}", bench.rig_option()) }))
}
