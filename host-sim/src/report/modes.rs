//! Modes, faults and stop contacts in time, in bounded memory.

use firmware::{DriveFrame, Mode};

/// Largest number of changes kept.
const CHANGES: usize = 300;
/// Largest number of contacts kept for each seat.
const CONTACTS: usize = 300;

/// A mode or a set of faults that begins.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Change {
    pub(super) time_s: f64,
    pub(super) mode: u8,
    pub(super) faults: u16,
}

/// Stop contacts of one seat.
#[derive(Clone, Debug)]
pub(super) struct Contacts {
    /// True at first: a seat that begins on its stop has not run into it.
    inside: bool,
    pub(super) count: usize,
    /// Times of the first contacts, s.
    pub(super) times_s: Vec<f64>,
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
pub(super) struct ModeLog {
    end_m: f64,
    pub(super) changes: Vec<Change>,
    /// Changes that found no room.
    pub(super) left_out: usize,
    last: Option<(u8, u16)>,
    pub(super) law: Contacts,
    pub(super) passive: Contacts,
}

impl ModeLog {
    pub(super) fn new(end_m: f64) -> Self {
        Self {
            end_m,
            changes: Vec::new(),
            left_out: 0,
            last: None,
            law: Contacts::NONE,
            passive: Contacts::NONE,
        }
    }

    #[inline]
    pub(super) fn push(&mut self, time_s: f64, drive: &DriveFrame, travel: f64, passive: f64) {
        let now = (drive.mode, drive.faults);
        if self.last != Some(now) {
            self.last = Some(now);
            if self.changes.len() < CHANGES {
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
pub(super) fn mode_name(code: u8) -> String {
    Mode::from_code(code).map_or_else(|| format!("mode {code}"), |mode| mode.name().to_owned())
}
