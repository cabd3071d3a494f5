//! What the floor does to the travel between two knots.

use crate::floor::FloorState;

/// The floor's motion over one interval between knots, from rest at its start: only this enters the travel,
/// so that neither a drift of the floor nor its distance from the start can spoil the arithmetic.
#[derive(Clone, Debug)]
pub(crate) struct Interval {
    /// Displacement at the check points inside and at the end, m.
    pub(crate) displacement_m: Vec<f64>,
    /// Velocity at the end, m/s.
    pub(crate) velocity_mps: f64,
}

/// Splits floor acceleration samples into intervals of `samples` each, with the floor's displacement at every
/// `samples / checks(interval)`-th sample. The last samples that fill no interval are left out.
pub(crate) fn intervals(
    accel_mps2: &[f64],
    sample_s: f64,
    samples: usize,
    checks: impl Fn(usize) -> usize,
) -> Vec<Interval> {
    let count = accel_mps2.len().saturating_sub(1) / samples;
    (0..count)
        .map(|k| {
            let piece = &accel_mps2[k * samples..=(k + 1) * samples];
            let mut state = FloorState {
                accel_mps2: piece[0],
                ..FloorState::default()
            };
            let every = (samples / checks(k)).max(1);
            let mut displacement_m = Vec::with_capacity(samples / every);
            for (j, &accel) in piece.iter().enumerate().skip(1) {
                state = state.after(accel, sample_s, 1.0);
                if j % every == 0 {
                    displacement_m.push(state.displacement_m);
                }
            }
            Interval {
                displacement_m,
                velocity_mps: state.velocity_mps,
            }
        })
        .collect()
}
