//! Checks that every stage's `build` makes on its parameters.

use core::fmt;
use shared_math::Plain;

/// A parameter that cannot be used: which one, its value, what was expected.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BuildError {
    /// Name of the field, as in the parameter file: `stage.field`.
    pub field: &'static str,
    /// The value found.
    pub value: f32,
    /// What was expected.
    pub expected: &'static str,
}

impl fmt::Display for BuildError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "parameter {} = {}: expected {}",
            self.field, self.value, self.expected
        )
    }
}

impl core::error::Error for BuildError {}

/// What one parameter of a stage must be.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Rule {
    /// Name of the field: `stage.field`.
    field: &'static str,
    range: Range,
}

/// Least and greatest value that are taken, and the same in words. Small: there are more than a hundred.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Range {
    expected: &'static str,
    lo: f32,
    hi: f32,
    kind: Kind,
    /// Which of the stage's words it is about.
    word: u8,
    /// Words whose values are added to the ends, or [`NO_WORD`].
    lo_of: u8,
    hi_of: u8,
}

/// How a word is read and which ends of its range are taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    /// A number; both ends are taken.
    Closed,
    /// A number above the least one.
    Above,
    /// A number under the greatest one.
    Under,
    /// A whole number; both ends are taken.
    Whole,
}

/// No word.
const NO_WORD: u8 = u8::MAX;

/// Which word of its stage begins after so many bytes.
const fn word_at(offset: usize) -> u8 {
    assert!(offset < 4 * NO_WORD as usize);
    (offset / 4) as u8
}

/// [`rules!`] writes these; `offset` is that of a field in its stage.
impl Rule {
    pub(crate) const fn new(field: &'static str, offset: usize, mut range: Range) -> Self {
        range.word = word_at(offset);
        Self { field, range }
    }

    /// The least value is reckoned from another field's.
    pub(crate) const fn from(mut self, offset: usize) -> Self {
        self.range.lo_of = word_at(offset);
        self
    }

    /// The same, itself not taken.
    pub(crate) const fn above(mut self, offset: usize) -> Self {
        self.range.kind = Kind::Above;
        self.from(offset)
    }

    /// The greatest value is reckoned from another field's.
    pub(crate) const fn to(mut self, offset: usize) -> Self {
        self.range.hi_of = word_at(offset);
        self
    }

    /// The same, itself not taken.
    pub(crate) const fn under(mut self, offset: usize) -> Self {
        self.range.kind = Kind::Under;
        self.to(offset)
    }
}

/// A finite value above zero.
pub(crate) const POSITIVE: Range = range(ABOVE_ZERO, f32::MAX, "a finite value above zero");

/// A finite value of zero or more.
pub(crate) const NOT_NEGATIVE: Range = range(0.0, f32::MAX, "a finite value of zero or more");

/// The least number above zero.
pub(crate) const ABOVE_ZERO: f32 = f32::from_bits(1);

/// The greatest number below `end`, which is above zero.
pub(crate) const fn below(end: f32) -> f32 {
    f32::from_bits(end.to_bits() - 1)
}

/// A value within `[lo, hi]`; with finite ends it is finite.
pub(crate) const fn range(lo: f32, hi: f32, expected: &'static str) -> Range {
    Range {
        expected,
        lo,
        hi,
        kind: Kind::Closed,
        word: NO_WORD,
        lo_of: NO_WORD,
        hi_of: NO_WORD,
    }
}

/// The same of a whole number.
pub(crate) const fn whole(lo: u16, hi: u16, expected: &'static str) -> Range {
    let mut range = range(lo as f32, hi as f32, expected);
    range.kind = Kind::Whole;
    range
}

/// The rules of a stage's parameters, a line for each, within their own `impl`. What a rule says of another field
/// comes first; the ends of the range are then added to that field's value:
///
/// ```text
/// rules!["limit":
///     derate_from_c: range(1.0, 299.0, "1 to 299 degrees Celsius"),
///     derate_to_c above derate_from_c: range(0.0, 300.0, "above derate_from_c and at most 300"),
/// ]
/// ```
macro_rules! rules {
    [$stage:literal: $($field:ident $($how:ident $other:ident)*: $range:expr),+ $(,)?] => {
        const {
            &[$($crate::check::Rule::new(
                concat!($stage, ".", stringify!($field)),
                core::mem::offset_of!(Self, $field),
                $range,
            )$(.$how(core::mem::offset_of!(Self, $other)))*),+]
        }
    };
}
pub(crate) use rules;

/// Checks a stage's parameters by its rules, in their order. A table and one loop take less flash than code for
/// each of them.
pub(crate) fn hold(parameters: &impl Plain, rules: &[Rule]) -> Result<(), BuildError> {
    numbers_hold(parameters.words(), rules)
}

#[inline(never)]
fn numbers_hold(words: &[u32], rules: &[Rule]) -> Result<(), BuildError> {
    words_hold(words, f32::NEG_INFINITY, rules)
}

/// The same with nothing below `least`.
pub(crate) fn hold_from(
    parameters: &impl Plain,
    least: f32,
    rules: &[Rule],
) -> Result<(), BuildError> {
    words_hold(parameters.words(), least, rules)
}

#[cold]
#[inline(never)]
fn words_hold(words: &[u32], least: f32, rules: &[Rule]) -> Result<(), BuildError> {
    // No word, no number: nothing is added then.
    let word = |n: u8| words.get(usize::from(n)).copied();
    let other = |n: u8| word(n).map_or(0.0, f32::from_bits);
    for Rule { field, range } in rules {
        let bits = word(range.word).unwrap_or(u32::MAX);
        let value = if range.kind == Kind::Whole {
            bits as f32
        } else {
            f32::from_bits(bits)
        };
        let lo = other(range.lo_of) + range.lo;
        let hi = other(range.hi_of) + range.hi;
        let taken = match range.kind {
            Kind::Above => value != lo,
            Kind::Under => value != hi,
            Kind::Closed | Kind::Whole => true,
        };
        let holds = taken && value >= least && value >= lo && value <= hi;
        require(holds, field, value, range.expected)?;
    }
    Ok(())
}

/// Passes when `holds`; otherwise names the field.
#[cold]
#[inline(never)]
pub(crate) fn require(
    holds: bool,
    field: &'static str,
    value: f32,
    expected: &'static str,
) -> Result<(), BuildError> {
    if holds {
        Ok(())
    } else {
        Err(BuildError {
            field,
            value,
            expected,
        })
    }
}

/// A finite value within `[lo, hi]`.
#[cold]
#[inline(never)]
pub(crate) fn within(
    field: &'static str,
    value: f32,
    lo: f32,
    hi: f32,
    expected: &'static str,
) -> Result<(), BuildError> {
    require(
        value.is_finite() && value >= lo && value <= hi,
        field,
        value,
        expected,
    )
}
