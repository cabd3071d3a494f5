//! Finished cases in a file, one JSON line each, so that a campaign can be taken up again.
//!
//! The first line holds the key: a digest of the rig and of whatever else decides the figures. Under another key the file
//! is begun anew. A last line that was cut off is left out.

use super::alarm::AlarmFigures;
use super::case::CaseFigures;
use crate::output::{MADE_BY, OutputError, ResultFile};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fs::{File, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

/// One finished item.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Finished {
    /// A case.
    Case(Box<CaseFigures>),
    /// A healthy ride.
    Healthy(AlarmFigures),
}

impl Finished {
    /// What tells it from others.
    #[must_use]
    pub fn id(&self) -> &str {
        match self {
            Self::Case(case) => &case.id,
            Self::Healthy(ride) => &ride.id,
        }
    }
}

/// First line of the file.
#[derive(Serialize, Deserialize)]
struct Head {
    made_by: String,
    key: String,
}

/// 64-bit FNV-1a over some bytes, going on from `digest`.
#[must_use]
pub fn digest(digest: u64, bytes: &[u8]) -> u64 {
    bytes.iter().fold(digest, |h, b| {
        (h ^ u64::from(*b)).wrapping_mul(0x0100_0000_01b3)
    })
}

/// Where a digest begins.
pub const DIGEST: u64 = 0xcbf2_9ce4_8422_2325;

/// The file, open to be added to.
#[derive(Debug)]
pub struct Keeper {
    path: PathBuf,
    key: String,
    file: Mutex<File>,
    known: BTreeMap<String, Finished>,
}

impl Keeper {
    /// Opens the file at `path`, and reads what is in it under the same key.
    ///
    /// # Errors
    /// A file of that name that becalm did not make; what the system says.
    pub fn open(path: &Path, key: u64) -> Result<Self, OutputError> {
        let key = format!("{key:016x}");
        let opening = "{\"made_by\":\"becalm ";
        let text = std::fs::read_to_string(path).unwrap_or_default();
        let mut lines = text.lines();
        let head = lines
            .next()
            .and_then(|l| serde_json::from_str::<Head>(l).ok());
        let known = match head {
            Some(head) if head.key == key && head.made_by == MADE_BY => lines
                .filter_map(|line| serde_json::from_str::<Finished>(line).ok())
                .map(|item| (item.id().to_owned(), item))
                .collect(),
            _ => BTreeMap::new(),
        };
        // Written anew at once: without what was cut off, or under the new key.
        let (place, file) = ResultFile::claim(path, opening, "--out", None)?;
        write(file, &key, &known).map_err(|e| place.error(e))?;
        place.publish()?;
        let file = OpenOptions::new()
            .append(true)
            .open(path)
            .map_err(|source| OutputError::Write {
                path: path.to_owned(),
                source,
                option: "--out",
            })?;
        Ok(Self {
            path: path.to_owned(),
            key,
            file: Mutex::new(file),
            known,
        })
    }

    /// What was finished before.
    #[must_use]
    pub fn known(&self, id: &str) -> Option<&Finished> {
        self.known.get(id)
    }

    /// How many items were finished before.
    #[must_use]
    pub fn count(&self) -> usize {
        self.known.len()
    }

    /// Adds an item, whole.
    ///
    /// # Errors
    /// What the system says.
    pub fn add(&self, item: &Finished) -> Result<(), OutputError> {
        let line = serde_json::to_string(item).map_err(io::Error::from);
        let mut file = self.file.lock().unwrap_or_else(PoisonError::into_inner);
        line.and_then(|line| file.write_all((line + "\n").as_bytes()))
            .map_err(|source| OutputError::Write {
                path: self.path.clone(),
                source,
                option: "--out",
            })
    }

    /// Puts the lines in the order of their names, so that the file does not tell which thread was faster.
    ///
    /// # Errors
    /// What the system says.
    pub fn sort(self) -> Result<(), OutputError> {
        let key = self.key;
        let Ok(key) = u64::from_str_radix(&key, 16) else {
            return Ok(());
        };
        Self::open(&self.path, key).map(drop)
    }
}

fn write(mut file: File, key: &str, known: &BTreeMap<String, Finished>) -> io::Result<()> {
    let head = Head {
        made_by: MADE_BY.to_owned(),
        key: key.to_owned(),
    };
    let mut text = serde_json::to_string(&head)? + "\n";
    for item in known.values() {
        text += &(serde_json::to_string(item)? + "\n");
    }
    file.write_all(text.as_bytes())
}
