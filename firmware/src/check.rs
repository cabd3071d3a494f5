//! Checks that every stage's `build` makes on its parameters.

use core::fmt;

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

/// Passes when `holds`; otherwise names the field.
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

/// A finite value above zero.
pub(crate) fn positive(field: &'static str, value: f32) -> Result<(), BuildError> {
    require(
        value.is_finite() && value > 0.0,
        field,
        value,
        "a finite value above zero",
    )
}

/// A finite value of zero or more.
pub(crate) fn not_negative(field: &'static str, value: f32) -> Result<(), BuildError> {
    require(
        value.is_finite() && value >= 0.0,
        field,
        value,
        "a finite value of zero or more",
    )
}

/// A finite value within `[lo, hi]`.
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
