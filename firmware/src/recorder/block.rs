//! A snapshot of the controller and the frames after it.

use super::digest::Digest;
use crate::cycle::Cycle;
use crate::frame::{DriveFrame, SensorFrame};
use heapless::Vec;
use shared_math::{Plain, Q24, Scalar};

/// An arithmetic whose controller is words of 32 bits, so that it can be recorded.
pub trait Recorded: Scalar + Plain {
    /// Its number in recordings.
    const CODE: u32;
}

impl Recorded for f32 {
    const CODE: u32 = 0;
}

impl Recorded for Q24 {
    const CODE: u32 = 2;
}

/// Words of a snapshot: the state of the controller, the same in every arithmetic.
pub const SNAPSHOT_WORDS: usize = Cycle::<f32>::STATE_WORDS;

const _: () = assert!(SNAPSHOT_WORDS == Cycle::<Q24>::STATE_WORDS);

/// One block.
#[derive(Debug)]
pub(super) struct Block<const FRAMES: usize> {
    /// The state before the first frame.
    snapshot: [u32; SNAPSHOT_WORDS],
    frames: Vec<SensorFrame, FRAMES>,
    /// Of all answers to the frames.
    answers: Digest,
}

impl<const FRAMES: usize> Block<FRAMES> {
    /// All bits zero, so that a static one takes no flash.
    pub(super) const fn new() -> Self {
        Self {
            snapshot: [0; SNAPSHOT_WORDS],
            frames: Vec::new(),
            answers: Digest::zero(),
        }
    }

    /// Forgets what it held and takes the state.
    pub(super) fn begin(&mut self, state: &[u32]) {
        for (to, from) in self.snapshot.iter_mut().zip(state) {
            *to = *from;
        }
        self.frames.clear();
        self.answers = Digest::new();
    }

    /// Takes a frame and the answer to it; the frame's place. A full block takes nothing.
    #[inline(always)]
    pub(super) fn push(&mut self, frame: SensorFrame, drive: &DriveFrame) -> usize {
        let place = self.frames.len();
        if self.frames.push(frame).is_ok() {
            let [a, b, c, d, e, f, g, h] = drive.to_bytes();
            self.answers.push(u32::from_le_bytes([a, b, c, d]));
            self.answers.push(u32::from_le_bytes([e, f, g, h]));
        }
        place
    }

    /// The frames. A length that no block can have is memory that was struck: none.
    pub(super) fn frames(&self) -> &[SensorFrame] {
        if self.frames.len() <= FRAMES {
            &self.frames
        } else {
            &[]
        }
    }

    /// The state before the first frame.
    pub(super) const fn snapshot(&self) -> &[u32; SNAPSHOT_WORDS] {
        &self.snapshot
    }

    /// CRC-32 of all answers.
    pub(super) const fn answers(&self) -> u32 {
        self.answers.sum()
    }
}
