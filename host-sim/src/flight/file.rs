//! A recording as it came from the recorder, in a file with checksums.
//!
//! Little-endian. A head of 28 bytes: `BECALMRC`, version (u16, 1), zero (u16), control period (f32, s), CRC-32 of the
//! parameter table (u32, as on the link), bytes of the recording (u32), CRC-32 of the head so far (u32). Then the
//! recording as the recorder gives it (`docs/link.md` has its words), and the CRC-32 of the recording (u32).

use super::error::FlightError;
use crate::ride::Arithmetic;
use firmware::link::{crc32, parameters_crc};
use firmware::{Faults, Parameters, SNAPSHOT_WORDS, SensorFrame};
use std::io::Read as _;
use std::path::{Path, PathBuf};

pub(super) const VERSION: u16 = 1;
const HEAD: usize = 28;
/// Words of a recording before its first block, and of a block before its snapshot.
const IMAGE_HEAD: usize = 8;
const BLOCK_HEAD: usize = 2;
const FRAME_WORDS: usize = SensorFrame::BYTES / 4;
/// More than any recorder has.
const MOST: u32 = 1 << 16;

/// A state of the controller and the frames after it.
#[derive(Clone, Debug, PartialEq)]
pub struct FlightBlock {
    /// The state before the first frame, as [`firmware::Cycle::state_words`].
    pub snapshot: Vec<u32>,
    /// What the sensors gave.
    pub frames: Vec<SensorFrame>,
    /// CRC-32 of the answers.
    pub answers: u32,
}

/// One recording.
#[derive(Clone, Debug, PartialEq)]
pub struct FlightFile {
    /// Control period, s.
    pub step_s: f32,
    /// Checksum of the parameter table.
    pub parameters: u32,
    /// Arithmetic of the law.
    pub arithmetic: Arithmetic,
    /// CRC-32 of the words of the controller's constants.
    pub constants: u32,
    /// Block and place in it of the frame with the first fault.
    pub fault_at: (usize, usize),
    /// Fault bits that were new then.
    pub faults: Faults,
    /// Frames that were given up before the first that is kept.
    pub given_up: u32,
    /// The blocks, oldest first.
    pub blocks: Vec<FlightBlock>,
    image: Vec<u8>,
}

impl FlightFile {
    /// How every such file begins.
    pub const OPENING: &str = "BECALMRC";

    /// The recording in the bytes that a recorder with these parameters gave; `path` says in messages where it comes
    /// from.
    ///
    /// # Errors
    /// As [`FlightError`] says.
    pub fn from_recorder(
        image: Vec<u8>,
        parameters: &Parameters,
        path: &Path,
    ) -> Result<Self, FlightError> {
        let sum = parameters_crc(parameters);
        Self::from_image(image, parameters.timing.step_s, sum, path)
    }

    /// Whether the file begins as one.
    #[must_use]
    pub fn is_one(path: &Path) -> bool {
        let mut start = [0; Self::OPENING.len()];
        let read = std::fs::File::open(path).and_then(|mut file| file.read_exact(&mut start));
        read.is_ok() && start == *Self::OPENING.as_bytes()
    }

    /// Reads a file, and checks that it is whole.
    ///
    /// # Errors
    /// As [`FlightError`] says.
    pub fn read(path: &Path) -> Result<Self, FlightError> {
        let bytes = std::fs::read(path).map_err(|source| FlightError::Read {
            path: path.to_owned(),
            source,
        })?;
        Self::from_bytes(&bytes, path)
    }

    /// The recording in the bytes of a file; `path` is for messages.
    ///
    /// # Errors
    /// As [`FlightError`] says.
    pub fn from_bytes(bytes: &[u8], path: &Path) -> Result<Self, FlightError> {
        let path = || path.to_owned();
        if !bytes.starts_with(Self::OPENING.as_bytes()) {
            return Err(FlightError::Other { path: path() });
        }
        let found = bytes.len();
        let length = |expected| FlightError::Length {
            path: path(),
            found,
            expected,
        };
        let (head, body) = bytes
            .split_first_chunk::<HEAD>()
            .ok_or_else(|| length(HEAD + 4))?;
        let version = u16::from_le_bytes([head[8], head[9]]);
        if version != VERSION {
            return Err(FlightError::Version {
                path: path(),
                found: version,
            });
        }
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
            Err(FlightError::Checksum {
                path: path(),
                part,
                found,
                expected,
            })
        };
        check("head", &head[..HEAD - 4], word(HEAD - 4))?;
        let image_bytes = word(20) as usize;
        let (image, sum) = body
            .split_last_chunk::<4>()
            .filter(|(image, _)| image.len() == image_bytes)
            .ok_or_else(|| length(HEAD + image_bytes + 4))?;
        check("recording", image, u32::from_le_bytes(*sum))?;
        Self::from_image(image.to_vec(), f32::from_bits(word(12)), word(16), &path())
    }

    fn from_image(
        image: Vec<u8>,
        step_s: f32,
        parameters: u32,
        path: &Path,
    ) -> Result<Self, FlightError> {
        let mut words = Words::new(&image, path)?;
        let [
            code,
            constants,
            snapshot,
            count,
            block,
            place,
            faults,
            given_up,
        ] = words.take()?;
        let arithmetic = match code {
            0 => Arithmetic::F32,
            2 => Arithmetic::Fixed,
            _ => return Err(words.wrong("the arithmetic's number", code, "0 (f32) or 2 (fixed)")),
        };
        if snapshot as usize != SNAPSHOT_WORDS {
            let expected = format!("{SNAPSHOT_WORDS}, as this firmware has");
            return Err(words.wrong("the number of words of a snapshot", snapshot, &expected));
        }
        if !(1..=MOST).contains(&count) {
            return Err(words.wrong("the number of blocks", count, "1 to 65536"));
        }
        let mut blocks = Vec::new();
        for n in 0..count {
            let [frames, answers] = words.take()?;
            if frames > MOST {
                let field = format!("the number of frames of block {n}");
                return Err(words.wrong(&field, frames, "0 to 65536"));
            }
            let snapshot = words.next(SNAPSHOT_WORDS)?.to_vec();
            let frames = words.next(FRAME_WORDS * frames as usize)?;
            let (frames, _) = frames.as_chunks::<FRAME_WORDS>();
            blocks.push(FlightBlock {
                snapshot,
                frames: frames.iter().map(frame).collect(),
                answers,
            });
        }
        words.end()?;
        let fault_at = (block as usize, place as usize);
        let Some(marked) = blocks.get(fault_at.0) else {
            return Err(words.wrong("the first fault's block", block, "one of the blocks"));
        };
        if fault_at.1 >= marked.frames.len() {
            return Err(words.wrong("the first fault's frame", place, "one of its block's"));
        }
        Ok(Self {
            step_s,
            parameters,
            arithmetic,
            constants,
            fault_at,
            faults: Faults(faults as u16),
            given_up,
            blocks,
            image,
        })
    }

    /// The bytes of the file.
    #[must_use]
    pub fn to_bytes(&self) -> Vec<u8> {
        let mut bytes = Self::OPENING.as_bytes().to_vec();
        bytes.extend(VERSION.to_le_bytes());
        bytes.extend([0, 0]);
        bytes.extend(self.step_s.to_le_bytes());
        bytes.extend(self.parameters.to_le_bytes());
        bytes.extend((self.image.len() as u32).to_le_bytes());
        bytes.extend(crc32(&bytes).to_le_bytes());
        bytes.extend(&self.image);
        bytes.extend(crc32(&self.image).to_le_bytes());
        bytes
    }

    /// Frames of all blocks.
    #[must_use]
    pub fn frames(&self) -> usize {
        self.blocks.iter().map(|b| b.frames.len()).sum()
    }

    /// Place of the frame with the first fault among all frames.
    #[must_use]
    pub fn fault_frame(&self) -> usize {
        let before = self.blocks.iter().take(self.fault_at.0);
        before.map(|b| b.frames.len()).sum::<usize>() + self.fault_at.1
    }

    /// Whether it was recorded with these parameters.
    ///
    /// # Errors
    /// Both checksums.
    pub fn check(&self, parameters: &Parameters, path: &Path) -> Result<(), FlightError> {
        let rig = parameters_crc(parameters);
        if rig == self.parameters {
            return Ok(());
        }
        Err(FlightError::Parameters {
            path: path.to_owned(),
            file: self.parameters,
            rig,
        })
    }
}

fn frame(words: &[u32; FRAME_WORDS]) -> SensorFrame {
    let mut bytes = [0; SensorFrame::BYTES];
    for (place, word) in bytes.as_chunks_mut::<4>().0.iter_mut().zip(words) {
        *place = word.to_le_bytes();
    }
    SensorFrame::from_bytes(bytes)
}

/// The words of a recording, taken one after the other.
struct Words {
    all: Vec<u32>,
    taken: usize,
    path: PathBuf,
}

impl Words {
    fn new(image: &[u8], path: &Path) -> Result<Self, FlightError> {
        let (words, rest) = image.as_chunks::<4>();
        let words = Self {
            all: words.iter().map(|w| u32::from_le_bytes(*w)).collect(),
            taken: 0,
            path: path.to_owned(),
        };
        if rest.is_empty() && words.all.len() >= IMAGE_HEAD + BLOCK_HEAD {
            Ok(words)
        } else {
            let field = "the recording's number of bytes";
            Err(words.wrong(field, image.len() as u32, "whole words, 40 bytes or more"))
        }
    }

    fn take<const N: usize>(&mut self) -> Result<[u32; N], FlightError> {
        let mut found = [0; N];
        found.copy_from_slice(self.next(N)?);
        Ok(found)
    }

    fn next(&mut self, count: usize) -> Result<&[u32], FlightError> {
        let from = self.taken;
        if self.all.len() - from < count {
            let expected = format!("{} or more, as its blocks say", from + count);
            return Err(self.wrong_length(&expected));
        }
        self.taken += count;
        Ok(&self.all[from..from + count])
    }

    fn end(&self) -> Result<(), FlightError> {
        if self.taken == self.all.len() {
            return Ok(());
        }
        Err(self.wrong_length(&format!("{}, as its blocks say", self.taken)))
    }

    fn wrong_length(&self, expected: &str) -> FlightError {
        let found = self.all.len() as u32;
        self.wrong("the recording's number of words", found, expected)
    }

    fn wrong(&self, field: &str, found: u32, expected: &str) -> FlightError {
        FlightError::Value {
            path: self.path.clone(),
            field: field.to_owned(),
            found,
            expected: expected.to_owned(),
        }
    }
}
