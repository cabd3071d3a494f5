//! The folder of a dossier, written whole or not at all.

use super::checksums;
use super::junit::junit;
use super::page::page;
use super::plan::Plan;
use super::record::Dossier;
use super::rides::floor_specs;
use super::run::{Bench, DossierError, Outcome, Stage};
use crate::output::{OutputError, ResultFile, ResultFolder};
use crate::player::Recorder;
use crate::ride::{self, RideSpec};
use std::fs::File;
use std::io::Write;
use std::path::Path;

/// All files that a dossier may have, the record last.
pub const FILES: [&str; 18] = [
    "dossier.html",
    "junit.xml",
    "rides.json",
    "events.json",
    "seated.json",
    "sweep.json",
    "headroom.json",
    "commission.json",
    "certificate.json",
    "margins.json",
    "modes.json",
    "hunt.json",
    "faults.json",
    "bitflips.json",
    "timing.json",
    "parity.json",
    checksums::FILE,
    "dossier.json",
];

/// The page of the roughest of the dossier's rides up to level 2.5, to be looked at.
///
/// # Errors
/// A ride or page that cannot be made.
pub fn ride_page(bench: &Bench<'_>, plan: &Plan) -> Result<String, DossierError> {
    page_of(bench, &floor_specs(&plan.rides))
}

/// The page of the roughest of these rides up to level 2.5.
pub(super) fn page_of(
    bench: &Bench<'_>,
    specs: &[(String, RideSpec)],
) -> Result<String, DossierError> {
    let usual = specs
        .iter()
        .filter(|(_, spec)| spec.floor.level <= 2.5 && spec.occupant_kg == 80.0);
    let roughest = usual.reduce(|a, b| {
        if b.1.floor.level > a.1.floor.level {
            b
        } else {
            a
        }
    });
    let (_, spec) = roughest.ok_or_else(|| {
        DossierError::Plan("rides: none: expected at least one floor, level and seed".to_owned())
    })?;
    let mut recorder = Recorder::new(bench.rig, spec)?;
    let summary = ride::run(bench.rig, spec, |s| {
        recorder.push(s);
        !(bench.stop)()
    })?;
    Ok(recorder.page_alone(&summary)?)
}

/// The folder at `path`, to be written to when all has been run.
///
/// # Errors
/// A place that cannot be written to, or files that becalm did not make.
pub fn claim(path: &Path) -> Result<ResultFolder, OutputError> {
    ResultFolder::claim(path, &FILES, None)
}

/// Writes the folder and gives back one line that says what was written.
///
/// # Errors
/// A file that cannot be written.
pub fn write(
    folder: ResultFolder,
    dossier: &Dossier,
    stages: &[(Stage, Outcome)],
    ride: &str,
) -> Result<String, DossierError> {
    for (stage, outcome) in stages {
        if let Outcome::Ran(data) = outcome {
            folder.write(stage.file(), &(serde_json::to_string(data)? + "\n"))?;
        }
    }
    folder.write("dossier.html", &page(dossier, ride)?)?;
    folder.write("junit.xml", &junit(dossier))?;
    folder.write_json("dossier.json", dossier)?;
    let mut sums = String::new();
    for name in FILES.iter().filter(|name| **name != checksums::FILE) {
        match std::fs::read(folder.staging().join(name)) {
            Ok(bytes) => sums += &checksums::line(name, &bytes),
            // Of a stage that was not run.
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => {}
            Err(e) => return Err(folder.error(name, e).into()),
        }
    }
    folder.write(checksums::FILE, &sums)?;
    let written = folder.written();
    folder.publish()?;
    Ok(written)
}

/// A committed record, to be replaced when all has been run.
#[derive(Debug)]
pub struct Baseline {
    result: ResultFile,
    file: File,
}

impl Baseline {
    /// The record at `path`, which must be a dossier of becalm when it is there.
    ///
    /// # Errors
    /// A file that becalm did not make, or a place that cannot be written to.
    pub fn claim(path: &Path) -> Result<Self, OutputError> {
        if let Some(folder) = path.parent().filter(|p| !p.as_os_str().is_empty()) {
            std::fs::create_dir_all(folder).map_err(|source| OutputError::Write {
                path: folder.to_owned(),
                source,
                option: "--rebase",
            })?;
        }
        let (result, file) = ResultFile::claim(path, OPENING, "--rebase", None)?;
        Ok(Self { result, file })
    }

    /// Puts the record there.
    ///
    /// # Errors
    /// A file that cannot be written.
    pub fn write(mut self, dossier: &Dossier) -> Result<(), DossierError> {
        let text = serde_json::to_string_pretty(dossier)? + "\n";
        self.file
            .write_all(text.as_bytes())
            .map_err(|e| self.result.error(e))?;
        self.result.publish()?;
        Ok(())
    }
}

/// How the record of a dossier begins.
const OPENING: &str = "{\n  \"version\": ";
