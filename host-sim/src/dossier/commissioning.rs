//! The commissioning test of sound machines: what it does to them, what it finds, and how far that is from the truth.

use super::plan::Plan;
use super::run::{Bench, DossierError};
use crate::commission::{self, Spec};
use crate::parallel::try_map;
use serde_json::{Value, json};

/// One test a seed.
pub(super) fn tests(
    bench: &Bench<'_>,
    plan: &Plan,
    done: &(dyn Fn(f64) + Sync),
) -> Result<Value, DossierError> {
    let seeds = plan.commission_seeds;
    let told_npa = f64::from(bench.rig.firmware.limit.force_constant_npa);
    let rows = try_map(
        bench.threads,
        seeds as usize,
        |n| {
            let seed = n as u64 + 1;
            let run = commission::run(bench.rig, &Spec::of(seed), |_, _| {})?;
            Ok::<_, DossierError>(json!({
                "seed": seed,
                "command": format!("becalm commission --seed {seed}{}", bench.rig_option()),
                "armed": run.commission.may_arm(),
                // By the told force constant, as it is limited.
                "force_n": run.command_peak_a * told_npa,
                "travel_peak_m": run.travel_peak_m,
                "stop_contacts": run.contacts,
                "truth": run.truth,
                "finding": run.commission.result(),
            }))
        },
        |finished| done(finished as f64 / seeds as f64),
    )?;
    Ok(json!({ "tests": rows }))
}
