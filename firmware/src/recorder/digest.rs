//! CRC-32 as in ISO-HDLC, word by word: cheap enough for every period.

/// What four bits that leave bring in; the polynomial 0x04C11DB7 reflected.
const TABLE: [u32; 16] = {
    let mut table = [0; 16];
    let mut n = 0;
    while n < 16 {
        let mut sum = n as u32;
        let mut bit = 0;
        while bit < 4 {
            sum = sum >> 1 ^ (0xEDB8_8320 & (sum & 1).wrapping_neg());
            bit += 1;
        }
        table[n] = sum;
        n += 1;
    }
    table
};

/// A sum of the words so far, little-endian.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Digest(u32);

impl Digest {
    /// Of nothing.
    pub(super) const fn new() -> Self {
        Self(u32::MAX)
    }

    /// All bits zero; of no words.
    pub(super) const fn zero() -> Self {
        Self(0)
    }

    /// Takes a word.
    #[inline(always)]
    pub(super) const fn push(&mut self, word: u32) {
        let mut sum = self.0 ^ word;
        let mut nibble = 0;
        while nibble < 8 {
            sum = sum >> 4 ^ TABLE[(sum & 15) as usize];
            nibble += 1;
        }
        self.0 = sum;
    }

    /// The sum.
    pub(super) const fn sum(self) -> u32 {
        !self.0
    }
}
