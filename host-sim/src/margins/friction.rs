//! Dry friction by describing function.
//!
//! For a travel rate that swings as a sine of amplitude V, a force that depends on it acts, at that
//! frequency, like a viscous one: the sine's share of the force over V (textbook material, for instance
//! A. Gelb and W. E. Vander Velde, Multiple-Input Describing Functions, 1968; from memory).

use std::f64::consts::PI;

/// Equivalent viscous friction of a dry force `force_n` at the rate amplitude `rate_mps` (> 0), N s/m: `4 F / (pi V)`.
#[must_use]
pub fn dry(force_n: f64, rate_mps: f64) -> f64 {
    4.0 * force_n / (PI * rate_mps)
}

/// Equivalent viscous friction of a force that is `force_n` from the rate `full_mps` on and in proportion
/// below it, N s/m.
#[must_use]
pub fn saturating(force_n: f64, full_mps: f64, rate_mps: f64) -> f64 {
    let slope = force_n / full_mps;
    if rate_mps <= full_mps {
        return slope;
    }
    let share = full_mps / rate_mps;
    slope * 2.0 / PI * (share.asin() + share * (1.0 - share * share).sqrt())
}
