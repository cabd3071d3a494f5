//! What is kept of a ride from the onset on: one entry a control period.

use crate::plant::Plant;

/// Steps of acceleration are looked for within this many periods: 2 ms at 1 kHz.
const STEP_PERIODS: usize = 2;
/// A difference of acceleration counts when its mean over this many periods does: 5 ms at 1 kHz.
const MEAN_PERIODS: usize = 5;

#[derive(Clone, Debug, Default)]
pub(super) struct Window {
    /// Seat acceleration at the start of each period, m/s2.
    accel: Vec<f64>,
    /// Travel rate there, m/s.
    rate: Vec<f64>,
    /// Whether the seat was at a stop there.
    touches: Vec<bool>,
    /// Hardest contact until the end of each period, m/s.
    contact: Vec<f64>,
}

/// Where two rides part.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Parting {
    /// First period in which the difference counts.
    pub(super) first: Option<usize>,
    /// Largest difference of acceleration, mean over 5 ms, m/s2.
    pub(super) accel_mps2: f64,
    /// Largest difference of travel rate, m/s.
    pub(super) rate_mps: f64,
}

impl Window {
    /// The start of a period.
    pub(super) fn start(&mut self, plant: &Plant) {
        self.accel.push(plant.seat_accel());
        self.rate.push(plant.travel_rate());
        self.touches.push(plant.touches_a_stop());
    }

    /// The end of the same period.
    pub(super) fn end(&mut self, plant: &Plant) {
        self.contact.push(plant.stops().speed_max_mps);
    }

    /// Peak acceleration of the first `count` periods, m/s2.
    pub(super) fn peak(&self, count: usize) -> f64 {
        self.accel
            .iter()
            .take(count)
            .fold(0.0, |most, a| most.max(a.abs()))
    }

    /// Hardest contact of the first `count` periods, m/s.
    pub(super) fn contact(&self, count: usize) -> f64 {
        self.contact
            .iter()
            .take(count)
            .next_back()
            .copied()
            .unwrap_or(0.0)
    }

    /// First period in which either limit is exceeded.
    pub(super) fn breaks(&self, contact_mps: f64, peak_mps2: f64) -> Option<usize> {
        (0..self.contact.len())
            .find(|k| self.contact[*k] > contact_mps || self.accel[*k].abs() > peak_mps2)
    }

    /// Largest change of acceleration within 2 ms, away from the stops, m/s2; among `count` periods from `from` on.
    pub(super) fn largest_step(&self, from: usize, count: usize) -> f64 {
        // The change into the first period counts.
        let first = from.saturating_sub(1);
        let last = (from + count).min(self.accel.len());
        let mut most = 0.0_f64;
        for k in first..last {
            for ahead in 1..=STEP_PERIODS {
                let end = k + ahead;
                if end < last && self.touches[k..=end].iter().all(|t| !t) {
                    most = most.max((self.accel[end] - self.accel[k]).abs());
                }
            }
        }
        most
    }

    /// Where this ride parts from another.
    pub(super) fn parting(&self, other: &Self, accel_mps2: f64, rate_mps: f64) -> Parting {
        let mut parting = Parting::default();
        let mut sum = 0.0;
        let difference = |k: usize| self.accel[k] - other.accel[k];
        for k in 0..self.accel.len().min(other.accel.len()) {
            sum += difference(k);
            if k >= MEAN_PERIODS {
                sum -= difference(k - MEAN_PERIODS);
            }
            let mean = (sum / MEAN_PERIODS as f64).abs();
            let rate = (self.rate[k] - other.rate[k]).abs();
            parting.accel_mps2 = parting.accel_mps2.max(mean);
            parting.rate_mps = parting.rate_mps.max(rate);
            if parting.first.is_none() && (mean > accel_mps2 || rate > rate_mps) {
                parting.first = Some(k);
            }
        }
        parting
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn window(accel: &[f64], touches: &[usize]) -> Window {
        Window {
            accel: accel.to_vec(),
            rate: vec![0.0; accel.len()],
            touches: (0..accel.len()).map(|k| touches.contains(&k)).collect(),
            contact: vec![0.0; accel.len()],
        }
    }

    #[test]
    fn a_step_counts_within_two_periods_and_away_from_the_stops() {
        let jump = [0.0, 0.0, 0.0, 2.0, 5.0, 5.0, 9.0];
        assert_eq!(window(&jump, &[]).largest_step(0, 7), 5.0);
        // A period at a stop takes all steps over it away.
        assert_eq!(window(&jump, &[4]).largest_step(0, 7), 4.0);
        assert_eq!(window(&jump, &[4, 6]).largest_step(0, 7), 2.0);
        // The change into the first period counts, none before it.
        assert_eq!(window(&jump, &[]).largest_step(5, 2), 4.0);
        assert_eq!(window(&jump, &[]).largest_step(3, 1), 2.0);
    }

    #[test]
    fn rides_part_where_the_mean_of_five_periods_does() {
        let still = window(&[0.0; 12], &[]);
        let mut other = still.clone();
        other.accel[4..9].fill(1.0);
        let parting = other.parting(&still, 0.5, 0.01);
        // Three of five are 0.6.
        assert_eq!(parting.first, Some(6));
        assert_eq!(parting.accel_mps2, 1.0);
        let mut spike = still.clone();
        spike.accel[3] = 2.4;
        assert_eq!(spike.parting(&still, 0.5, 0.01).first, None);
        spike.rate[8] = -0.011;
        assert_eq!(spike.parting(&still, 0.5, 0.01).first, Some(8));
    }

    #[test]
    fn limits_break_at_the_first_contact_or_peak() {
        let mut ride = window(&[0.0, 1.0, -3.0, 1.0], &[]);
        assert_eq!(ride.breaks(0.25, 2.0), Some(2));
        ride.contact[1..].fill(0.3);
        assert_eq!(ride.breaks(0.25, 2.0), Some(1));
        assert_eq!((ride.peak(2), ride.peak(4)), (1.0, 3.0));
        assert_eq!((ride.contact(1), ride.contact(4)), (0.0, 0.3));
        assert_eq!(ride.breaks(0.3, 3.0), None);
    }
}
