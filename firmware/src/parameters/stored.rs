//! The parameter table as it is stored: version, length, parameters and check, twice.
//!
//! A copy is words of 32 bits, little-endian in bytes: version, number of the parameters' words, the parameters in the
//! order of their fields, and the CRC-32 (ISO-HDLC) of all before it. A board starts only from a copy that holds;
//! ranges are checked after that by the stages' `build`.

use super::Parameters;
use core::fmt;
use shared_math::{Plain, plain};

/// One copy.
#[derive(Clone, Copy, Debug, PartialEq)]
#[repr(C)]
struct Stored {
    version: u32,
    words: u32,
    parameters: Parameters,
    crc: u32,
}

plain!([] Stored { version, words, parameters, crc });

/// The stored block: two copies of the table.
#[derive(Clone, Copy, Debug, PartialEq)]
#[repr(C)]
pub struct StoredTable {
    copies: [Stored; 2],
}

plain!([] StoredTable { copies });

/// What is wrong with one copy.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CopyError {
    /// Made for another firmware.
    Version {
        /// The version found.
        found: u32,
    },
    /// Another number of parameters.
    Length {
        /// Words found.
        found: u32,
    },
    /// Not as it was written.
    Check {
        /// Check of what is there.
        found: u32,
        /// Check that was written with it.
        stated: u32,
    },
}

impl fmt::Display for CopyError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Version { found } => {
                write!(f, "version {found}: expected {}", StoredTable::VERSION)
            }
            Self::Length { found } => write!(f, "{found} words: expected {}", Parameters::WORDS),
            Self::Check { found, stated } => {
                write!(f, "check {found:#010x}: expected {stated:#010x}, as stored")
            }
        }
    }
}

/// No copy of a table can be used.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TableError {
    /// A block of another length; the words found.
    Block(usize),
    /// Both copies are bad: what is wrong with each.
    Copies([CopyError; 2]),
}

impl fmt::Display for TableError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Block(found) => write!(
                f,
                "parameter table of {found} words: expected {}",
                StoredTable::WORDS
            ),
            Self::Copies([first, second]) => write!(
                f,
                "parameter table: first copy: {first}; second copy: {second}"
            ),
        }
    }
}

impl core::error::Error for TableError {}

impl StoredTable {
    /// Version of the layout; raised whenever a parameter comes, goes or changes its meaning.
    pub const VERSION: u32 = 1;

    /// The block of a table and its check, which is not looked at: as [`StoredTable::new`] gave it.
    #[must_use]
    pub const fn stored(parameters: Parameters, crc: u32) -> Self {
        let copy = Stored {
            version: Self::VERSION,
            words: Parameters::WORDS as u32,
            parameters,
            crc,
        };
        Self {
            copies: [copy, copy],
        }
    }

    /// The block of a table.
    #[must_use]
    pub fn new(parameters: &Parameters) -> Self {
        let unchecked = Self::stored(*parameters, 0);
        let [copy, _] = &unchecked.copies;
        Self::stored(*parameters, copy.sum())
    }

    /// The block in stored words, as [`Plain::words`] gives them.
    ///
    /// # Errors
    /// Another number of words.
    pub fn from_words(words: &[u32]) -> Result<&Self, TableError> {
        Self::of_words(words).ok_or(TableError::Block(words.len()))
    }

    /// The check that is stored with the first copy.
    #[must_use]
    pub const fn crc(&self) -> u32 {
        let [copy, _] = &self.copies;
        copy.crc
    }

    /// The parameters of the first copy that holds.
    ///
    /// # Errors
    /// Neither does: what is wrong with each.
    pub fn parameters(&self) -> Result<&Parameters, TableError> {
        let [first, second] = &self.copies;
        match (first.check(), second.check()) {
            (Ok(()), _) => Ok(&first.parameters),
            (_, Ok(())) => Ok(&second.parameters),
            (Err(a), Err(b)) => Err(TableError::Copies([a, b])),
        }
    }

    /// The first copy's parameters whether they hold or not, for tools that show them.
    #[must_use]
    pub const fn unchecked(&self) -> &Parameters {
        let [first, _] = &self.copies;
        &first.parameters
    }
}

impl Stored {
    /// CRC-32 of all words but the last.
    fn sum(&self) -> u32 {
        match self.words().split_last() {
            Some((_, before)) => crc32(before.iter().flat_map(|word| word.to_le_bytes())),
            None => 0,
        }
    }

    #[inline(never)]
    fn check(&self) -> Result<(), CopyError> {
        let found = self.sum();
        if self.version != StoredTable::VERSION {
            return Err(CopyError::Version {
                found: self.version,
            });
        }
        if self.words as usize != Parameters::WORDS {
            return Err(CopyError::Length { found: self.words });
        }
        if found != self.crc {
            return Err(CopyError::Check {
                found,
                stated: self.crc,
            });
        }
        Ok(())
    }
}

/// CRC-32 as in ISO-HDLC (reflected, polynomial 0x04C11DB7, all ones before and after), bit by bit: it is worked
/// out once, at the start.
pub fn crc32(bytes: impl Iterator<Item = u8>) -> u32 {
    !bytes.fold(u32::MAX, with_byte)
}

#[inline(never)]
fn with_byte(sum: u32, byte: u8) -> u32 {
    (0..8).fold(sum ^ u32::from(byte), |sum, _| {
        sum >> 1 ^ (0xEDB8_8320 & (sum & 1).wrapping_neg())
    })
}
