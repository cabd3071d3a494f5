//! A dossier looked at again: its files, every figure from raw data, every verdict and the pages from the figures, the plan,
//! and a sample of the rides ridden anew.

use super::checksums;
use super::differences::{differences, parting};
use super::folder::FILES;
use super::junit::junit;
use super::page::page;
use super::plan::Plan;
use super::plan_held;
pub use super::read::read;
use super::record::{Dossier, Environment};
use super::rides;
use super::run::{Bench, DossierError, Outcome, Stage};
use super::watched::{Watched, watched};
use crate::body::BodyKind;
use crate::floor::FloorSpec;
use crate::limits;
use crate::ride::RideSpec;
use serde::Serialize;
use serde_json::Value;
use std::path::Path;

/// What was looked at, and what does not agree.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Checked {
    /// Files whose checksum agrees.
    pub files: usize,
    /// Figures worked out again from raw data.
    pub figures: usize,
    /// Verdicts given again.
    pub verdicts: usize,
    /// Rides ridden again.
    pub rides: usize,
    /// Rides that there are.
    pub of_rides: usize,
    /// What does not agree, each with file and what was expected.
    pub wrong: Vec<String>,
    /// What could not be looked at, and why.
    pub not_compared: Vec<String>,
    /// What nothing in the folder shows.
    pub stated: Vec<String>,
}

/// Looks at the dossier in `folder` again, which must be of one of the `plans`. `sample` rides are ridden anew with the
/// bench's rig.
///
/// # Errors
/// No dossier, raw data that cannot be read, or an interruption.
pub fn check(
    folder: &Path,
    bench: &Bench<'_>,
    plans: &[Plan],
    sample: usize,
) -> Result<Checked, DossierError> {
    let dossier = read(folder)?;
    // Commands name the rig as it was named then.
    let bench = &Bench {
        rig_path: dossier.environment.rig_file.clone(),
        ..bench.clone()
    };
    let left_out = |stage: Stage| dossier.not_run.iter().find(|n| n.what == stage.name());
    let of_stage = |name: &str| Stage::ALL.into_iter().find(|s| s.file() == name);
    let names: Vec<&str> = FILES
        .into_iter()
        .filter(|name| *name != checksums::FILE)
        .filter(|name| of_stage(name).is_none_or(|stage| left_out(stage).is_none()))
        .collect();
    let (files, wrong) = checksums::check(folder, &names).map_err(DossierError::NotOne)?;
    let mut checked = Checked {
        files,
        wrong,
        ..Checked::default()
    };
    let mut stages = Vec::new();
    for stage in Stage::ALL {
        if let Some(n) = left_out(stage) {
            stages.push((stage, Outcome::NotRun(n.why.clone())));
            continue;
        }
        let text = std::fs::read_to_string(folder.join(stage.file())).unwrap_or_default();
        match serde_json::from_str::<Value>(&text) {
            Ok(data) => stages.push((stage, Outcome::Ran(data))),
            Err(e) => checked.wrong.push(format!(
                "{}:{}:{}: {e}: expected the raw data of the stage {}",
                stage.file(),
                e.line(),
                e.column(),
                stage.name()
            )),
        }
    }
    let (own_rig, own_program) = origin(&dossier, bench, &mut checked)?;
    plan(&dossier, bench, plans, &stages, &mut checked)?;
    taken_as_stated(&dossier, &stages, &mut checked);
    let whole = stages.len() == Stage::ALL.len();
    let again = made_again(&dossier, bench, &stages)?;
    checked.figures = again.figures.len();
    if whole {
        same(
            "figure",
            &dossier.figures,
            &again.figures,
            |f| &f.id,
            &mut checked.wrong,
        );
    }
    if whole && own_rig {
        checked.verdicts = again.verdicts.len();
        same(
            "limit",
            &dossier.verdicts,
            &again.verdicts,
            |v| &v.limit,
            &mut checked.wrong,
        );
        same(
            "not_run",
            &dossier.not_run,
            &again.not_run,
            |n| &n.what,
            &mut checked.wrong,
        );
        ride_again(bench, &stages, sample, &mut checked)?;
        if own_program {
            let plan = plans.iter().find(|p| p.name == dossier.plan);
            let rides = match plan.map(|plan| watched(bench, plan, &stages)) {
                // No plan, or raw data of another one, has been told above.
                None | Some(Err(DossierError::Plan(_))) => {
                    let what = "dossier.html: raw data are not of the plan";
                    checked.not_compared.push(what.to_owned());
                    None
                }
                Some(rides) => Some(rides?),
            };
            pages(folder, &again, rides.as_deref(), &mut checked)?;
        }
    } else if !whole {
        checked.not_compared.push(
            "figures, verdicts, rides, junit.xml, dossier.html: raw data are missing".to_owned(),
        );
    }
    Ok(checked)
}

/// The record as this program makes it from the raw data.
fn made_again(
    dossier: &Dossier,
    bench: &Bench<'_>,
    stages: &[(Stage, Outcome)],
) -> Result<Dossier, DossierError> {
    let register = limits::of_rig(&limits::register(), bench.rig).map_err(DossierError::Plan)?;
    Ok(Dossier::new(
        &dossier.plan,
        dossier.environment.clone(),
        &register,
        stages,
    ))
}

/// Whether rig and program are those of the dossier.
fn origin(
    dossier: &Dossier,
    bench: &Bench<'_>,
    checked: &mut Checked,
) -> Result<(bool, bool), DossierError> {
    let (told, own) = (
        &dossier.environment,
        Environment::of(bench.rig, None, &Plan::quick())?,
    );
    let mut wrong = |field: &str, told: &str, own: &str, of: &str| {
        if told != own {
            checked.wrong.push(format!(
                "dossier.json: {field}: {told}: expected {own}, {of}"
            ));
        }
    };
    let own_rig = told.rig_sha256 == own.rig_sha256;
    if own_rig {
        let of = "the name of the rig of that SHA-256";
        wrong("environment.rig", &told.rig, &own.rig, of);
    } else {
        let of = format!(
            "the SHA-256 of the rig `{}` that it was checked with: give the dossier's own with --rig",
            own.rig
        );
        wrong(
            "environment.rig_sha256",
            &told.rig_sha256,
            &own.rig_sha256,
            &of,
        );
    }
    let own_program = told.sources == own.sources;
    if own_program {
        let of = "the version of the program of those sources";
        wrong("environment.becalm", &told.becalm, &own.becalm, of);
        wrong("made_by", &dossier.made_by, crate::output::MADE_BY, of);
    }
    if !own_rig {
        let what = "verdicts, rides, junit.xml, dossier.html: not the rig of this dossier";
        checked.not_compared.push(what.to_owned());
    } else if !own_program {
        checked.not_compared.push(format!(
            "junit.xml, dossier.html: the dossier says that another program made it, of the sources {}; this one is of {}, and what differs \
             may come of that",
            told.sources, own.sources
        ));
    }
    Ok((own_rig, own_program))
}

/// Plan against raw data.
fn plan(
    dossier: &Dossier,
    bench: &Bench<'_>,
    plans: &[Plan],
    stages: &[(Stage, Outcome)],
    checked: &mut Checked,
) -> Result<(), DossierError> {
    let Some(plan) = plans.iter().find(|p| p.name == dossier.plan) else {
        let known: Vec<&str> = plans.iter().map(|p| p.name.as_str()).collect();
        checked.wrong.push(format!(
            "dossier.json: plan: {}: expected one of {}",
            dossier.plan,
            known.join(", ")
        ));
        return Ok(());
    };
    for (stage, outcome) in stages {
        let found = match (outcome, stage.left_out(plan)) {
            (Outcome::Ran(data), None) => plan_held::unlike(plan, *stage, data, bench)?,
            (Outcome::Ran(_), Some(why)) => Some(format!("raw data: expected none: {why}")),
            (Outcome::NotRun(why), Some(expected)) => {
                (*why != expected).then(|| format!("not run: {why}: expected {expected}"))
            }
            // Only cores may be at fault themselves.
            (Outcome::NotRun(_), None) if matches!(stage, Stage::Timing | Stage::Parity) => None,
            (Outcome::NotRun(why), None) => {
                Some(format!("not run: {why}: expected to be part of the plan"))
            }
        };
        if let Some(found) = found {
            checked.wrong.push(format!(
                "dossier.json: plan: {}: {}: {found}",
                plan.name,
                stage.file()
            ));
        }
    }
    Ok(())
}

/// What nothing in the folder shows.
fn taken_as_stated(dossier: &Dossier, stages: &[(Stage, Outcome)], checked: &mut Checked) {
    let (told, own) = (&dossier.environment, super::commit::commit());
    for (name, told, own) in [
        ("compiler", &told.compiler, env!("BECALM_COMPILER")),
        ("target", &told.target, env!("BECALM_TARGET")),
        ("profile", &told.profile, env!("BECALM_PROFILE")),
        ("git", &told.git, own.as_str()),
    ] {
        checked.stated.push(if told == own {
            format!("{name}: {told}, as of this program")
        } else {
            format!("{name}: {told}; of this program it is {own}")
        });
    }
    checked.stated.push(format!("system: {}", told.system));
    if let Some(emulator) = &told.emulator {
        checked.stated.push(format!("emulator: {emulator}"));
    }
    if let Some(file) = &told.rig_file {
        checked.stated.push(format!("rig_file: {file}"));
    }
    let mut left = Vec::new();
    for (stage, outcome) in stages {
        match outcome {
            Outcome::NotRun(why) => checked
                .stated
                .push(format!("{} not run: {why}", stage.name())),
            Outcome::Ran(_) if *stage != Stage::Rides => left.push(stage.file()),
            Outcome::Ran(_) => {}
        }
    }
    checked.stated.push(format!(
        "raw data that are not measured again: {}, and the rides that are not in the sample",
        left.join(", ")
    ));
}

/// Rows of the record against those made again: each once, in the same order, every field.
fn same<T: Serialize>(
    what: &str,
    known: &[T],
    again: &[T],
    id: impl Fn(&T) -> &String,
    wrong: &mut Vec<String>,
) {
    let value = |row: &T| serde_json::to_value(row).unwrap_or_default();
    for row in again {
        let mut found = known.iter().filter(|k| id(k) == id(row));
        let differ = match found.next() {
            Some(known) => differences(&value(known), &value(row)),
            None => Some("missing: expected one of each".to_owned()),
        };
        let twice = found.next().map(|_| "twice: expected once".to_owned());
        for differ in differ.into_iter().chain(twice) {
            wrong.push(format!("dossier.json: {what} {}: {differ}", id(row)));
        }
    }
    for row in known
        .iter()
        .filter(|row| !again.iter().any(|a| id(a) == id(row)))
    {
        wrong.push(format!(
            "dossier.json: {what} {}: expected none of that name",
            id(row)
        ));
    }
    let order = |rows: &[T]| -> Vec<String> { rows.iter().map(|r| id(r).clone()).collect() };
    let (mut a, mut b) = (order(known), order(again));
    if a != b {
        a.sort();
        b.sort();
        if a == b {
            wrong.push(format!("dossier.json: {what}: expected another order"));
        }
    }
}

/// Report, and page with its rides, against those made again.
fn pages(
    folder: &Path,
    again: &Dossier,
    rides: Option<&[Watched]>,
    checked: &mut Checked,
) -> Result<(), DossierError> {
    let page = rides.map(|rides| page(again, rides)).transpose()?;
    let made = [("junit.xml", Some(junit(again))), ("dossier.html", page)];
    for (name, again) in made {
        let Some(again) = again else { continue };
        let known = std::fs::read_to_string(folder.join(name)).unwrap_or_default();
        if let Some(differ) = parting(&known, &again) {
            checked.wrong.push(format!(
                "{name}:{differ}, as made again from record and raw data"
            ));
        }
    }
    Ok(())
}

/// Rides a few of the recorded rides anew, spread over all of them.
fn ride_again(
    bench: &Bench<'_>,
    stages: &[(Stage, Outcome)],
    sample: usize,
    checked: &mut Checked,
) -> Result<(), DossierError> {
    let rows = stages.iter().find_map(|(stage, outcome)| match outcome {
        Outcome::Ran(data) if *stage == Stage::Rides => data["rides"].as_array(),
        _ => None,
    });
    let rows = rows.map_or(&[][..], Vec::as_slice);
    checked.of_rides = rows.len();
    let step = (rows.len() / sample.max(1)).max(1);
    for row in rows.iter().step_by(step).take(sample) {
        let (name, spec) = spec(row);
        let again = rides::ridden(bench, &name, &spec)?;
        checked.rides += 1;
        if let Some(differ) = differences(row, &again) {
            checked.wrong.push(format!(
                "{}: {}: {differ}, as ridden again",
                Stage::Rides.file(),
                row["command"].as_str().unwrap_or_default()
            ));
        }
    }
    Ok(())
}

/// What was ridden, as its raw data tell.
fn spec(row: &Value) -> (String, RideSpec) {
    let kept = &row["summary"];
    let number = |name: &str| kept[name].as_f64().unwrap_or(f64::NAN);
    let body = BodyKind::ALL
        .into_iter()
        .find(|b| Some(b.name()) == kept["body"].as_str());
    let spec = RideSpec {
        occupant_kg: number("occupant_kg"),
        seconds: number("seconds"),
        skip_s: number("skipped_s"),
        body: body.unwrap_or(BodyKind::TwoMass),
        ..RideSpec::on(FloorSpec {
            level: kept["floor"]["level"].as_f64().unwrap_or(f64::NAN),
            seed: row["seed"].as_u64().unwrap_or(0),
            ..FloorSpec::named(kept["floor"]["name"].as_str().unwrap_or_default())
        })
    };
    (row["name"].as_str().unwrap_or_default().to_owned(), spec)
}
