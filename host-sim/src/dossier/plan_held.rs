//! Whether raw data hold what the plan of that name asks for: a quick dossier is no full one.

use super::attacks;
use super::figures_rides::{list, text};
use super::plan::Plan;
use super::rides::{EVENTS, LOADS, RANGES, command, floor_specs};
use super::run::{Bench, DossierError, Stage};
use serde_json::Value;

/// The commands of the rows of a list, in their order.
fn commands(rows: &[Value]) -> Vec<&str> {
    rows.iter().map(|row| text(&row["command"])).collect()
}

fn counted(found: usize, expected: usize, what: &str) -> Option<String> {
    (found != expected).then(|| format!("{found} {what}: expected {expected}"))
}

/// The first command that is not as the plan has it.
fn listed(found: &[&str], expected: &[String], what: &str) -> Option<String> {
    counted(found.len(), expected.len(), what).or_else(|| {
        let other = found.iter().zip(expected).find(|(a, b)| **a != b.as_str());
        other.map(|(a, b)| format!("`{a}`: expected `{b}`"))
    })
}

/// What of a stage's raw data is not as the plan asks; none when all is.
///
/// # Errors
/// A plan that cannot be run.
pub(super) fn unlike(
    plan: &Plan,
    stage: Stage,
    data: &Value,
    bench: &Bench<'_>,
) -> Result<Option<String>, DossierError> {
    let rides = list(data, "rides");
    let seeds = |seeds: u64| 1..=seeds;
    Ok(match stage {
        Stage::Rides => {
            let specs = floor_specs(&plan.rides);
            let expected: Vec<String> = specs.iter().map(|(_, s)| command(s, bench)).collect();
            listed(&commands(rides), &expected, "rides")
        }
        Stage::Events => counted(
            rides.len(),
            // Under 80 kg, and under every other load.
            EVENTS.len() * (1 + LOADS.len()) * plan.event_seeds as usize,
            "rides",
        ),
        Stage::Seated => {
            let s = &plan.seated;
            let ways = 1 + usize::from(s.sits_down);
            // Either body.
            let each = 2 * s.occupants_kg.len() * s.seeds as usize;
            counted(rides.len(), ways * s.floors.len() * each, "rides")
        }
        Stage::Sweep => counted(
            list(data, "sweeps").len(),
            RANGES.len() * plan.sweep_seeds as usize,
            "sweeps",
        ),
        Stage::Headroom => {
            let parts = list(data, "seeds");
            let each = plan.rides.floors.len() * plan.headroom.1.len();
            let rows = parts.iter().map(|p| list(p, "rows").len());
            counted(parts.len(), plan.headroom.0 as usize, "seeds").or_else(|| {
                let mut other = rows.filter_map(|n| counted(n, each, "rows of a seed"));
                other.next()
            })
        }
        Stage::Commission => {
            let expected: Vec<String> = seeds(plan.commission_seeds)
                .map(|seed| format!("becalm commission --seed {seed}{}", bench.rig_option()))
                .collect();
            listed(&commands(list(data, "tests")), &expected, "tests")
        }
        Stage::Margins => counted(
            data["draws"].as_u64().unwrap_or(u64::MAX) as usize,
            plan.margin_draws.unwrap_or(0),
            "random machines",
        ),
        Stage::Hunt => {
            let (rides, all) = plan.hunt;
            let hunts = list(data, "hunts");
            let expected: Vec<String> = seeds(all)
                .map(|seed| {
                    format!(
                        "becalm hunt --evaluations {rides} --seed {seed}{}",
                        bench.rig_option()
                    )
                })
                .collect();
            listed(&commands(hunts), &expected, "hunts").or_else(|| {
                // Whole generations: it seldom rides all that it may.
                let short = |h: &&Value| h["rides"].as_u64().unwrap_or(0) < rides as u64 / 2;
                let found = hunts.iter().find(short);
                found.map(|h| format!("{} rides: expected about {rides}", h["rides"]))
            })
        }
        Stage::Faults => {
            let mut expected = Vec::new();
            for seed in seeds(plan.faults.seeds) {
                expected.push(attacks::campaign(bench, plan, seed)?.1);
            }
            listed(&commands(list(data, "campaigns")), &expected, "campaigns")
        }
        Stage::Bitflips => {
            let (moments, every) = plan.bitflips;
            let expected = format!(
                "becalm bitflips --moments {moments} --every {every}{}",
                bench.rig_option()
            );
            listed(&[text(&data["command"])], &[expected], "commands")
        }
        // Without parts that a plan may leave out.
        Stage::Certificate | Stage::Modes | Stage::Timing | Stage::Parity => None,
    })
}
