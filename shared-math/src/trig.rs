//! Sine for slow, small signals, from `micromath`.
//!
//! `micromath` approximates; the largest error over a turn is asserted in the
//! tests to stay below [`SINE_ERROR`]. It serves where that does no harm:
//! test signals. It is not used in an estimate or a limit.

/// Largest error of [`sine`] against the true sine over one turn.
pub const SINE_ERROR: f32 = 0.002;

/// Approximate sine of an angle in radians, for `|x| <= 2 pi`.
#[must_use]
pub fn sine(x: f32) -> f32 {
    micromath::F32Ext::sin(x)
}
