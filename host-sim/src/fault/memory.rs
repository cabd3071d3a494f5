//! The words of the law's memory by their names, and one bit of one of them turned over.
//!
//! All that a controller keeps, constants and state, is made of words of which every pattern of bits is a
//! value ([`Plain`]). Bit `n` of a law is bit `n % 32` of word `n / 32`, counted from the lowest.

use firmware::Cycle;
use shared_math::{Names, Plain, Scalar, WordKind};

/// One word of a law's memory.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Place {
    /// Path of its field, as `limit.reference`; elements of arrays by their number.
    pub path: String,
    /// What it stands for.
    pub kind: WordKind,
}

impl Place {
    /// Whether it is a constant, not part of the state.
    #[must_use]
    pub fn is_constant(&self) -> bool {
        self.path.starts_with("config.")
    }
}

/// What is open while names are told, and the words so far.
#[derive(Default)]
struct Listing {
    open: Vec<String>,
    found: Vec<Place>,
}

impl Names for Listing {
    fn enter(&mut self, name: &'static str) {
        self.open.push(name.to_owned());
    }
    fn enter_element(&mut self, n: usize) {
        self.open.push(n.to_string());
    }
    fn leave(&mut self) {
        self.open.pop();
    }
    fn word(&mut self, kind: WordKind) {
        self.found.push(Place {
            path: self.open.join("."),
            kind,
        });
    }
}

/// All words of a law in their order, state first.
#[must_use]
pub fn places<S: Scalar + Plain>() -> Vec<Place> {
    let mut listing = Listing::default();
    Cycle::<S>::tell(&mut listing);
    // The last is the bench's own (feature `lab`), which no product has.
    listing.found.truncate(words::<S>());
    listing.found
}

/// Words of a law's memory: all but the bench's own.
const fn words<S: Scalar + Plain>() -> usize {
    Cycle::<S>::WORDS - 1
}

/// Bits of a law's memory.
#[must_use]
pub const fn bits<S: Scalar + Plain>() -> u64 {
    words::<S>() as u64 * 32
}

/// Turns one bit of a law over; a bit beyond [`bits`] changes nothing.
pub fn flip<S: Scalar + Plain>(cycle: &mut Cycle<S>, bit: u64) {
    let n = usize::try_from(bit / 32).unwrap_or(usize::MAX);
    if let Some(word) = cycle.words_mut().get_mut(n).filter(|_| n < words::<S>()) {
        *word ^= 1 << (bit % 32);
    }
}
