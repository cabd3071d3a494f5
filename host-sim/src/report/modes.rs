//! Modes, faults and stop contacts in time, in bounded memory.

use firmware::{DriveFrame, Mode};

/// Largest number of changes kept.
const CHANGES: usize = 300;
/// Largest number of contacts kept for each seat.
const CONTACTS: usize = 300;

/// A mode or a set of faults that begins.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Change {
    pub(crate) time_s: f64,
    pub(crate) mode: u8,
    pub(crate) faults: u16,
}

/// Stop contacts of one seat.
#[derive(Clone, Debug)]
pub(crate) struct Contacts {
    /// True at first: a seat that begins on its stop has not run into it.
    inside: bool,
    pub(crate) count: usize,
    /// Times of the first contacts, s.
    pub(crate) times_s: Vec<f64>,
}

impl Contacts {
    const NONE: Self = Self {
        inside: true,
        count: 0,
        times_s: Vec::new(),
    };

    #[inline]
    fn step(&mut self, time_s: f64, touching: bool) {
        if touching && !self.inside {
            self.count += 1;
            if self.times_s.len() < CONTACTS {
                self.times_s.push(time_s);
            }
        }
        self.inside = touching;
    }
}

/// Everything that happens to modes and stops.
#[derive(Clone, Debug)]
pub(crate) struct ModeLog {
    end_m: f64,
    most: usize,
    pub(crate) changes: Vec<Change>,
    /// Changes that found no room.
    pub(crate) left_out: usize,
    last: Option<(u8, u16)>,
    pub(crate) law: Contacts,
    pub(crate) passive: Contacts,
}

impl ModeLog {
    pub(crate) fn new(end_m: f64) -> Self {
        Self::keeping(CHANGES, end_m)
    }

    /// A log of `most` changes.
    pub(crate) fn keeping(most: usize, end_m: f64) -> Self {
        Self {
            end_m,
            most,
            changes: Vec::new(),
            left_out: 0,
            last: None,
            law: Contacts::NONE,
            passive: Contacts::NONE,
        }
    }

    #[inline]
    pub(crate) fn push(&mut self, time_s: f64, drive: &DriveFrame, travel: f64, passive: f64) {
        let now = (drive.mode, drive.faults);
        if self.last != Some(now) {
            self.last = Some(now);
            if self.changes.len() < self.most {
                self.changes.push(Change {
                    time_s,
                    mode: now.0,
                    faults: now.1,
                });
            } else {
                self.left_out += 1;
            }
        }
        self.law.step(time_s, travel.abs() >= self.end_m);
        self.passive.step(time_s, passive.abs() >= self.end_m);
    }
}

/// Name of a mode by its number.
pub(crate) fn mode_name(code: u8) -> String {
    Mode::from_code(code).map_or_else(|| format!("mode {code}"), |mode| mode.name().to_owned())
}
