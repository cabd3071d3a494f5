//! Running r.m.s. over 1 s: linear window and exponential (ISO 2631-1, 6.3.1).
//!
//! Both report their maximum, the MTVV. The signal before the first sample
//! counts as zero. A record shorter than 1 s therefore never fills the
//! window, and its linear MTVV is below its r.m.s.

/// Integration time of the running r.m.s., s.
pub const INTEGRATION_TIME_S: f64 = 1.0;

/// Running mean square over a window of 1 s, largest value kept.
///
/// The window holds `round(fs)` samples. At a rate that is not a whole number
/// it is wrong by at most half a sample, 0.13 % of the window at 400 Hz. The
/// running sum is renewed once per window, so rounding does not build up.
#[derive(Debug, Clone)]
pub struct LinearWindow {
    squares: Vec<f64>,
    next: usize,
    sum: f64,
    sum_of_this_pass: f64,
    largest_sum: f64,
}

impl LinearWindow {
    /// Window for a sample rate in Hz; at least one sample long.
    #[must_use]
    pub fn new(sample_rate_hz: f64) -> Self {
        let length = (INTEGRATION_TIME_S * sample_rate_hz).round().max(1.0) as usize;
        Self {
            squares: vec![0.0; length],
            next: 0,
            sum: 0.0,
            sum_of_this_pass: 0.0,
            largest_sum: 0.0,
        }
    }

    /// Takes the square of the next sample.
    #[inline]
    pub fn push_square(&mut self, square: f64) {
        let oldest = std::mem::replace(&mut self.squares[self.next], square);
        self.sum += square - oldest;
        self.sum_of_this_pass += square;
        self.next += 1;
        if self.next == self.squares.len() {
            self.next = 0;
            self.sum = self.sum_of_this_pass;
            self.sum_of_this_pass = 0.0;
        }
        self.largest_sum = self.largest_sum.max(self.sum);
    }

    /// Running r.m.s. now, unit of the input.
    #[must_use]
    pub fn rms(&self) -> f64 {
        (self.sum / self.squares.len() as f64).max(0.0).sqrt()
    }

    /// Largest running r.m.s. so far, unit of the input.
    #[must_use]
    pub fn largest_rms(&self) -> f64 {
        (self.largest_sum / self.squares.len() as f64).sqrt()
    }
}

/// Exponential running mean square with a time constant of 1 s.
///
/// Exact for a square that is constant between samples.
#[derive(Debug, Clone)]
pub struct ExponentialWindow {
    share_of_new: f64,
    mean_square: f64,
    largest: f64,
}

impl ExponentialWindow {
    /// Window for a sample rate in Hz.
    #[must_use]
    pub fn new(sample_rate_hz: f64) -> Self {
        Self {
            share_of_new: -(-1.0 / (INTEGRATION_TIME_S * sample_rate_hz)).exp_m1(),
            mean_square: 0.0,
            largest: 0.0,
        }
    }

    /// Takes the square of the next sample.
    #[inline]
    pub fn push_square(&mut self, square: f64) {
        self.mean_square += self.share_of_new * (square - self.mean_square);
        self.largest = self.largest.max(self.mean_square);
    }

    /// Sets a mean square that has decayed to nothing to zero, so that a long
    /// silence does not run into slow subnormal arithmetic.
    pub(crate) fn silence(&mut self) {
        const NOTHING: f64 = 1e-280;
        if self.mean_square < NOTHING {
            self.mean_square = 0.0;
        }
    }

    /// Running r.m.s. now, unit of the input.
    #[must_use]
    pub fn rms(&self) -> f64 {
        self.mean_square.sqrt()
    }

    /// Largest running r.m.s. so far, unit of the input.
    #[must_use]
    pub fn largest_rms(&self) -> f64 {
        self.largest.sqrt()
    }
}
