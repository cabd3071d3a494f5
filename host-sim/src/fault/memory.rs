//! The numbers in the law's memory, and one bit of one of them turned over.
//!
//! The stages' states are private, and nothing outside need know them. A law in [`Word`]s tells where its
//! numbers lie: the text that the derived `Debug` makes of a controller visits every field where it stands, and a
//! word's text is its address. So every number of the law's arithmetic is found, state and constants
//! alike, with the path of its field. Every pattern of bits is a number there, also one that is not finite.
//!
//! What this does not reach are integers, switches (`bool`), modes and lengths, whose types are not the law's
//! arithmetic; a pattern that is no value of a switch or mode has no meaning in Rust at all.

use firmware::Cycle;
use shared_math::{Q24, Scalar};
use std::fmt;
use std::ops::{Add, Mul, Neg, Sub};

/// A number of which every pattern of bits is one.
pub trait Plain: Scalar {
    /// Bits of a number.
    const BITS: u32;

    /// The number with one bit turned over, counted from the lowest; `bit` is below [`Plain::BITS`].
    #[must_use]
    fn flipped(self, bit: u32) -> Self;
}

impl Plain for f32 {
    const BITS: u32 = 32;

    fn flipped(self, bit: u32) -> Self {
        Self::from_bits(self.to_bits() ^ 1 << bit)
    }
}

impl Plain for f64 {
    const BITS: u32 = 64;

    fn flipped(self, bit: u32) -> Self {
        Self::from_bits(self.to_bits() ^ 1 << bit)
    }
}

impl Plain for Q24 {
    const BITS: u32 = 32;

    fn flipped(self, bit: u32) -> Self {
        Self::from_bits(self.to_bits() ^ 1 << bit)
    }
}

/// A number that computes as `S` does, bit for bit, and whose `Debug` text is where it stands.
#[derive(Clone, Copy)]
#[repr(transparent)]
pub struct Word<S>(S);

impl<S> fmt::Debug for Word<S> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "@{}", std::ptr::from_ref(self).addr())
    }
}

impl<S: Scalar> Add for Word<S> {
    type Output = Self;
    #[inline(always)]
    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}

impl<S: Scalar> Sub for Word<S> {
    type Output = Self;
    #[inline(always)]
    fn sub(self, other: Self) -> Self {
        Self(self.0 - other.0)
    }
}

impl<S: Scalar> Mul for Word<S> {
    type Output = Self;
    #[inline(always)]
    fn mul(self, other: Self) -> Self {
        Self(self.0 * other.0)
    }
}

impl<S: Scalar> Neg for Word<S> {
    type Output = Self;
    #[inline(always)]
    fn neg(self) -> Self {
        Self(-self.0)
    }
}

impl<S: Scalar> Scalar for Word<S> {
    const ZERO: Self = Self(S::ZERO);
    const ONE: Self = Self(S::ONE);
    #[inline(always)]
    fn from_f32(x: f32) -> Self {
        Self(S::from_f32(x))
    }
    #[inline(always)]
    fn to_f64(self) -> f64 {
        self.0.to_f64()
    }
    #[inline(always)]
    fn from_q24(bits: i32) -> Self {
        Self(S::from_q24(bits))
    }
    #[inline(always)]
    fn to_q24(self) -> i32 {
        self.0.to_q24()
    }
    #[inline(always)]
    fn select_ge(a: Self, b: Self, x: Self, y: Self) -> Self {
        Self(S::select_ge(a.0, b.0, x.0, y.0))
    }
    #[inline(always)]
    fn sqrt(self) -> Self {
        Self(self.0.sqrt())
    }
    #[inline(always)]
    fn div(self, d: Self) -> Self {
        Self(self.0.div(d.0))
    }
    #[inline(always)]
    fn is_finite(self) -> bool {
        self.0.is_finite()
    }
    #[inline(always)]
    fn abs(self) -> Self {
        Self(self.0.abs())
    }
}

/// Where one number of a law lies.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Place {
    /// Path of its field, as `limit.reference`; elements of lists and tuples by their number.
    pub path: String,
    /// Bytes from the beginning of the controller.
    offset: usize,
}

impl Place {
    /// Whether it is a constant, not part of the state.
    #[must_use]
    pub fn is_constant(&self) -> bool {
        self.path.starts_with("config.")
    }
}

/// All numbers of a law, in the order in which the controller's text names them: constants first. Bit `n` of
/// a law is bit `n % BITS` of the number `n / BITS`.
#[must_use]
pub fn places<S: Plain>(cycle: &Cycle<Word<S>>) -> Vec<Place> {
    let begin = std::ptr::from_ref(cycle).addr();
    let text = format!("{cycle:#?}");
    // Of what is open: the name, and how many parts without a name there were.
    let mut open: Vec<(String, usize)> = Vec::new();
    let mut found = Vec::new();
    for line in text.lines().map(str::trim) {
        if line.starts_with(['}', ']', ')']) {
            open.pop();
            continue;
        }
        let (name, value) = match line.split_once(": ") {
            Some((name, value)) => (name.to_owned(), value),
            None => {
                let count = open.last_mut().map_or(0, |(_, count)| {
                    *count += 1;
                    *count - 1
                });
                (count.to_string(), line)
            }
        };
        if value.ends_with(['{', '[', '(']) {
            open.push((name, 0));
        } else if let Some(address) = value.strip_prefix('@') {
            let address = address.trim_end_matches(',').parse::<usize>();
            let offset = address.ok().and_then(|a| a.checked_sub(begin));
            let whole = |o: &usize| {
                o + size_of::<Word<S>>() <= size_of::<Cycle<Word<S>>>()
                    && (begin + o).is_multiple_of(align_of::<Word<S>>())
            };
            if let Some(offset) = offset.filter(whole) {
                // The outermost is the controller itself.
                let mut path: Vec<&str> =
                    open.iter().skip(1).map(|(name, _)| name.as_str()).collect();
                path.push(&name);
                found.push(Place {
                    path: path.join("."),
                    offset,
                });
            }
        }
    }
    found
}

/// The `n`th number of a law, as [`places`] counts them.
#[must_use]
pub fn number<S: Plain>(cycle: &mut Cycle<Word<S>>, n: usize) -> Option<&mut S> {
    let offset = places(cycle).get(n)?.offset;
    // SAFETY: `places` was told this address a moment ago by a `Word<S>` borrowed from this very controller,
    // and has checked that the word lies in it whole and aligned. The pointer has the provenance of the
    // exclusive borrow of the whole controller, which the reference takes over. A `Word<S>` is one `S`,
    // of which every pattern of bits is a value, so the controller stays valid whatever is written.
    #[allow(
        unsafe_code,
        reason = "the stages' states are private: see the file's first lines"
    )]
    let word = unsafe { &mut *std::ptr::from_mut(cycle).byte_add(offset).cast::<Word<S>>() };
    Some(&mut word.0)
}

/// Turns one bit of a law over, as [`places`] counts them; a bit beyond them changes nothing.
pub fn flip<S: Plain>(cycle: &mut Cycle<Word<S>>, bit: u64) {
    let n = usize::try_from(bit / u64::from(S::BITS)).unwrap_or(usize::MAX);
    if let Some(number) = number(cycle, n) {
        *number = number.flipped((bit % u64::from(S::BITS)) as u32);
    }
}
