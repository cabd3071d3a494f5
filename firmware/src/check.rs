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
    /// Which of the stage's words it is.
    word: usize,
    range: Range,
}

impl Rule {
    /// The rule for the word that begins after so many bytes; [`rules!`] writes it.
    pub(crate) const fn new(field: &'static str, offset: usize, range: Range) -> Self {
        Self {
            field,
            word: offset / 4,
            range,
        }
    }
}

/// Least and greatest value that are taken, and the same in words.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Range {
    lo: f32,
    hi: f32,
    expected: &'static str,
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
    Range { lo, hi, expected }
}

/// The rules of a stage's parameters, one a field, within their own `impl`:
/// `rules!["arrest": rest_m: range(0.005, 1.0, "0.005 to 1 m"), ...]`.
macro_rules! rules {
    [$stage:literal: $($field:ident: $range:expr),+ $(,)?] => {
        const {
            &[$($crate::check::Rule::new(
                concat!($stage, ".", stringify!($field)),
                core::mem::offset_of!(Self, $field),
                $range,
            )),+]
        }
    };
}
pub(crate) use rules;

/// Checks a stage's parameters by its rules, in their order. A table and one loop take less flash than code for
/// each of them.
pub(crate) fn hold(parameters: &impl Plain, rules: &[Rule]) -> Result<(), BuildError> {
    words_hold(parameters.words(), f32::NEG_INFINITY, rules)
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
    for rule in rules {
        let value = f32::from_bits(words.get(rule.word).copied().unwrap_or(u32::MAX));
        let Range { lo, hi, expected } = rule.range;
        let holds = value >= least && value >= lo && value <= hi;
        require(holds, rule.field, value, expected)?;
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
