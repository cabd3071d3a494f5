//! A ride in few numbers: least and greatest values in buckets of time, in several levels.
//!
//! A bucket holds a number of control periods that is a power of two. When all buckets are full,
//! pairs are merged and the width doubles, so that memory is bounded however long the ride. Every
//! sample stays between the least and the greatest value of its bucket at every level: a peak of
//! one period survives. Beside these a bucket keeps some values of its first period as they were,
//! which belong together in one instant: what moves is drawn from them.

/// Signals with a least and a greatest value in each bucket.
pub const TRACES: usize = 6;
/// Signals kept as they were in the first period of each bucket.
pub const INSTANTS: usize = 5;
/// Buckets of a level that make one of the next.
pub const FACTOR: usize = 8;
/// A level with no more buckets than this is the last.
const COARSEST: usize = 1500;

/// What is taken of one control period.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Period {
    /// Signals of which the extremes are kept.
    pub traces: [f64; TRACES],
    /// Signals of which single instants are kept.
    pub instants: [f64; INSTANTS],
}

/// Least and greatest value of each trace in one bucket.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Range {
    /// Least values; infinite when every sample was NaN.
    pub least: [f64; TRACES],
    /// Greatest values; minus infinite when every sample was NaN.
    pub greatest: [f64; TRACES],
}

impl Range {
    fn of(values: &[f64; TRACES]) -> Self {
        let mut range = Self {
            least: [f64::INFINITY; TRACES],
            greatest: [f64::NEG_INFINITY; TRACES],
        };
        range.take(values, values);
        range
    }

    /// `f64::min` and `max` pass over NaN.
    fn take(&mut self, least: &[f64; TRACES], greatest: &[f64; TRACES]) {
        for i in 0..TRACES {
            self.least[i] = self.least[i].min(least[i]);
            self.greatest[i] = self.greatest[i].max(greatest[i]);
        }
    }
}

/// One level: buckets of equal width, the last one perhaps not full.
#[derive(Clone, Debug, PartialEq)]
pub struct Level {
    /// Control periods in a full bucket; bucket `i` begins with period `i * width`.
    pub width: u64,
    /// The buckets.
    pub ranges: Vec<Range>,
}

/// Takes a ride period by period.
#[derive(Clone, Debug)]
pub struct Thinner {
    capacity: usize,
    width: u64,
    ranges: Vec<Range>,
    instants: Vec<[f64; INSTANTS]>,
    /// Periods in the last bucket, which is open.
    filled: u64,
    pushed: u64,
}

impl Thinner {
    /// At most `capacity` buckets; it is made even and at least 2.
    #[must_use]
    pub fn new(capacity: usize) -> Self {
        Self {
            capacity: capacity.max(2).next_multiple_of(2),
            width: 1,
            ranges: Vec::new(),
            instants: Vec::new(),
            filled: 0,
            pushed: 0,
        }
    }

    /// Takes one period.
    pub fn push(&mut self, period: &Period) {
        self.pushed += 1;
        match self.ranges.last_mut() {
            Some(open) if self.filled < self.width => {
                open.take(&period.traces, &period.traces);
                self.filled += 1;
                return;
            }
            _ => {}
        }
        if self.ranges.len() == self.capacity {
            self.halve();
        }
        self.ranges.push(Range::of(&period.traces));
        self.instants.push(period.instants);
        self.filled = 1;
    }

    /// All buckets are full: pairs become one.
    fn halve(&mut self) {
        self.ranges = merged(&self.ranges, 2);
        self.instants = self.instants.iter().step_by(2).copied().collect();
        self.width *= 2;
    }

    /// Periods taken.
    #[must_use]
    pub const fn pushed(&self) -> u64 {
        self.pushed
    }

    /// Control periods in a bucket of the finest level.
    #[must_use]
    pub const fn width(&self) -> u64 {
        self.width
    }

    /// The instants, `width` periods apart, the first at period 0.
    #[must_use]
    pub fn instants(&self) -> &[[f64; INSTANTS]] {
        &self.instants
    }

    /// All levels, the finest first.
    #[must_use]
    pub fn levels(&self) -> Vec<Level> {
        let mut levels = vec![Level {
            width: self.width,
            ranges: self.ranges.clone(),
        }];
        while let Some(last) = levels.last()
            && last.ranges.len() > COARSEST
        {
            levels.push(Level {
                width: last.width * FACTOR as u64,
                ranges: merged(&last.ranges, FACTOR),
            });
        }
        levels
    }
}

/// Every `count` buckets become one.
fn merged(ranges: &[Range], count: usize) -> Vec<Range> {
    ranges
        .chunks(count)
        .map(|chunk| {
            let mut all = chunk[0];
            for range in &chunk[1..] {
                all.take(&range.least, &range.greatest);
            }
            all
        })
        .collect()
}
