//! The flight recorder: the last seconds of raw frames around the first fault, in fixed memory.
//!
//! Beside the law, never in it: the recorder is shown the controller and what crossed the board's edge after the
//! answer is out ([`crate::Task::tick_recorded`]). It reads the controller and cannot write it, so that struck memory
//! of the recorder spoils a recording and nothing else.
//!
//! # What is kept
//!
//! Frames stand in blocks. Each block begins with a snapshot of the controller's whole state, taken at once in the
//! period that ends the block before it, and has a CRC-32 of the answers. So a host goes on from any block with the
//! same firmware and sees whether it gives the same bits. Of the newest blocks [`Recorder`] keeps `BLOCKS`; the oldest
//! is given up for a new one.
//!
//! # The first fault
//!
//! A fault bit that did not stand in the period before. The block in which it comes is filled, then
//! [`Recorder::BLOCKS_AFTER`] more; then nothing is written any more until [`Recorder::release`]. Later faults change
//! nothing.
//!
//! | file | purpose |
//! |---|---|
//! | `block` | a snapshot and the frames after it |
//! | `digest` | CRC-32 of words |
//! | `image` | a frozen recording as bytes |

mod block;
mod digest;
mod image;

pub use block::{Recorded, SNAPSHOT_WORDS};

use crate::cycle::Cycle;
use crate::frame::{DriveFrame, SensorFrame};
use block::Block;
use digest::Digest;
use shared_math::Scalar;

/// What a recorder does.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Phase {
    /// There is none, or it was not begun.
    #[default]
    Idle,
    /// It records; no fault has come.
    Recording,
    /// The first fault has come; what follows is still recorded.
    Closing,
    /// The recording is complete and stays until it is released.
    Frozen,
}

/// How a recorder is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct RecorderState {
    /// What it does.
    pub phase: Phase,
    /// Frames that it holds.
    pub frames: u32,
    /// Frames that it can hold.
    pub room: u32,
    /// Fault bits that were new at the first fault, as [`crate::Faults`]; zero before it.
    pub faults: u16,
    /// Size of the recording, bytes; zero unless it is frozen.
    pub bytes: u32,
}

/// Codes of the phases as they are kept. A code above them is taken for frozen: it keeps what there is.
const IDLE: u32 = 0;
const WAITING: u32 = 1;
const RECORDING: u32 = 2;
const CLOSING: u32 = 3;
const FROZEN: u32 = 4;

/// Whose frames they are.
#[derive(Clone, Copy, Debug)]
struct Identity {
    /// [`Recorded::CODE`].
    arithmetic: u32,
    /// CRC-32 of the configuration's words.
    config: u32,
}

/// Where the first fault came.
#[derive(Clone, Copy, Debug)]
struct Mark {
    /// Blocks begun then.
    begun: u32,
    /// Place of the frame in the block.
    frame: u32,
    /// Fault bits that were new.
    faults: u32,
}

/// A recorder of `BLOCKS` blocks, at least 3, of `FRAMES` frames, at least 1.
///
/// It takes `BLOCKS * (16 * FRAMES + 4 * SNAPSHOT_WORDS + 8) + 40` bytes on a 32-bit core. Before the first fault
/// it holds at least `(BLOCKS - 1 - BLOCKS_AFTER) * FRAMES` frames, after it at least `BLOCKS_AFTER * FRAMES`.
#[derive(Debug)]
pub struct Recorder<const BLOCKS: usize, const FRAMES: usize> {
    blocks: [Block<FRAMES>; BLOCKS],
    /// Blocks begun in this recording. At a block in half a second it ends after 68 years.
    begun: u32,
    phase: u32,
    /// Of the controller that is recorded from the next release on.
    now: Identity,
    /// Of the recording.
    identity: Identity,
    /// Faults that stood after the last frame.
    stood: u32,
    mark: Mark,
}

impl<const BLOCKS: usize, const FRAMES: usize> Default for Recorder<BLOCKS, FRAMES> {
    fn default() -> Self {
        Self::new()
    }
}

impl<const BLOCKS: usize, const FRAMES: usize> Recorder<BLOCKS, FRAMES> {
    /// Whole blocks that are recorded after the one in which the first fault came: a quarter of all.
    pub const BLOCKS_AFTER: usize = BLOCKS.div_ceil(4);

    /// A recorder that was not begun; all its bits are zero.
    #[must_use]
    pub const fn new() -> Self {
        const {
            assert!(
                BLOCKS >= 3,
                "a block before the fault, its own, and one after it"
            );
            assert!(BLOCKS <= 1 << 16 && FRAMES >= 1 && FRAMES <= 1 << 16);
        }
        let identity = Identity {
            arithmetic: 0,
            config: 0,
        };
        Self {
            blocks: [const { Block::new() }; BLOCKS],
            begun: 0,
            phase: IDLE,
            now: identity,
            identity,
            stood: 0,
            mark: Mark {
                begun: 0,
                frame: 0,
                faults: 0,
            },
        }
    }

    /// A controller is new: call it before its first step. Frames of another one are forgotten, but for a
    /// recording that has its first fault: that ends here and stays.
    ///
    /// It takes longer than a period may: it sums up the whole configuration.
    pub fn begin<S: Recorded>(&mut self, cycle: &Cycle<S>) {
        let mut digest = Digest::new();
        for word in cycle.config_words() {
            digest.push(*word);
        }
        self.now = Identity {
            arithmetic: S::CODE,
            config: digest.sum(),
        };
        match self.phase {
            IDLE | WAITING | RECORDING => self.start(cycle, 0),
            _ => self.phase = FROZEN,
        }
    }

    /// One control period, after its answer is out: the frame, the answer, and the controller after the step.
    pub fn note<S: Recorded>(&mut self, cycle: &Cycle<S>, frame: &SensorFrame, drive: &DriveFrame) {
        match self.phase {
            WAITING => self.start(cycle, drive.faults.into()),
            RECORDING | CLOSING => self.keep(cycle, frame, drive),
            _ => {}
        }
    }

    /// Lets a frozen recording go; the next one begins with the state after the period that is noted next. Whether
    /// there was one.
    pub fn release(&mut self) -> bool {
        let frozen = self.phase >= FROZEN;
        if frozen {
            self.begun = 0;
            self.phase = WAITING;
        }
        frozen
    }

    /// How it is.
    #[must_use]
    pub fn state(&self) -> RecorderState {
        let phase = match self.phase {
            IDLE => Phase::Idle,
            WAITING | RECORDING => Phase::Recording,
            CLOSING => Phase::Closing,
            _ => Phase::Frozen,
        };
        let marked = matches!(phase, Phase::Closing | Phase::Frozen);
        let frames = self.kept().map(|block| block.frames().len() as u32);
        RecorderState {
            phase,
            frames: frames.sum(),
            room: (BLOCKS * FRAMES) as u32,
            faults: if marked { self.mark.faults as u16 } else { 0 },
            bytes: if phase == Phase::Frozen {
                4 * self.words() as u32
            } else {
                0
            },
        }
    }

    /// A piece of a frozen recording, from byte `offset` on, a multiple of 4: how many bytes of `piece` are filled.
    /// None unless it is frozen and the offset is in it.
    pub fn read(&self, offset: u32, piece: &mut [u8]) -> Option<usize> {
        let (first, rest) = (offset as usize / 4, offset % 4);
        if rest != 0 || self.phase < FROZEN || first >= self.words() {
            return None;
        }
        let (words, _) = piece.as_chunks_mut::<4>();
        let mut filled = 0;
        for (place, n) in words.iter_mut().zip(first..) {
            let Some(word) = self.word(n) else { break };
            *place = word.to_le_bytes();
            filled += 4;
        }
        Some(filled)
    }

    /// The first block, from the state as it is; `stood` are faults that are not new.
    fn start<S: Recorded>(&mut self, cycle: &Cycle<S>, stood: u32) {
        self.identity = self.now;
        self.phase = RECORDING;
        self.begun = 0;
        self.stood = stood;
        self.mark.faults = 0;
        self.next_block(cycle);
    }

    fn next_block<S: Recorded>(&mut self, cycle: &Cycle<S>) {
        if let Some(block) = self.blocks.get_mut(self.begun as usize % BLOCKS) {
            block.begin(cycle.state_words());
        }
        self.begun = self.begun.wrapping_add(1);
    }

    fn keep<S: Recorded>(&mut self, cycle: &Cycle<S>, frame: &SensorFrame, drive: &DriveFrame) {
        let newest = self.begun.wrapping_sub(1) as usize % BLOCKS;
        let Some(block) = self.blocks.get_mut(newest) else {
            return;
        };
        let place = block.push(*frame, drive);
        let faults = u32::from(drive.faults);
        let new = faults & !self.stood;
        self.stood = faults;
        if self.phase == RECORDING && new != 0 {
            self.phase = CLOSING;
            self.mark = Mark {
                begun: self.begun,
                frame: place as u32,
                faults: new,
            };
        }
        if place + 1 < FRAMES {
            return;
        }
        let after = self.begun.wrapping_sub(self.mark.begun) as usize;
        if self.phase == CLOSING && after >= Self::BLOCKS_AFTER {
            self.phase = FROZEN;
        } else {
            self.next_block(cycle);
        }
    }

    /// Number of blocks that are kept.
    fn blocks_kept(&self) -> usize {
        (self.begun as usize).min(BLOCKS)
    }

    /// The blocks that are kept, oldest first.
    fn kept(&self) -> impl Iterator<Item = &Block<FRAMES>> {
        let kept = self.blocks_kept();
        let oldest = (self.begun as usize).saturating_sub(kept);
        (0..kept).filter_map(move |n| self.blocks.get((oldest + n) % BLOCKS))
    }
}

/// A recorder of any size, for who needs not know it.
pub trait Recording<S: Scalar> {
    /// As [`Recorder::begin`].
    fn begin(&mut self, cycle: &Cycle<S>);
    /// As [`Recorder::note`].
    fn note(&mut self, cycle: &Cycle<S>, frame: &SensorFrame, drive: &DriveFrame);
    /// As [`Recorder::release`].
    fn release(&mut self) -> bool;
    /// As [`Recorder::state`].
    fn state(&self) -> RecorderState;
    /// As [`Recorder::read`].
    fn read(&self, offset: u32, piece: &mut [u8]) -> Option<usize>;
}

impl<S: Recorded, const BLOCKS: usize, const FRAMES: usize> Recording<S>
    for Recorder<BLOCKS, FRAMES>
{
    fn begin(&mut self, cycle: &Cycle<S>) {
        Self::begin(self, cycle);
    }
    fn note(&mut self, cycle: &Cycle<S>, frame: &SensorFrame, drive: &DriveFrame) {
        Self::note(self, cycle, frame, drive);
    }
    fn release(&mut self) -> bool {
        Self::release(self)
    }
    fn state(&self) -> RecorderState {
        Self::state(self)
    }
    fn read(&self, offset: u32, piece: &mut [u8]) -> Option<usize> {
        Self::read(self, offset, piece)
    }
}
