//! Least and greatest values in time, in bounded memory.
//!
//! Samples go into buckets of equal width. When all buckets are full, pairs are
//! merged and the width doubles. Every sample stays inside the envelope, so that
//! a peak of one sample survives however long the ride.

/// Envelopes of `N` signals that are sampled together.
#[derive(Debug, Clone)]
pub struct Envelope<const N: usize> {
    capacity: usize,
    width: usize,
    buckets: Vec<Bucket<N>>,
    open: Bucket<N>,
    filled: usize,
}

/// Least and greatest value of each signal in one bucket.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bucket<const N: usize> {
    /// Least values; infinite when every sample was NaN.
    pub least: [f64; N],
    /// Greatest values; minus infinite when every sample was NaN.
    pub greatest: [f64; N],
}

impl<const N: usize> Bucket<N> {
    const EMPTY: Self = Self {
        least: [f64::INFINITY; N],
        greatest: [f64::NEG_INFINITY; N],
    };

    #[inline]
    fn take(&mut self, least: &[f64; N], greatest: &[f64; N]) {
        for i in 0..N {
            self.least[i] = self.least[i].min(least[i]);
            self.greatest[i] = self.greatest[i].max(greatest[i]);
        }
    }
}

impl<const N: usize> Envelope<N> {
    /// At most `capacity` buckets; it is made even and at least 2.
    #[must_use]
    pub fn new(capacity: usize) -> Self {
        let capacity = capacity.max(2).next_multiple_of(2);
        Self {
            capacity,
            width: 1,
            buckets: Vec::with_capacity(capacity),
            open: Bucket::EMPTY,
            filled: 0,
        }
    }

    /// Takes one sample of every signal. NaN is passed over.
    #[inline]
    pub fn push(&mut self, values: &[f64; N]) {
        self.open.take(values, values);
        self.filled += 1;
        if self.filled == self.width {
            self.close_bucket();
        }
    }

    fn close_bucket(&mut self) {
        self.buckets.push(self.open);
        self.open = Bucket::EMPTY;
        self.filled = 0;
        if self.buckets.len() == self.capacity {
            for i in 0..self.capacity / 2 {
                let mut merged = self.buckets[2 * i];
                let second = self.buckets[2 * i + 1];
                merged.take(&second.least, &second.greatest);
                self.buckets[i] = merged;
            }
            self.buckets.truncate(self.capacity / 2);
            self.width *= 2;
        }
    }

    /// Samples in a full bucket.
    #[must_use]
    pub const fn width(&self) -> usize {
        self.width
    }

    /// All buckets in order, the last one perhaps not full.
    pub fn buckets(&self) -> impl Iterator<Item = &Bucket<N>> + '_ {
        self.buckets
            .iter()
            .chain((self.filled > 0).then_some(&self.open))
    }

    /// Least and greatest value of one signal; `None` without a finite sample.
    #[must_use]
    pub fn range(&self, signal: usize) -> Option<(f64, f64)> {
        let range = self
            .buckets()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), b| {
                (lo.min(b.least[signal]), hi.max(b.greatest[signal]))
            });
        (range.0.is_finite() && range.1.is_finite()).then_some(range)
    }

    /// The least values of one signal as a line, as [`Self::trace`].
    #[must_use]
    pub fn least_trace(
        &self,
        signal: usize,
        start_s: f64,
        step_s: f64,
        scale: f64,
    ) -> Vec<(f64, f64)> {
        let width_s = self.width as f64 * step_s;
        self.buckets()
            .enumerate()
            .map(|(i, bucket)| {
                let middle_s = start_s + (i as f64 + 0.5) * width_s;
                (middle_s, bucket.least[signal] * scale)
            })
            .filter(|point| point.1.is_finite())
            .collect()
    }

    /// One signal as a line through both values of every bucket: time in
    /// seconds for samples `step_s` apart, the first at `start_s`; values times `scale`.
    #[must_use]
    pub fn trace(&self, signal: usize, start_s: f64, step_s: f64, scale: f64) -> Vec<(f64, f64)> {
        let mut points: Vec<(f64, f64)> = Vec::with_capacity(2 * self.buckets.len() + 2);
        let width_s = self.width as f64 * step_s;
        for (i, bucket) in self.buckets().enumerate() {
            let (least, greatest) = (
                bucket.least[signal] * scale,
                bucket.greatest[signal] * scale,
            );
            let left_s = start_s + i as f64 * width_s;
            if !(least.is_finite() && greatest.is_finite()) {
                continue;
            }
            if self.width == 1 || least == greatest {
                points.push((left_s + 0.5 * (width_s - step_s), least));
                continue;
            }
            // From where the line is, the nearer value comes first.
            let falling = points
                .last()
                .is_some_and(|last| last.1 > 0.5 * (least + greatest));
            let (first, second) = if falling {
                (greatest, least)
            } else {
                (least, greatest)
            };
            points.push((left_s + 0.25 * width_s, first));
            points.push((left_s + 0.75 * width_s, second));
        }
        points
    }
}
