//! Constants in memory that may be struck: what tells it, and what puts a struck word right.
//!
//! The words are taken in blocks of [`BLOCK`]. Each block has two check words, made when the controller
//! is: the exclusive or of its words, and the same of its words each turned left by its place in the block.
//! One block is added up again in each step that has time for it. A word that has changed by `d` shows as `d` in the first sum and as
//! `d` turned by its place in the second, which tells which word it was and what it was. (Rows and diagonals of a
//! square of bits: textbook material.) Whatever else has happened is told, but cannot be put right.

use shared_math::{Turn, plain, rolled};

/// Words that share their check words; their places differ by less than a word's bits.
const BLOCK: usize = 8;

/// Blocks that can be watched.
const BLOCKS: usize = 56;

/// The first blocks, of what makes the force: every other look is at one of them; all others take turns beside them.
const NEAR: usize = 6;

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
    /// One word of the block of this number had changed, and has been put right.
    Healed(usize),
    /// More than one word of it has changed.
    Lost,
}

/// The check words of up to [`Guard::MOST`] words.
#[derive(Clone, Copy, Debug)]
#[repr(C)]
pub(crate) struct Guard {
    checks: [Check; BLOCKS],
    /// The near block to be looked at next ...
    near: u32,
    /// ... and the one among the others.
    far: u32,
    /// Words put right since the reset.
    healed: u32,
}

plain!([] Guard { checks, near, far, healed });

impl Guard {
    /// Most words that can be watched.
    pub(crate) const MOST: usize = BLOCK * BLOCKS;

    /// The number of the block of a word.
    pub(crate) const fn block_of(word: usize) -> usize {
        word / BLOCK
    }

    /// The guard of these words, at most [`Guard::MOST`].
    pub(crate) fn new(words: &[u32]) -> Self {
        Self {
            checks: core::array::from_fn(|n| block(words, n).map_or(Check::default(), Check::of)),
            near: 0,
            far: 0,
            healed: 0,
        }
    }

    /// Words put right since the reset.
    pub(crate) const fn healed(&self) -> u32 {
        self.healed
    }

    /// Looks at one block: in one turn at a near one, in the other at one of the others.
    #[inline(always)]
    pub(crate) fn step(&mut self, words: &mut [u32], turn: Turn) -> Found {
        match turn {
            Turn::Even => {
                let n = self.near as usize;
                self.near = if n + 1 < NEAR { self.near + 1 } else { 0 };
                self.look(words, n)
            }
            Turn::Odd => {
                let n = self.far as usize;
                let blocks = words.len().div_ceil(BLOCK);
                self.far = if n + 1 < blocks {
                    self.far + 1
                } else {
                    NEAR as u32
                };
                self.look(words, n)
            }
        }
    }

    #[inline(always)]
    fn look(&mut self, words: &mut [u32], n: usize) -> Found {
        match (block(words, n), self.checks.get(n)) {
            (Some(block), Some(check)) if rows(block) != check.rows => self.heal(words, n),
            _ => Found::Sound,
        }
    }

    /// Looks at the block of this number, and puts it right if that can be done.
    #[cold]
    #[inline(never)]
    pub(crate) fn heal(&mut self, words: &mut [u32], n: usize) -> Found {
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
        // At which places the change would show like this, one bit each.
        let (mut places, mut place) = (0_u32, 0);
        while place < BLOCK as u32 {
            places |= u32::from(change.rotate_left(place) == turned) << place;
            place = rolled(place + 1);
        }
        match block.get_mut(places.trailing_zeros() as usize) {
            Some(word) if places.is_power_of_two() => {
                *word ^= change;
                self.healed = self.healed.saturating_add(1);
                Found::Healed(n)
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
