//! Memory of which every pattern of bits is a value, seen as words.
//!
//! A controller's memory may be struck: one bit of it turns over. That must leave a value of the same type
//! behind, and what checks, saves or strikes memory must see it without its meaning. So whatever is kept
//! from step to step is made of words of 32 bits with nothing between them: numbers, counts, codes and
//! [`Flag`]s, in arrays and structs that [`plain!`](crate::plain) has checked when they are compiled.

use crate::Q24;

/// Memory made of words of 32 bits, every pattern of which is a value.
///
/// # Safety
/// The type is [`Plain::WORDS`] words with their alignment and nothing between, before or behind them; every
/// pattern of their bits is a value of the type, and the words may be written through an exclusive
/// borrow of it (no references, nothing that is only valid together with something else).
#[allow(
    unsafe_code,
    reason = "what the view of the words below rests on; impls stand here and in plain!"
)]
pub unsafe trait Plain: Sized + 'static {
    /// Number of words.
    const WORDS: usize;

    /// Names every word, in order.
    fn tell(names: &mut dyn Names);

    /// The words, in the order of the fields.
    #[inline(always)]
    fn words(&self) -> &[u32] {
        // SAFETY: the trait promises `WORDS` initialised and aligned words in one object, borrowed as long as
        // `self` is.
        unsafe { core::slice::from_raw_parts(core::ptr::from_ref(self).cast(), Self::WORDS) }
    }

    /// The value that these words are; none when they are more or fewer.
    #[inline(always)]
    fn of_words(words: &[u32]) -> Option<&Self> {
        if words.len() != Self::WORDS {
            return None;
        }
        // SAFETY: so many initialised and aligned words in one object, borrowed as long as the value is; every
        // pattern of them is a value.
        Some(unsafe { &*words.as_ptr().cast() })
    }

    /// The same words, to be written.
    #[inline(always)]
    fn words_mut(&mut self) -> &mut [u32] {
        // SAFETY: as in `words`; the borrow is exclusive, and whatever is written is a value.
        unsafe { core::slice::from_raw_parts_mut(core::ptr::from_mut(self).cast(), Self::WORDS) }
    }
}

/// What a word stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WordKind {
    /// A number of the law's arithmetic.
    Number,
    /// A count, code or set of bits.
    Whole,
}

/// Is told the names of words by [`Plain::tell`].
pub trait Names {
    /// The words that follow belong to the field or element of this name.
    fn enter(&mut self, name: &'static str);
    /// The words that follow belong to this element.
    fn enter_element(&mut self, n: usize);
    /// The last entered one ends.
    fn leave(&mut self);
    /// A word.
    fn word(&mut self, kind: WordKind);
}

macro_rules! leaf {
    ($($t:ty => $kind:ident),*) => {$(
        // SAFETY: one word with its alignment (checked); an integer, or a float, of which every pattern is a value.
        #[allow(unsafe_code, reason = "see the trait")]
        unsafe impl Plain for $t {
            const WORDS: usize = {
                assert!(size_of::<Self>() == 4 && align_of::<Self>() == 4);
                1
            };
            fn tell(names: &mut dyn Names) {
                names.word(WordKind::$kind);
            }
        }
    )*};
}

// `Q24` and `Flag` are transparent around an integer; `Halves` is two integers that fill a word.
leaf!(u32 => Whole, i32 => Whole, Flag => Whole, Halves => Whole, f32 => Number, Q24 => Number);

// SAFETY: an array has nothing between its elements.
#[allow(unsafe_code, reason = "see the trait")]
unsafe impl<T: Plain, const N: usize> Plain for [T; N] {
    const WORDS: usize = N * T::WORDS;
    fn tell(names: &mut dyn Names) {
        for n in 0..N {
            names.enter_element(n);
            T::tell(names);
            names.leave();
        }
    }
}

/// A yes or no of which every pattern is one: the lowest bit counts.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[repr(transparent)]
pub struct Flag(u32);

impl Flag {
    /// The flag of a condition.
    #[inline(always)]
    #[must_use]
    pub const fn new(holds: bool) -> Self {
        Self(holds as u32)
    }

    /// Whether the condition holds.
    #[inline(always)]
    #[must_use]
    pub const fn holds(self) -> bool {
        self.0 & 1 != 0
    }
}

/// Two short counts in a word.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[repr(C, align(4))]
pub struct Halves {
    /// One.
    pub first: u16,
    /// The other.
    pub second: u16,
}

/// Words of a field; for [`plain!`](crate::plain).
#[doc(hidden)]
#[must_use]
pub const fn words_of_field<T, F: Plain>(_: fn(&T) -> &F) -> usize {
    F::WORDS
}

/// Names of a field's words; for [`plain!`](crate::plain).
#[doc(hidden)]
pub fn tell_of_field<T, F: Plain>(names: &mut dyn Names, name: &'static str, _: fn(&T) -> &F) {
    names.enter(name);
    F::tell(names);
    names.leave();
}

/// Makes a struct with `#[repr(C)]` [`Plain`]: `plain!([S: Plain] State<S> { first, second });`, all fields in
/// their order. Compilation fails where a field is left out or is not plain, or where something lies between two.
#[macro_export]
macro_rules! plain {
    ([$($generics:tt)*] $name:ty { $($field:tt),* $(,)? }) => {
        // SAFETY: each field is plain (`words_of_field` asks for it) and begins where the one before it ends,
        // and the struct ends with the last: it is their words and nothing else.
        #[allow(unsafe_code, reason = "checked when compiled")]
        unsafe impl<$($generics)*> $crate::Plain for $name {
            const WORDS: usize = {
                let mut words = 0;
                $(
                    assert!(
                        core::mem::offset_of!(Self, $field) == 4 * words,
                        "fields are to be told in order, without a gap"
                    );
                    words += $crate::words_of_field(|whole: &Self| &whole.$field);
                )*
                assert!(size_of::<Self>() == 4 * words && align_of::<Self>() == 4);
                words
            };
            fn tell(names: &mut dyn $crate::Names) {
                $($crate::tell_of_field(names, stringify!($field), |whole: &Self| &whole.$field);)*
            }
        }
    };
}
