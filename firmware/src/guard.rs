//! Constants in memory that may be struck: what tells it, and what puts a struck word right.
//!
//! The words are taken in blocks of [`BLOCK`]. Each block has two check words, made when the controller
//! is: the exclusive or of its words, and the same of its words each turned left by its place in the block.
//! One block is added up again in each step that has time for it. A word that has changed by `d` shows as `d` in the first sum and as
//! `d` turned by its place in the second, which tells which word it was and what it was. (Rows and diagonals of a
//! square of bits: textbook material.) Whatever else has happened is told, but cannot be put right.

use shared_math::plain;

/// Words that share their check words; their places differ by less than a word's bits.
const BLOCK: usize = 8;

/// Blocks that can be watched.
const BLOCKS: usize = 56;

/// The first blocks: every other look is at one of them; all others take turns beside them.
const NEAR: usize = 8;

/// Check words of a block.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[repr(C)]
struct Check {
    /// Sum of the words.
    rows: u32,
    /// Sum of the words turned by their places.
    diagonals: u32,
}

plain!([] Check { rows, diagonals });

/// What one look found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Found {
    /// The block is as it was made.
    Sound,
    /// One word of the block that begins with this word had changed, and has been put right.
    Healed(usize),
    /// More than one word of it has changed.
    Lost,
}

/// The check words of up to [`Guard::MOST`] words.
#[derive(Clone, Copy, Debug)]
#[repr(C)]
pub(crate) struct Guard {
    checks: [Check; BLOCKS],
    /// Twice the block to be looked at next among the others, and one more where it is their turn.
    turn: u32,
    /// Words put right since the reset.
    healed: u32,
}

plain!([] Guard { checks, turn, healed });

impl Guard {
    /// Most words that can be watched.
    pub(crate) const MOST: usize = BLOCK * BLOCKS;

    /// Where the block of a word begins.
    pub(crate) const fn block_of(word: usize) -> usize {
        word / BLOCK * BLOCK
    }

    /// The guard of these words, at most [`Guard::MOST`].
    pub(crate) fn new(words: &[u32]) -> Self {
        Self {
            checks: core::array::from_fn(|n| block(words, n).map_or(Check::default(), Check::of)),
            turn: 0,
            healed: 0,
        }
    }

    /// Words put right since the reset.
    pub(crate) const fn healed(&self) -> u32 {
        self.healed
    }

    /// Looks at one block, in turn a near one and another.
    #[inline(always)]
    pub(crate) fn step(&mut self, words: &mut [u32]) -> Found {
        let half = (self.turn >> 1) as usize;
        let n = if self.turn & 1 == 0 {
            half % NEAR
        } else {
            NEAR + half
        };
        // After the last block of the others, from the start.
        let turns = 2 * words.len().div_ceil(BLOCK).saturating_sub(NEAR).max(NEAR);
        self.turn = if (self.turn as usize) + 1 < turns {
            self.turn + 1
        } else {
            0
        };
        match (block(words, n), self.checks.get(n)) {
            (Some(block), Some(check)) if rows(block) != check.rows => self.heal(words, n),
            _ => Found::Sound,
        }
    }

    #[cold]
    #[inline(never)]
    fn heal(&mut self, words: &mut [u32], n: usize) -> Found {
        let (Some(block), Some(stated)) = (block_mut(words, n), self.checks.get_mut(n)) else {
            return Found::Sound;
        };
        let found = Check::of(block);
        let change = found.rows ^ stated.rows;
        let turned = found.diagonals ^ stated.diagonals;
        if turned == 0 {
            // No word has changed, but the sum itself.
            *stated = found;
            return Found::Sound;
        }
        let first = n * BLOCK;
        let mut struck = block
            .iter_mut()
            .zip(0..)
            .filter(|(_, place)| change.rotate_left(*place) == turned);
        match (struck.next(), struck.next()) {
            (Some((word, _)), None) => {
                *word ^= change;
                self.healed = self.healed.saturating_add(1);
                Found::Healed(first)
            }
            // More than one word, or a change that looks the same from several places.
            _ => Found::Lost,
        }
    }
}

impl Check {
    #[inline(never)]
    fn of(block: &[u32; BLOCK]) -> Self {
        Self {
            rows: rows(block),
            diagonals: block
                .iter()
                .zip(0..)
                .fold(0, |sum, (word, place)| sum ^ word.rotate_left(place)),
        }
    }
}

#[inline(always)]
fn rows(block: &[u32; BLOCK]) -> u32 {
    block.iter().fold(0, |sum, word| sum ^ word)
}

/// Where block `n` of so many words begins. The last one reaches back into the one before it.
#[inline(always)]
const fn start(words: usize, n: usize) -> Option<usize> {
    if words < BLOCK || n >= words.div_ceil(BLOCK) {
        return None;
    }
    let (first, last) = (n * BLOCK, words - BLOCK);
    Some(if first < last { first } else { last })
}

#[inline(always)]
fn block(words: &[u32], n: usize) -> Option<&[u32; BLOCK]> {
    words.get(start(words.len(), n)?..)?.first_chunk()
}

fn block_mut(words: &mut [u32], n: usize) -> Option<&mut [u32; BLOCK]> {
    words.get_mut(start(words.len(), n)?..)?.first_chunk_mut()
}
