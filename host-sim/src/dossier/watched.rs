//! The rides that the page plays: the one with the largest peak on the machine floors, and the worst with a fault.

use super::attacks;
use super::plan::Plan;
use super::rides::{command, floor_specs};
use super::run::{Bench, DossierError, Outcome, Stage};
use super::words;
use crate::player::Recorder;
use crate::ride::{self, RideSpec};
use serde_json::Value;

/// A ride that the page plays.
#[derive(Clone, Debug)]
pub struct Watched {
    /// What tells it from the others, for identifiers: `ride` or `fault`.
    pub id: &'static str,
    /// Its heading.
    pub title: &'static str,
    /// Why this one, with the figure that decided.
    pub why: String,
    /// The command that rides it.
    pub command: String,
    /// The page that plays it.
    pub page: String,
}

/// A ride that was chosen, and the peaks that its stage measured, m/s2: under the law and in the passive seat.
struct Chosen {
    spec: RideSpec,
    command: String,
    peaks: [f64; 2],
    /// Of so many.
    count: usize,
}

/// Chooses and rides them. A stage that was not run has none.
///
/// # Errors
/// A ride or page that cannot be made, or raw data that is not that of the plan.
pub fn watched(
    bench: &Bench<'_>,
    plan: &Plan,
    stages: &[(Stage, Outcome)],
) -> Result<Vec<Watched>, DossierError> {
    let raw = |wanted: Stage| {
        stages.iter().find_map(|(stage, outcome)| match outcome {
            Outcome::Ran(data) if *stage == wanted => Some(data),
            _ => None,
        })
    };
    let mut all = Vec::new();
    if let Some(chosen) = raw(Stage::Rides).and_then(|data| roughest(bench, plan, data)) {
        let why = format!(
            "Of the dossier's {} rides on the machine floors the one with the largest peak acceleration of the seat under the law: {}.",
            chosen.count,
            peaks(&chosen)
        );
        all.push(played(bench, "ride", "One ride to watch", why, chosen)?);
    }
    if let Some(data) = raw(Stage::Faults)
        && let Some(chosen) = worst(bench, plan, data)?
    {
        let why = format!(
            "Of the {} cases of the fault campaign the one with the largest peak acceleration of the seat under the law from the \
             fault on: {}.",
            chosen.count,
            peaks(&chosen)
        );
        all.push(played(
            bench,
            "fault",
            "The worst ride with a fault",
            why,
            chosen,
        )?);
    }
    Ok(all)
}

fn peaks(chosen: &Chosen) -> String {
    let [law, passive] = chosen.peaks.map(words);
    format!("{law} m/s² (passive seat {passive} m/s²)")
}

/// The largest of what a stage has; the first of equal ones.
fn largest<'v>(rows: impl Iterator<Item = &'v Value>, place: &str) -> Option<(usize, &'v Value)> {
    let peak = |row: &Value| row.pointer(place).and_then(Value::as_f64);
    let known = rows.enumerate().filter(|(_, row)| peak(row).is_some());
    known.reduce(|a, b| if peak(b.1) > peak(a.1) { b } else { a })
}

fn number(row: &Value, place: &str) -> f64 {
    let found = row.pointer(place).and_then(Value::as_f64);
    found.unwrap_or(f64::NAN)
}

fn roughest(bench: &Bench<'_>, plan: &Plan, data: &Value) -> Option<Chosen> {
    let rows = data["rides"].as_array()?;
    let (place, row) = largest(rows.iter(), "/summary/seat/peak_mps2")?;
    // Raw data has the rides in the order of their specs.
    let (_, spec) = floor_specs(&plan.rides).into_iter().nth(place)?;
    Some(Chosen {
        command: command(&spec, bench),
        spec,
        peaks: [
            number(row, "/summary/seat/peak_mps2"),
            number(row, "/summary/passive/peak_mps2"),
        ],
        count: rows.len(),
    })
}

fn worst(bench: &Bench<'_>, plan: &Plan, data: &Value) -> Result<Option<Chosen>, DossierError> {
    let campaigns = data["campaigns"].as_array().map_or(&[][..], Vec::as_slice);
    let cases = || {
        campaigns
            .iter()
            .flat_map(|c| c["cases"].as_array().into_iter().flatten())
    };
    let Some((_, case)) = largest(cases(), "/law/peak_mps2") else {
        return Ok(None);
    };
    let unknown = || DossierError::Plan(format!("faults: {}: no case of this plan", case["id"]));
    for seed in 1..=plan.faults.seeds {
        let (campaign, _) = attacks::campaign(bench, plan, seed)?;
        let places = campaign.places().map_err(crate::ride::RideError::from)?;
        for place in &places {
            for entry in &campaign.faults {
                if case["id"] == place.id(entry).as_str() {
                    return Ok(Some(Chosen {
                        spec: place.ride(entry),
                        command: place.command(entry),
                        peaks: [
                            number(case, "/law/peak_mps2"),
                            number(case, "/passive/peak_mps2"),
                        ],
                        count: cases().count(),
                    }));
                }
            }
        }
    }
    Err(unknown())
}

fn played(
    bench: &Bench<'_>,
    id: &'static str,
    title: &'static str,
    why: String,
    chosen: Chosen,
) -> Result<Watched, DossierError> {
    let mut recorder = Recorder::new(bench.rig, &chosen.spec)?;
    let summary = ride::run(bench.rig, &chosen.spec, |s| {
        recorder.push(s);
        !(bench.stop)()
    })?;
    Ok(Watched {
        id,
        title,
        why,
        command: chosen.command,
        page: recorder.page_alone(&summary)?,
    })
}
