//! Values of a ride, or of what stands beside it, that must lie within a range.

/// A value out of its range.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("{field} = {value}: expected {expected}")]
pub struct OutOfRange {
    /// Which value.
    pub field: &'static str,
    /// The value found.
    pub value: f64,
    /// What was expected.
    pub expected: &'static str,
}

/// Whether `value` is finite and within `lo..=hi`; `expected` says so in words.
///
/// # Errors
/// When it is not.
pub fn within(
    field: &'static str,
    value: f64,
    lo: f64,
    hi: f64,
    expected: &'static str,
) -> Result<(), OutOfRange> {
    if value.is_finite() && value >= lo && value <= hi {
        Ok(())
    } else {
        Err(OutOfRange {
            field,
            value,
            expected,
        })
    }
}

/// Length of a record and its start that is left out of the figures, s.
///
/// # Errors
/// A length outside 0.1 to 1000000 s; a start that leaves less than 0.05 s.
pub fn lengths(seconds: f64, skip_s: f64) -> Result<(), OutOfRange> {
    within("seconds", seconds, 0.1, 1.0e6, "0.1 to 1000000 s")?;
    within(
        "skip",
        skip_s,
        0.0,
        seconds - 0.05,
        "0 to just below the length of the ride",
    )
}
