//! Why a file of a flight recorder cannot be replayed.

use super::file::VERSION;
use std::io;
use std::path::PathBuf;

/// Why a file cannot be replayed.
#[derive(Debug, thiserror::Error)]
pub enum FlightError {
    /// The file cannot be read.
    #[error("{path}: {source}")]
    Read {
        /// The file.
        path: PathBuf,
        /// The system's reason.
        source: io::Error,
    },
    /// It is something else.
    #[error(
        "{path}: not a recording of a flight recorder: it should begin with BECALMRC (`becalm readout` and `becalm ride --recorder FILE` write one)"
    )]
    Other {
        /// The file.
        path: PathBuf,
    },
    /// Another version.
    #[error("{path}: version {found} of the format; this becalm reads version {VERSION}")]
    Version {
        /// The file.
        path: PathBuf,
        /// Its version.
        found: u16,
    },
    /// Cut short, or longer than it says.
    #[error("{path}: {found} bytes; expected {expected}, as its head says")]
    Length {
        /// The file.
        path: PathBuf,
        /// Its size.
        found: usize,
        /// The size that it should have.
        expected: usize,
    },
    /// Damaged.
    #[error("{path}: damaged: the checksum of the {part} is {found:08x}, expected {expected:08x}")]
    Checksum {
        /// The file.
        path: PathBuf,
        /// Which part.
        part: &'static str,
        /// The checksum of what is there.
        found: u32,
        /// The checksum that was written.
        expected: u32,
    },
    /// A value that no recorder writes.
    #[error("{path}: {field} is {found}; expected {expected}")]
    Value {
        /// The file, or where the recording comes from.
        path: PathBuf,
        /// Which value.
        field: String,
        /// The value.
        found: u32,
        /// What was expected.
        expected: String,
    },
    /// Made by a controller with other parameters.
    #[error(
        "{path}: recorded with other parameters (checksum {file:08x}) than this rig's ({rig:08x}); give the rig that it was recorded with"
    )]
    Parameters {
        /// The file.
        path: PathBuf,
        /// Its checksum.
        file: u32,
        /// The rig's.
        rig: u32,
    },
    /// Made by a controller with other constants.
    #[error(
        "{path}: the recorded controller's constants (checksum {file:08x}) are not those that this firmware makes of the rig ({here:08x}); replay it with the firmware that it was recorded with"
    )]
    Constants {
        /// The file.
        path: PathBuf,
        /// Its checksum.
        file: u32,
        /// This firmware's.
        here: u32,
    },
    /// The rig's parameters.
    #[error("rig section firmware: {0}")]
    Build(#[from] firmware::BuildError),
}
