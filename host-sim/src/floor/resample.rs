//! Puts samples on even time grids.

use super::butterworth::{CornerError, Side, design, forward_backward};

/// Stamps this close to their even places (share of a step) count as even.
const EVEN_TOLERANCE: f64 = 0.01;

/// Corner of the low-pass before a slower grid, as a share of that grid's rate.
pub const ANTI_ALIAS_SHARE: f64 = 0.4;

/// True when all stamps lie within 1 % of a step of an even grid between first and last.
#[must_use]
pub fn is_even(time_s: &[f64]) -> bool {
    let (Some(&first), Some(&last)) = (time_s.first(), time_s.last()) else {
        return true;
    };
    let step_s = (last - first) / (time_s.len() - 1).max(1) as f64;
    time_s
        .iter()
        .enumerate()
        .all(|(i, t)| (t - first - i as f64 * step_s).abs() <= EVEN_TOLERANCE * step_s)
}

/// Puts `values` at rising `time_s` (at least two, of equal length) on an even grid of as many
/// samples from first to last stamp; gives the grid's rate in Hz and the values there.
///
/// Even stamps leave the values as they are; otherwise they are interpolated linearly.
#[must_use]
pub fn even_grid(time_s: &[f64], values: Vec<f64>) -> (f64, Vec<f64>) {
    let count = time_s.len();
    if count < 2 || values.len() != count {
        return (0.0, values);
    }
    let step_s = (time_s[count - 1] - time_s[0]) / (count - 1) as f64;
    if is_even(time_s) {
        return (1.0 / step_s, values);
    }
    let mut cursor = 0;
    let even = (0..count)
        .map(|i| interpolate(time_s, &values, &mut cursor, time_s[0] + i as f64 * step_s))
        .collect();
    (1.0 / step_s, even)
}

/// Linear interpolation at `at_s`; outside the stamps the end values hold. `cursor` remembers the
/// place: ask in rising order.
#[must_use]
pub fn interpolate(time_s: &[f64], values: &[f64], cursor: &mut usize, at_s: f64) -> f64 {
    while *cursor + 2 < time_s.len() && time_s[*cursor + 1] <= at_s {
        *cursor += 1;
    }
    let (Some(pair), Some(ends)) = (
        time_s.get(*cursor..*cursor + 2),
        values.get(*cursor..*cursor + 2),
    ) else {
        return values.last().copied().unwrap_or(0.0);
    };
    let share = ((at_s - pair[0]) / (pair[1] - pair[0])).clamp(0.0, 1.0);
    ends[0] + share * (ends[1] - ends[0])
}

/// Low-pass before samples at `from_rate_hz` are taken over to the slower `to_rate_hz`:
/// fourth-order Butterworth at 0.4 x `to_rate_hz`, run forwards and backwards: no phase shift, gain 1/2
/// at the corner, 0.04 at 0.6 x `to_rate_hz` (what folds back onto the corner), below 0.002 from
/// 0.9 x `to_rate_hz` (what folds back below a tenth of the rate). The last two hold when
/// `from_rate_hz` is much higher; nearer to `to_rate_hz` the gains are smaller still.
///
/// # Errors
/// [`CornerError`] when the corner does not lie below half of `from_rate_hz`.
pub fn anti_alias(
    values: &mut Vec<f64>,
    from_rate_hz: f64,
    to_rate_hz: f64,
) -> Result<(), CornerError> {
    let sections = design::<2>(Side::Low, ANTI_ALIAS_SHARE * to_rate_hz, from_rate_hz)?;
    forward_backward(sections, values);
    Ok(())
}
