//! Every block from its snapshot through the law again.
//!
//! A block gives the same bits when its answers have the recorded checksum and the state after its last frame is, word
//! by word, the snapshot of the block after it. When all do, a replay that begins at any block gives the recorded
//! answers to the end.

use super::error::FlightError;
use super::file::FlightFile;
use crate::fault::memory;
use firmware::link::crc32;
use firmware::{Cycle, DriveFrame, Faults, Inside, Mode, Parameters, Recorded, SensorFrame};
use shared_math::Scalar;
use std::fmt;
use std::path::Path;

/// One control period of a recording.
#[derive(Clone, Copy, Debug)]
pub struct FlightPeriod {
    /// Time since the frame with the first fault, s.
    pub time_s: f64,
    /// What the sensors gave.
    pub frame: SensorFrame,
    /// The answer.
    pub drive: DriveFrame,
    /// What the law saw and decided.
    pub inside: Inside<f64>,
}

/// A change of mode or faults, or how they stood in the first period.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Change {
    /// Time since the frame with the first fault, s.
    pub time_s: f64,
    /// Mode from then on.
    pub mode: Option<Mode>,
    /// Faults that stand from then on.
    pub faults: Faults,
}

/// Where the law does not give the recorded bits.
#[derive(Clone, Debug, PartialEq)]
pub struct FlightDifference {
    /// The block, from zero.
    pub block: usize,
    /// Its first frame, from the first that is kept.
    pub first_frame: usize,
    /// What differs.
    pub what: Differs,
}

/// What differs in a block.
#[derive(Clone, Debug, PartialEq)]
pub enum Differs {
    /// The checksum of its answers.
    Answers {
        /// As recorded.
        recorded: u32,
        /// As it comes out now.
        now: u32,
    },
    /// The state after it; the first word that is another one.
    State {
        /// Path of the word.
        path: String,
        /// As recorded.
        recorded: u32,
        /// As it comes out now.
        now: u32,
    },
}

impl fmt::Display for FlightDifference {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self {
            block, first_frame, ..
        } = self;
        write!(f, "block {block} (from frame {first_frame} on): ")?;
        match &self.what {
            Differs::Answers { recorded, now } => write!(
                f,
                "the answers have the checksum {now:08x}, recorded is {recorded:08x}"
            ),
            Differs::State {
                path,
                recorded,
                now,
            } => write!(
                f,
                "after it the state's {path} is {now:08x}, recorded is {recorded:08x}"
            ),
        }
    }
}

/// What came of a replay.
#[derive(Clone, Debug, PartialEq)]
pub struct FlightReplay {
    /// Frames.
    pub frames: usize,
    /// CRC-32 of all answers, as they come out now.
    pub digest: u32,
    /// The first difference of every block that has one.
    pub differences: Vec<FlightDifference>,
    /// Modes and faults.
    pub changes: Vec<Change>,
}

impl FlightReplay {
    /// Replays a recording of that arithmetic; `look` sees every period. `path` is for messages.
    ///
    /// # Errors
    /// Other parameters, or other constants made of them.
    pub fn run<S: Recorded>(
        file: &FlightFile,
        parameters: &Parameters,
        path: &Path,
        mut look: impl FnMut(&FlightPeriod),
    ) -> Result<Self, FlightError> {
        file.check(parameters, path)?;
        let sound = Cycle::<S>::new(parameters)?;
        let here = sum_of(sound.config_words());
        if here != file.constants {
            return Err(FlightError::Constants {
                path: path.to_owned(),
                file: file.constants,
                here,
            });
        }
        let (fault, step_s) = (file.fault_frame() as f64, f64::from(file.step_s));
        let mut replay = Self {
            frames: 0,
            digest: 0,
            differences: Vec::new(),
            changes: Vec::new(),
        };
        let mut answers = Vec::new();
        for (n, block) in file.blocks.iter().enumerate() {
            let mut cycle = sound.clone();
            // Its length was checked when it was read.
            let _ = cycle.load(&block.snapshot);
            let (first_frame, first_answer) = (replay.frames, answers.len());
            for frame in &block.frames {
                let (drive, inside) = cycle.watch(frame);
                let time_s = (replay.frames as f64 - fault) * step_s;
                replay.note(time_s, &drive);
                look(&FlightPeriod {
                    time_s,
                    frame: *frame,
                    drive,
                    inside: inside.map(Scalar::to_f64),
                });
                answers.extend(drive.to_bytes());
                replay.frames += 1;
            }
            let now = crc32(&answers[first_answer..]);
            let recorded = block.answers;
            let next = file.blocks.get(n + 1);
            let what = if now == recorded {
                next.and_then(|next| state_difference(&cycle, &next.snapshot))
            } else {
                Some(Differs::Answers { recorded, now })
            };
            replay.differences.extend(what.map(|what| FlightDifference {
                block: n,
                first_frame,
                what,
            }));
        }
        replay.digest = crc32(&answers);
        Ok(replay)
    }

    fn note(&mut self, time_s: f64, drive: &DriveFrame) {
        let change = Change {
            time_s,
            mode: Mode::from_code(drive.mode),
            faults: Faults(drive.faults),
        };
        let same = |last: &Change| (last.mode, last.faults) == (change.mode, change.faults);
        if !self.changes.last().is_some_and(same) {
            self.changes.push(change);
        }
    }
}

/// The first word of the state that is not as recorded.
fn state_difference<S: Recorded>(cycle: &Cycle<S>, recorded: &[u32]) -> Option<Differs> {
    let mut pairs = cycle.state_words().iter().zip(recorded);
    let n = pairs.position(|(now, recorded)| now != recorded)?;
    let place = memory::places::<S>().into_iter().nth(n);
    Some(Differs::State {
        path: place.map_or_else(|| format!("word {n}"), |place| place.path),
        recorded: recorded[n],
        now: cycle.state_words()[n],
    })
}

fn sum_of(words: &[u32]) -> u32 {
    let bytes: Vec<u8> = words.iter().flat_map(|word| word.to_le_bytes()).collect();
    crc32(&bytes)
}
