//! Recorded frames and answers of a ride, so that it can be replayed bit for bit.
//!
//! Little-endian. A head of 32 bytes: `BECALMFR`, version (u16, 1), arithmetic (u8: 0 f32, 1 f64, 2 fixed),
//! zero (u8), control period (f32, s), CRC-32 of the parameter table (u32, as on the link), number of steps
//! (u64), CRC-32 of the head so far (u32). Then for each step the sensor frame (16 bytes) and the
//! drive frame (8 bytes), and at the end the CRC-32 of all steps (u32).

use crate::ride::Arithmetic;
use firmware::link::{crc32, parameters_crc};
use firmware::{DriveFrame, Parameters, SensorFrame};
use std::io;
use std::path::{Path, PathBuf};

const VERSION: u16 = 1;
const HEAD: usize = 32;
const STEP: usize = SensorFrame::BYTES + DriveFrame::BYTES;

/// Frames and answers, in order.
#[derive(Clone, Debug, PartialEq)]
pub struct FrameFile {
    /// Arithmetic of the law that answered.
    pub arithmetic: Arithmetic,
    /// Control period, s.
    pub step_s: f32,
    /// Checksum of its parameter table.
    pub parameters: u32,
    /// What the sensors gave and what the law answered.
    pub steps: Vec<(SensorFrame, DriveFrame)>,
}

/// Why a file cannot be replayed.
#[derive(Debug, thiserror::Error)]
pub enum FrameFileError {
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
        "{path}: not a file of recorded frames: it should begin with BECALMFR (`becalm ride --record FILE` writes one)"
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
    #[error("{path}: {found} bytes; its head announces {steps} steps, which take {expected} bytes")]
    Length {
        /// The file.
        path: PathBuf,
        /// Its size.
        found: usize,
        /// Steps announced.
        steps: u64,
        /// The size they take.
        expected: u64,
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
    /// A value of the head.
    #[error("{path}: the head's {field} is {found}; expected {expected}")]
    Head {
        /// The file.
        path: PathBuf,
        /// Which value.
        field: &'static str,
        /// The value.
        found: String,
        /// What was expected.
        expected: &'static str,
    },
    /// Recorded with other parameters.
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
}

impl FrameFile {
    /// How every such file begins.
    pub const OPENING: &str = "BECALMFR";

    /// An empty recording of a law with these parameters.
    #[must_use]
    pub fn new(arithmetic: Arithmetic, parameters: &Parameters) -> Self {
        Self {
            arithmetic,
            step_s: parameters.timing.step_s,
            parameters: parameters_crc(parameters),
            steps: Vec::new(),
        }
    }

    /// The bytes of the file.
    #[must_use]
    pub fn to_bytes(&self) -> Vec<u8> {
        let code = Arithmetic::ALL.iter().position(|a| *a == self.arithmetic);
        let mut bytes = Self::OPENING.as_bytes().to_vec();
        bytes.extend(VERSION.to_le_bytes());
        bytes.extend([code.unwrap_or(0) as u8, 0]);
        bytes.extend(self.step_s.to_le_bytes());
        bytes.extend(self.parameters.to_le_bytes());
        bytes.extend((self.steps.len() as u64).to_le_bytes());
        bytes.extend(crc32(&bytes).to_le_bytes());
        for (frame, drive) in &self.steps {
            bytes.extend(frame.to_bytes());
            bytes.extend(drive.to_bytes());
        }
        bytes.extend(crc32(&bytes[HEAD..]).to_le_bytes());
        bytes
    }

    /// Reads a file, and checks that it is whole.
    ///
    /// # Errors
    /// As [`FrameFileError`] says.
    pub fn read(path: &Path) -> Result<Self, FrameFileError> {
        let bytes = std::fs::read(path).map_err(|source| FrameFileError::Read {
            path: path.to_owned(),
            source,
        })?;
        Self::from_bytes(&bytes, path)
    }

    /// The recording in `bytes`; `path` is for messages.
    ///
    /// # Errors
    /// As [`FrameFileError`] says.
    pub fn from_bytes(bytes: &[u8], path: &Path) -> Result<Self, FrameFileError> {
        let path = || path.to_owned();
        let other = || FrameFileError::Other { path: path() };
        let rest = bytes
            .strip_prefix(Self::OPENING.as_bytes())
            .ok_or_else(other)?;
        let (version, _) = rest.split_first_chunk().ok_or_else(other)?;
        let version = u16::from_le_bytes(*version);
        if version != VERSION {
            return Err(FrameFileError::Version {
                path: path(),
                found: version,
            });
        }
        let short = |steps: u64| FrameFileError::Length {
            path: path(),
            found: bytes.len(),
            steps,
            expected: steps
                .saturating_mul(STEP as u64)
                .saturating_add(HEAD as u64 + 4),
        };
        let (head, body) = bytes.split_first_chunk::<HEAD>().ok_or_else(|| short(0))?;
        let word = |at: usize| {
            let mut word = [0; 4];
            word.copy_from_slice(&head[at..at + 4]);
            u32::from_le_bytes(word)
        };
        let check = |part, data: &[u8], expected| {
            let found = crc32(data);
            if found == expected {
                return Ok(());
            }
            Err(FrameFileError::Checksum {
                path: path(),
                part,
                found,
                expected,
            })
        };
        check("head", &head[..HEAD - 4], word(HEAD - 4))?;
        let code = head[10];
        let arithmetic = Arithmetic::ALL.get(usize::from(code));
        let arithmetic = *arithmetic.ok_or_else(|| FrameFileError::Head {
            path: path(),
            field: "arithmetic",
            found: code.to_string(),
            expected: "0 to 2",
        })?;
        let step_s = f32::from_bits(word(12));
        let count = u64::from(word(20)) | u64::from(word(24)) << 32;
        let (steps, rest) = body.as_chunks::<STEP>();
        let sum: &[u8; 4] = rest.try_into().map_err(|_| short(count))?;
        if steps.len() as u64 != count {
            return Err(short(count));
        }
        check("steps", steps.as_flattened(), u32::from_le_bytes(*sum))?;
        let step = |bytes: &[u8; STEP]| {
            let (mut frame, mut drive) = ([0; SensorFrame::BYTES], [0; DriveFrame::BYTES]);
            frame.copy_from_slice(&bytes[..SensorFrame::BYTES]);
            drive.copy_from_slice(&bytes[SensorFrame::BYTES..]);
            (
                SensorFrame::from_bytes(frame),
                DriveFrame::from_bytes(drive),
            )
        };
        Ok(Self {
            arithmetic,
            step_s,
            parameters: word(16),
            steps: steps.iter().map(step).collect(),
        })
    }

    /// Whether it was recorded with these parameters.
    ///
    /// # Errors
    /// Both checksums.
    pub fn check(&self, parameters: &Parameters, path: &Path) -> Result<(), FrameFileError> {
        let rig = parameters_crc(parameters);
        if rig == self.parameters {
            return Ok(());
        }
        Err(FrameFileError::Parameters {
            path: path.to_owned(),
            file: self.parameters,
            rig,
        })
    }

    /// CRC-32 of all answers: the digest by which two cores are compared.
    #[must_use]
    pub fn digest(&self) -> u32 {
        let bytes: Vec<u8> = self.steps.iter().flat_map(|s| s.1.to_bytes()).collect();
        crc32(&bytes)
    }
}
