//! The rest check: biases, noise, and whether the accelerometers point the same way.
//!
//! While friction holds the seat, it moves with the floor, and both accelerometers see the same: the hum of
//! an idling engine, a knock on the floor. The sign of their correlation is their relative polarity.

use super::phasor::CHANNELS;
use shared_math::Scalar;

/// Readings at rest.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Rest {
    pub(super) current_a: f32,
    pub(super) travel_m: f32,
    pub(super) seat_mps2: f32,
    pub(super) floor_mps2: f32,
    pub(super) seat_rms_mps2: f32,
    pub(super) floor_rms_mps2: f32,
    /// Of seat and floor acceleration; zero when one of them does not move.
    pub(super) correlation: f32,
}

/// Sums at rest, around the first readings, so that they stay small.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Sums {
    first: Option<[f32; CHANNELS]>,
    sum: [f32; CHANNELS],
    seat2: f32,
    floor2: f32,
    both: f32,
    steps: u16,
}

impl Sums {
    /// Takes current, travel, seat and floor acceleration of one step; how many there are now.
    pub(super) fn push(&mut self, values: &[f32; CHANNELS]) -> u16 {
        let first = *self.first.get_or_insert(*values);
        let mut off = *values;
        for ((off, first), sum) in off.iter_mut().zip(first).zip(&mut self.sum) {
            *off -= first;
            *sum += *off;
        }
        let [_, _, seat, floor] = off;
        self.seat2 += seat * seat;
        self.floor2 += floor * floor;
        self.both += seat * floor;
        self.steps = self.steps.saturating_add(1);
        self.steps
    }

    /// The readings at rest.
    pub(super) fn rest(&self) -> Rest {
        let per = 1.0 / f32::from(if self.steps == 0 { 1 } else { self.steps });
        let mean = self.sum.map(|s| s * per);
        let [_, _, seat, floor] = mean;
        let seat_square = Scalar::max(self.seat2 * per - seat * seat, 0.0);
        let floor_square = Scalar::max(self.floor2 * per - floor * floor, 0.0);
        let both = self.both * per - seat * floor;
        let scale = Scalar::sqrt(seat_square * floor_square);
        let mut at = self.first.unwrap_or_default();
        for (at, mean) in at.iter_mut().zip(mean) {
            *at += mean;
        }
        let [current_a, travel_m, seat_mps2, floor_mps2] = at;
        Rest {
            current_a,
            travel_m,
            seat_mps2,
            floor_mps2,
            seat_rms_mps2: Scalar::sqrt(seat_square),
            floor_rms_mps2: Scalar::sqrt(floor_square),
            correlation: if scale > 0.0 {
                Scalar::limit(both / scale, -1.0, 1.0)
            } else {
                0.0
            },
        }
    }
}
