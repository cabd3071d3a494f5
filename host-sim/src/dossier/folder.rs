//! The folder of a dossier, written whole or not at all.

use super::checksums;
use super::junit::junit;
use super::page::page;
use super::record::Dossier;
use super::run::{DossierError, Outcome, Stage};
use super::watched::Watched;
use crate::output::{OutputError, ResultFile, ResultFolder};
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
    rides: &[Watched],
) -> Result<String, DossierError> {
    for (stage, outcome) in stages {
        if let Outcome::Ran(data) = outcome {
            folder.write(stage.file(), &(serde_json::to_string(data)? + "\n"))?;
        }
    }
    folder.write("dossier.html", &page(dossier, rides)?)?;
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
