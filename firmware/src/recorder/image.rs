//! A frozen recording as words of 32 bits, which go over the link and into files little-endian.
//!
//! A head of 8 words: number of the arithmetic ([`super::Recorded::CODE`]); CRC-32 of the configuration's words;
//! words of a snapshot; blocks; then of the first fault its block and its frame there, both from zero, and the fault
//! bits that were new; frames given up before the first that is kept. Then every block, oldest first: its frames, the
//! CRC-32 of their answers (8 bytes each), the snapshot, and the frames, 4 words each.

use super::block::Block;
use super::{Recorder, SNAPSHOT_WORDS};
use crate::frame::SensorFrame;

const HEAD: usize = 8;
/// Words of a block before its snapshot.
const BLOCK_HEAD: usize = 2;
const FRAME: usize = SensorFrame::BYTES / 4;

impl<const BLOCKS: usize, const FRAMES: usize> Recorder<BLOCKS, FRAMES> {
    /// Words of the recording.
    pub(super) fn words(&self) -> usize {
        HEAD + self.kept().map(Block::words).sum::<usize>()
    }

    /// One word of the recording.
    pub(super) fn word(&self, n: usize) -> Option<u32> {
        if n < HEAD {
            return self.head().get(n).copied();
        }
        let mut left = n - HEAD;
        for block in self.kept() {
            let words = block.words();
            if left < words {
                return block.word(left);
            }
            left -= words;
        }
        None
    }

    fn head(&self) -> [u32; HEAD] {
        let given_up = self.begun.saturating_sub(self.blocks_kept() as u32);
        [
            self.identity.arithmetic,
            self.identity.config,
            SNAPSHOT_WORDS as u32,
            self.blocks_kept() as u32,
            self.mark.begun.wrapping_sub(1).wrapping_sub(given_up),
            self.mark.frame,
            self.mark.faults,
            given_up.saturating_mul(FRAMES as u32),
        ]
    }
}

impl<const FRAMES: usize> Block<FRAMES> {
    fn words(&self) -> usize {
        BLOCK_HEAD + SNAPSHOT_WORDS + FRAME * self.frames().len()
    }

    fn word(&self, n: usize) -> Option<u32> {
        if n == 0 {
            return Some(self.frames().len() as u32);
        }
        if n == 1 {
            return Some(self.answers());
        }
        if let Some(word) = self.snapshot().get(n - BLOCK_HEAD) {
            return Some(*word);
        }
        let n = n - BLOCK_HEAD - SNAPSHOT_WORDS;
        let bytes = self.frames().get(n / FRAME)?.to_bytes();
        let (words, _) = bytes.as_chunks::<4>();
        words.get(n % FRAME).map(|word| u32::from_le_bytes(*word))
    }
}
