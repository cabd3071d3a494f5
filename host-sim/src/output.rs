//! Result files that appear whole or not at all.
//!
//! Everything is written under a temporary name beside its target and renamed
//! at the end. What is dropped before that, by an error or an interruption,
//! leaves nothing behind. Earlier results of becalm are replaced; files that
//! becalm did not write are never touched:
//!
//! - a folder may be used when it holds none of the files to be written, or
//!   when its record (the last of the files, JSON) says that becalm made it;
//! - a single trace may replace a file only when that begins as a trace does.

use serde::Serialize;
use std::fs::{self, File};
use std::io::Read;
use std::path::{Path, PathBuf};

/// What the record of a folder says under `made_by`.
pub const MADE_BY: &str = concat!("becalm ", env!("CARGO_PKG_VERSION"));

/// Why a result cannot be written.
#[derive(Debug, thiserror::Error)]
pub enum OutputError {
    /// The system refused.
    #[error(
        "{}: cannot be written: {source}: expected a place that can be written; \
         give another with {option}", path.display()
    )]
    Write {
        /// Where.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
        /// The option that names the place.
        option: &'static str,
    },
    /// A file is in the way.
    #[error(
        "{}: is there already and was not made by becalm: expected no such file; nothing was \
         overwritten; move it away or give another place with {option}", path.display()
    )]
    NotOurs {
        /// The file.
        path: PathBuf,
        /// The option that names the place.
        option: &'static str,
    },
    /// The result would replace what the run reads.
    #[error(
        "{}: is the recording that this run reads: expected another place with {option}",
        path.display()
    )]
    Input {
        /// The file.
        path: PathBuf,
        /// The option that names the place.
        option: &'static str,
    },
}

/// A temporary name that no other process uses.
fn unfinished(name: &str) -> String {
    format!(".{name}.unfinished-{}", std::process::id())
}

fn same_file(a: &Path, b: &Path) -> bool {
    matches!((a.canonicalize(), b.canonicalize()), (Ok(a), Ok(b)) if a == b)
}

/// A folder of results on its way.
#[derive(Debug)]
pub struct ResultFolder {
    path: PathBuf,
    staging: PathBuf,
    /// Folders that were made for it, outermost first.
    made: Vec<PathBuf>,
    files: &'static [&'static str],
    published: bool,
}

impl ResultFolder {
    /// Makes the folder if need be. `files` are all that may be written to it, the
    /// JSON record last; `input` is a file that must not be replaced.
    ///
    /// # Errors
    /// [`OutputError`]: the folder cannot be made, or something of that name is
    /// there and was not made by becalm.
    pub fn claim(
        path: &Path,
        files: &'static [&'static str],
        input: Option<&Path>,
    ) -> Result<Self, OutputError> {
        let option = "--out";
        let write = |path: &Path| {
            let path = path.to_owned();
            move |source| OutputError::Write {
                path,
                source,
                option,
            }
        };
        let ours = files.last().is_some_and(|name| is_record(&path.join(name)));
        for name in files {
            let file = path.join(name);
            if input.is_some_and(|input| same_file(&file, input)) {
                return Err(OutputError::Input { path: file, option });
            }
            if file.symlink_metadata().is_ok() && !ours {
                return Err(OutputError::NotOurs { path: file, option });
            }
        }
        let mut folder = Self {
            path: path.to_owned(),
            staging: path.join(unfinished("becalm")),
            made: Vec::new(),
            files,
            published: false,
        };
        let missing: Vec<&Path> = path
            .ancestors()
            .filter(|p| !p.as_os_str().is_empty())
            .take_while(|p| !p.exists())
            .collect();
        for part in missing
            .into_iter()
            .rev()
            .chain([folder.staging.clone().as_path()])
        {
            fs::create_dir(part).map_err(write(part))?;
            folder.made.push(part.to_owned());
        }
        Ok(folder)
    }

    /// The folder to write into.
    #[must_use]
    pub fn staging(&self) -> &Path {
        &self.staging
    }

    /// Where the results will be.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// An error about a file in the folder, under its final name.
    #[must_use]
    pub fn error(&self, name: &str, source: std::io::Error) -> OutputError {
        OutputError::Write {
            path: self.path.join(name),
            source,
            option: "--out",
        }
    }

    /// Writes one whole file.
    ///
    /// # Errors
    /// When the system refuses.
    pub fn write(&self, name: &str, text: &str) -> Result<(), OutputError> {
        fs::write(self.staging.join(name), text).map_err(|e| self.error(name, e))
    }

    /// Writes a value as a whole JSON file that ends with a line end.
    ///
    /// # Errors
    /// When the system refuses, or the value cannot be JSON.
    pub fn write_json(&self, name: &str, value: &impl Serialize) -> Result<(), OutputError> {
        let text = serde_json::to_string_pretty(value).map_err(|e| self.error(name, e.into()))?;
        self.write(name, &(text + "\n"))
    }

    /// One line that says where the results are, and which files were written until now.
    #[must_use]
    pub fn written(&self) -> String {
        let files: Vec<&str> = self
            .files
            .iter()
            .copied()
            .filter(|name| self.staging.join(name).exists())
            .collect();
        format!("Written: {} ({})\n", self.path.display(), files.join(", "))
    }

    /// Gives all files their names. Files of an earlier run that this one did not
    /// write are removed; the record comes last.
    ///
    /// # Errors
    /// When the system refuses.
    pub fn publish(mut self) -> Result<(), OutputError> {
        for name in self.files {
            let (from, to) = (self.staging.join(name), self.path.join(name));
            let done = if from.exists() {
                fs::rename(&from, &to)
            } else if to.exists() {
                fs::remove_file(&to)
            } else {
                Ok(())
            };
            done.map_err(|e| self.error(name, e))?;
        }
        self.published = true;
        Ok(())
    }
}

impl Drop for ResultFolder {
    fn drop(&mut self) {
        // Nothing better can be done about a folder that cannot be removed.
        if self.made.last() == Some(&self.staging) {
            let _ = fs::remove_dir_all(&self.staging);
            self.made.pop();
        }
        if !self.published {
            for part in self.made.iter().rev() {
                let _ = fs::remove_dir(part);
            }
        }
    }
}

/// Whether `path` is a JSON object that becalm made.
fn is_record(path: &Path) -> bool {
    let Ok(text) = fs::read_to_string(path) else {
        return false;
    };
    serde_json::from_str::<serde_json::Value>(&text).is_ok_and(|record| {
        record["made_by"]
            .as_str()
            .is_some_and(|by| by.starts_with("becalm "))
    })
}

/// One file on its way.
#[derive(Debug)]
pub struct ResultFile {
    path: PathBuf,
    option: &'static str,
    staging: PathBuf,
}

impl ResultFile {
    /// Opens a temporary file beside `path`, which `option` named. A file of that name may be replaced
    /// only if it begins with `opening`.
    ///
    /// # Errors
    /// [`OutputError`]: it cannot be made, or another file is in the way.
    pub fn claim(
        path: &Path,
        opening: &str,
        option: &'static str,
        input: Option<&Path>,
    ) -> Result<(Self, File), OutputError> {
        // Through a link, so that the file is replaced and not the link.
        let path = path.canonicalize().unwrap_or_else(|_| path.to_owned());
        if input.is_some_and(|input| same_file(&path, input)) {
            return Err(OutputError::Input { path, option });
        }
        if path.symlink_metadata().is_ok() && !begins_with(&path, opening) {
            return Err(OutputError::NotOurs { path, option });
        }
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        let staging = path.with_file_name(unfinished(&name));
        match File::create_new(&staging) {
            Ok(file) => Ok((
                Self {
                    path,
                    option,
                    staging,
                },
                file,
            )),
            Err(source) => Err(OutputError::Write {
                path,
                source,
                option,
            }),
        }
    }

    /// Where the result will be.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// An error about the file.
    #[must_use]
    pub fn error(&self, source: std::io::Error) -> OutputError {
        OutputError::Write {
            path: self.path.clone(),
            source,
            option: self.option,
        }
    }

    /// Gives the file its name.
    ///
    /// # Errors
    /// When the system refuses.
    pub fn publish(self) -> Result<(), OutputError> {
        fs::rename(&self.staging, &self.path).map_err(|e| self.error(e))
    }
}

impl Drop for ResultFile {
    fn drop(&mut self) {
        // Gone already after `publish`.
        let _ = fs::remove_file(&self.staging);
    }
}

/// Whether a plain file begins with `opening`.
fn begins_with(path: &Path, opening: &str) -> bool {
    if !path.is_file() {
        return false;
    }
    let mut start = vec![0; opening.len()];
    File::open(path)
        .and_then(|mut file| file.read_exact(&mut start))
        .is_ok()
        && start == opening.as_bytes()
}
