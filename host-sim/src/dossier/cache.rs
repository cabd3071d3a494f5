//! Finished stages, kept so that an interrupted dossier can be taken up again.
//!
//! A stage is known again only for the same program to the byte, the same plan, rig and limits and, for the emulated cores,
//! the same images and emulator. Files of the cache may be removed at any time.

use super::plan::Plan;
use super::run::{DossierError, Stage};
use crate::cores::{self, BoardKind};
use crate::limits::sources::hex;
use crate::output::{MADE_BY, OutputError};
use crate::rig::Rig;
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use std::path::{Path, PathBuf};

/// A folder of finished stages.
#[derive(Clone, Debug)]
pub struct Cache {
    folder: PathBuf,
    key: String,
}

impl Cache {
    /// The cache in `folder` for this program, this plan and this rig.
    ///
    /// # Errors
    /// A program or rig that cannot be read.
    pub fn open(folder: &Path, plan: &Plan, rig: &Rig) -> Result<Self, DossierError> {
        let program = std::env::current_exe().and_then(std::fs::read);
        let program = program
            .map_err(|e| DossierError::NotOne(format!("this program cannot be read: {e}")))?;
        let rig = serde_json::to_vec(rig)?;
        let mut hash = Sha256::new();
        for part in [&program, &rig, &serde_json::to_vec(plan)?] {
            hash.update((part.len() as u64).to_le_bytes());
            hash.update(part);
        }
        Ok(Self {
            folder: folder.to_owned(),
            key: hex(&hash.finalize()),
        })
    }

    /// The key of a stage.
    fn key_of(&self, stage: Stage) -> String {
        let mut hash = Sha256::new();
        hash.update(&self.key);
        hash.update(stage.name());
        if matches!(stage, Stage::Timing | Stage::Parity) {
            hash.update(cores::emulator_version().unwrap_or_default());
            let images = cores::images();
            for board in BoardKind::ALL {
                for name in ["port", "bench", "batch", "recorder"] {
                    hash.update(std::fs::read(board.image(&images, name)).unwrap_or_default());
                }
            }
        }
        hex(&hash.finalize())
    }

    fn path(&self, stage: Stage) -> PathBuf {
        self.folder.join(stage.file())
    }

    /// The raw data of a stage, when it is kept under the same key.
    #[must_use]
    pub fn known(&self, stage: Stage) -> Option<Value> {
        let text = std::fs::read_to_string(self.path(stage)).ok()?;
        let mut kept: Value = serde_json::from_str(&text).ok()?;
        (kept["key"].as_str() == Some(&self.key_of(stage))).then(|| kept["data"].take())
    }

    /// Keeps the raw data of a stage.
    ///
    /// # Errors
    /// A folder that cannot be written to.
    pub fn keep(&self, stage: Stage, data: &Value) -> Result<(), DossierError> {
        let text = serde_json::to_string(
            &json!({ "made_by": MADE_BY, "key": self.key_of(stage), "data": data }),
        )?;
        let path = self.path(stage);
        // Written beside and renamed: a file that is there is whole.
        let beside = path.with_extension("unfinished");
        let written = std::fs::create_dir_all(&self.folder)
            .and_then(|()| std::fs::write(&beside, text))
            .and_then(|()| std::fs::rename(&beside, &path));
        written.map_err(|source| {
            DossierError::Output(OutputError::Write {
                path,
                source,
                option: "--cache",
            })
        })
    }
}
