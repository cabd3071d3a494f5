//! A dossier looked at again: checksums, every figure from its raw data, every verdict from the figures, and a sample of
//! the raw data ridden anew.

use super::checksums;
use super::record::{Dossier, VERSION, figures, judge};
use super::run::{Bench, DossierError, Stage};
use crate::floor::FloorSpec;
use crate::limits::{self, Register};
use crate::ride::{self, RideSpec};
use serde_json::Value;
use std::path::Path;

/// What was looked at, and what does not agree.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Checked {
    /// Files whose checksum agrees or not.
    pub files: usize,
    /// Figures worked out again from raw data.
    pub figures: usize,
    /// Verdicts given again.
    pub verdicts: usize,
    /// Rides ridden again.
    pub rides: usize,
    /// What does not agree, each with file and what was expected.
    pub wrong: Vec<String>,
}

/// Reads the record of a dossier: a folder, or its `dossier.json`.
///
/// # Errors
/// A file that cannot be read or is no dossier of this version.
pub fn read(path: &Path) -> Result<Dossier, DossierError> {
    let file = if path.is_dir() {
        path.join("dossier.json")
    } else {
        path.to_owned()
    };
    let expected =
        "expected a dossier: a folder that `becalm dossier` has written, or its dossier.json";
    let text = std::fs::read_to_string(&file).map_err(|e| {
        DossierError::NotOne(format!(
            "{}: cannot be read: {e}: {expected}",
            file.display()
        ))
    })?;
    let value: Value = serde_json::from_str(&text).map_err(|e| {
        DossierError::NotOne(format!(
            "{}:{}:{}: {e}: {expected}",
            file.display(),
            e.line(),
            e.column()
        ))
    })?;
    if value["version"].as_u64() != Some(u64::from(VERSION)) {
        return Err(DossierError::NotOne(format!(
            "{}: version: {}: expected {VERSION}, the version of the record that this becalm reads",
            file.display(),
            value["version"]
        )));
    }
    serde_json::from_value(value)
        .map_err(|e| DossierError::NotOne(format!("{}: {e}: {expected}", file.display())))
}

/// Looks at the dossier in `folder` again. `rides` rides are ridden anew with the bench's rig.
///
/// # Errors
/// No dossier, raw data that cannot be read, or an interruption.
pub fn check(folder: &Path, bench: &Bench<'_>, rides: usize) -> Result<Checked, DossierError> {
    let dossier = read(folder)?;
    let mut checked = Checked {
        wrong: checksums::check(folder).map_err(DossierError::NotOne)?,
        files: std::fs::read_to_string(folder.join(checksums::FILE))
            .unwrap_or_default()
            .lines()
            .count(),
        ..Checked::default()
    };
    let mut again = Vec::new();
    for stage in Stage::ALL {
        if dossier.not_run.iter().any(|n| n.what == stage.name()) {
            continue;
        }
        let path = folder.join(stage.file());
        let text = std::fs::read_to_string(&path).unwrap_or_default();
        let Ok(data) = serde_json::from_str::<Value>(&text) else {
            checked.wrong.push(format!(
                "{}: expected the raw data of the stage {}",
                stage.file(),
                stage.name()
            ));
            continue;
        };
        again.extend(figures(stage, &data));
        if stage == Stage::Rides {
            ride_again(bench, &data, rides, &mut checked)?;
        }
    }
    checked.figures = again.len();
    if again.len() != dossier.figures.len() {
        checked.wrong.push(format!(
            "dossier.json: {} figures: expected {}, as the raw data give",
            dossier.figures.len(),
            again.len()
        ));
    }
    for figure in &again {
        match dossier.figure(&figure.id) {
            Some(known) if known == figure => {}
            Some(known) => checked.wrong.push(format!(
                "dossier.json: figure {}: {:?}: expected {:?}, as {} gives",
                figure.id, known.value, figure.value, figure.evidence
            )),
            None => checked.wrong.push(format!(
                "dossier.json: figure {}: missing: expected {:?}",
                figure.id, figure.value
            )),
        }
    }
    verdicts(&dossier, bench, &mut checked)?;
    Ok(checked)
}

/// Every verdict again, from the figures of the dossier and the register of this program with the dossier's rig.
fn verdicts(
    dossier: &Dossier,
    bench: &Bench<'_>,
    checked: &mut Checked,
) -> Result<(), DossierError> {
    let register: Register =
        limits::of_rig(&limits::register(), bench.rig).map_err(DossierError::Plan)?;
    checked.verdicts = register.limits.len();
    for limit in &register.limits {
        let again = judge(limit, &dossier.figures, &dossier.not_run);
        match dossier.verdicts.iter().find(|v| v.limit == limit.id) {
            Some(known)
                if known.verdict == again.verdict
                    && known.value == again.value
                    && known.measured == again.measured => {}
            Some(known) => checked.wrong.push(format!(
                "dossier.json: limit {}: {} at {:?} of {}: expected {} at {:?} of {}",
                limit.id,
                known.verdict.words(),
                known.measured,
                known.value,
                again.verdict.words(),
                again.measured,
                again.value
            )),
            None => checked.wrong.push(format!(
                "dossier.json: limit {}: missing: expected a verdict on every limit",
                limit.id
            )),
        }
    }
    Ok(())
}

/// Rides a few of the recorded rides anew, spread over all of them.
fn ride_again(
    bench: &Bench<'_>,
    data: &Value,
    rides: usize,
    checked: &mut Checked,
) -> Result<(), DossierError> {
    let rows = data["rides"].as_array().map_or(&[][..], Vec::as_slice);
    let step = (rows.len() / rides.max(1)).max(1);
    for row in rows.iter().step_by(step).take(rides) {
        let kept = &row["summary"];
        let number = |name: &str| kept[name].as_f64().unwrap_or(f64::NAN);
        let body = crate::body::BodyKind::ALL
            .into_iter()
            .find(|b| Some(b.name()) == kept["body"].as_str());
        let spec = RideSpec {
            occupant_kg: number("occupant_kg"),
            seconds: number("seconds"),
            skip_s: number("skipped_s"),
            body: body.unwrap_or(crate::body::BodyKind::TwoMass),
            ..RideSpec::on(FloorSpec {
                level: kept["floor"]["level"].as_f64().unwrap_or(f64::NAN),
                seed: row["seed"].as_u64().unwrap_or(0),
                ..FloorSpec::named(kept["floor"]["name"].as_str().unwrap_or_default())
            })
        };
        let mut again = serde_json::to_value(ride::run(bench.rig, &spec, |_| !(bench.stop)())?)?;
        if let Some(object) = again.as_object_mut() {
            object.remove("real_time_factor");
        }
        checked.rides += 1;
        if again != *kept {
            let command = row["command"].as_str().unwrap_or_default();
            checked.wrong.push(format!(
                "{}: {command}: SEAT value {} and peak {} m/s2: expected {} and {}, as ridden again",
                Stage::Rides.file(), kept["seat_value"], kept["seat"]["peak_mps2"], again["seat_value"], again["seat"]["peak_mps2"]
            ));
        }
    }
    Ok(())
}
