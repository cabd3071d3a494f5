//! The seconds around the roughest moment, at full rate.
//!
//! A ring holds the last seconds. Whenever a sample is rougher than all before,
//! the window is due half its length later, and is copied out of the ring then.

use super::envelope::Envelope;

/// Length of the window, s.
pub(super) const LENGTH_S: f64 = 5.0;
/// Buckets of a line through the window.
const LINE_BUCKETS: usize = 800;

/// Signals of a row.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(usize)]
pub(super) enum Signal {
    FloorAccel,
    PassiveAccel,
    SeatAccel,
    PassiveTravel,
    Travel,
    TravelRate,
    TravelRateEstimate,
    FloorVelocity,
    FloorVelocityEstimate,
}

/// Number of signals.
pub(super) const SIGNALS: usize = 9;
/// One sample of the window, indexed by [`Signal`].
pub(super) type Row = [f32; SIGNALS];

/// Keeps the window.
pub(super) struct Window {
    length: usize,
    ring: Vec<Row>,
    pushed: usize,
    roughest: f64,
    peak_at: Option<usize>,
    due_at: usize,
    kept: Vec<Row>,
    kept_from: usize,
}

/// The window after the ride.
pub(super) struct Event {
    /// Time of the roughest sample, s.
    pub(super) peak_s: f64,
    /// Time of the first row, s.
    pub(super) start_s: f64,
    /// Time of the last row, s.
    pub(super) end_s: f64,
    step_s: f64,
    rows: Vec<Row>,
}

impl Window {
    pub(super) fn new(step_s: f64) -> Self {
        let length = ((LENGTH_S / step_s).round() as usize).max(2);
        Self {
            length,
            ring: Vec::with_capacity(length),
            pushed: 0,
            roughest: -1.0,
            peak_at: None,
            due_at: usize::MAX,
            kept: Vec::new(),
            kept_from: 0,
        }
    }

    /// Takes a row; `roughness` decides which moment is kept, negative counts not at all.
    #[inline]
    pub(super) fn push(&mut self, row: Row, roughness: f64) {
        if self.ring.len() < self.length {
            self.ring.push(row);
        } else {
            self.ring[self.pushed % self.length] = row;
        }
        if roughness > self.roughest {
            self.roughest = roughness;
            self.peak_at = Some(self.pushed);
            self.due_at = (self.pushed + self.length / 2).max(self.length);
        }
        self.pushed += 1;
        if self.pushed == self.due_at {
            self.keep();
        }
    }

    fn keep(&mut self) {
        self.kept.clear();
        let oldest = if self.ring.len() < self.length {
            0
        } else {
            self.pushed % self.length
        };
        self.kept.extend_from_slice(&self.ring[oldest..]);
        self.kept.extend_from_slice(&self.ring[..oldest]);
        self.kept_from = self.pushed - self.ring.len();
        self.due_at = usize::MAX;
    }

    pub(super) fn finish(mut self, step_s: f64) -> Event {
        if self.due_at != usize::MAX || self.kept.is_empty() {
            self.keep();
        }
        let start_s = self.kept_from as f64 * step_s;
        Event {
            peak_s: self.peak_at.unwrap_or(self.kept_from) as f64 * step_s,
            start_s,
            end_s: start_s + self.kept.len().saturating_sub(1) as f64 * step_s,
            step_s,
            rows: self.kept,
        }
    }
}

impl Event {
    /// One signal as a line, values times `scale`.
    pub(super) fn trace(&self, signal: Signal, scale: f64) -> Vec<(f64, f64)> {
        let mut envelope = Envelope::<1>::new(LINE_BUCKETS);
        for row in &self.rows {
            envelope.push(&[f64::from(row[signal as usize])]);
        }
        envelope.trace(0, self.start_s, self.step_s, scale)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ride(rows: usize, peak_at: usize) -> Event {
        let mut window = Window::new(0.001);
        for i in 0..rows {
            let value = if i == peak_at {
                9.0
            } else {
                (i % 7) as f32 * 0.1
            };
            window.push([value; SIGNALS], f64::from(value));
        }
        window.finish(0.001)
    }

    #[test]
    fn window_is_centred_on_the_roughest_sample() {
        let event = ride(30_000, 12_345);
        assert_eq!(event.rows.len(), 5000);
        assert!((event.peak_s - 12.345).abs() < 1e-9);
        assert!((event.start_s - 9.845).abs() < 1e-9, "{}", event.start_s);
        assert_eq!(event.rows[2500][0], 9.0);
    }

    #[test]
    fn window_near_an_end_of_the_ride_stays_inside_it() {
        let early = ride(30_000, 100);
        assert_eq!((early.start_s, early.rows.len()), (0.0, 5000));
        assert_eq!(early.rows[100][0], 9.0);
        let late = ride(30_000, 29_900);
        assert!((late.start_s - 25.0).abs() < 1e-9);
        assert_eq!(late.rows[4900][0], 9.0);
        let short = ride(800, 700);
        assert_eq!((short.start_s, short.rows.len()), (0.0, 800));
    }
}
