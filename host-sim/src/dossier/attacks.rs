//! What tries to break the seat: the hunt, the fault campaign, flipped bits of memory.

use super::plan::Plan;
use super::run::{Bench, DossierError};
use crate::bitflips::{self, Setting};
use crate::body::BodyKind;
use crate::campaign::plan::{self, Plan as Campaign};
use crate::campaign::run::{self, CampaignError, Ridden};
use crate::campaign::summary::Summary;
use crate::design;
use crate::hunt::Aim;
use crate::hunt::floor::Bounds;
use crate::hunt::search;
use crate::proof::claim::Claim;
use crate::ride::RideError;
use serde_json::{Value, json};

/// The hunt within the claim of the rig, from several seeds.
pub(super) fn hunt(
    bench: &Bench<'_>,
    plan: &Plan,
    done: &(dyn Fn(f64) + Sync),
) -> Result<Value, DossierError> {
    let rig = bench.rig;
    let claim = Claim::of(rig);
    let parameters = design::parameters(rig)?;
    let (rides, seeds) = plan.hunt;
    let mut hunts = Vec::new();
    for seed in 1..=seeds {
        let search = search::Plan {
            bounds: Bounds {
                accel_mps2: claim.floor_accel_mps2,
                jerk_mps3: claim.floor_jerk_mps3,
                searched_s: 2.0,
                start_s: 10.0,
            },
            occupants_kg: (claim.occupant_min_kg, claim.occupant_max_kg),
            bodies: BodyKind::SEATED.to_vec(),
            coil_max_c: f64::from(rig.firmware.limit.derate_from_c),
            aims: Aim::ALL.to_vec(),
            evaluations: rides,
            seed,
            threads: bench.threads,
        };
        let found = search::run(rig, &parameters, &search, |n| {
            done(((seed - 1) as f64 + n as f64 / rides.max(1) as f64) / seeds as f64);
            !(bench.stop)()
        })?;
        if (bench.stop)() {
            return Err(RideError::Interrupted.into());
        }
        let finds: Vec<Value> = (found.finds.iter())
            .map(
                |find| json!({ "aim": find.aim, "machine": find.machine, "figures": find.figures }),
            )
            .collect();
        hunts.push(json!({
            "seed": seed, "rides": found.evaluations, "finds": finds,
            "command": format!("becalm hunt --evaluations {rides} --seed {seed}{}", bench.rig_option()),
        }));
    }
    Ok(json!({ "claim": claim, "hunts": hunts }))
}

/// The plan of the campaign from one seed, and its command.
pub(super) fn campaign(
    bench: &Bench<'_>,
    plan: &Plan,
    seed: u64,
) -> Result<(Campaign, String), DossierError> {
    let faults = &plan.faults;
    let mut campaign = Campaign {
        seed,
        hours: faults.hours,
        rig_option: bench.rig_path.clone(),
        ..Campaign::whole()
    };
    let mut command = format!("becalm faults --seed {seed} --hours {}", faults.hours);
    if faults.quick {
        (campaign.occupants_kg, campaign.onsets_s) = (vec![80.0], vec![10.0]);
        command += " --quick";
    }
    if !faults.only.is_empty() {
        campaign.faults = plan::only(&faults.only).map_err(DossierError::Plan)?;
        for only in &faults.only {
            command += &format!(" --only {only}");
        }
    }
    if !faults.floors.is_empty() {
        campaign.floors = faults.floors.clone();
        for floor in &faults.floors {
            command += &format!(" --floor {floor}");
        }
    }
    Ok((campaign, command + &bench.rig_option()))
}

/// The fault campaign, from several seeds.
pub(super) fn faults(
    bench: &Bench<'_>,
    plan: &Plan,
    done: &(dyn Fn(f64) + Sync),
) -> Result<Value, DossierError> {
    let seeds = plan.faults.seeds;
    let mut campaigns = Vec::new();
    for seed in 1..=seeds {
        let (campaign, command) = campaign(bench, plan, seed)?;
        let (cases, healthy) = run::count(&campaign)?;
        let count = (cases + healthy).max(1) as f64;
        let ridden = run::run(bench.rig, &campaign, bench.threads, None, |n| {
            done(((seed - 1) as f64 + n as f64 / count) / seeds as f64);
            !(bench.stop)()
        });
        let ridden = match ridden {
            Err(CampaignError::Interrupted) => return Err(RideError::Interrupted.into()),
            other => other?,
        };
        campaigns.push(kept(seed, &command, &ridden));
    }
    Ok(json!({ "campaigns": campaigns }))
}

fn kept(seed: u64, command: &str, ridden: &Ridden) -> Value {
    let summary = Summary::of(ridden);
    json!({ "seed": seed, "command": command, "summary": summary, "cases": ridden.cases, "healthy": ridden.healthy })
}

/// Flipped bits.
pub(super) fn flips(
    bench: &Bench<'_>,
    plan: &Plan,
    done: &(dyn Fn(f64) + Sync),
) -> Result<Value, DossierError> {
    let (moments, every) = plan.bitflips;
    let machine = bitflips::Bench::new(bench.rig, Setting::rough(moments))?;
    let words = (machine.words("").len() * machine.moments()).max(1) as f64;
    let report = bitflips::run(&machine, "", every, bench.threads, bench.stop, |n| {
        done(n as f64 / words)
    })?;
    Ok(json!({
        "report": report,
        "command": format!("becalm bitflips --moments {moments} --every {every}{}", bench.rig_option()),
    }))
}
