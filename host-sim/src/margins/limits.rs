//! What the margins should be, and the worst of many.

use super::loops::Break;
use super::margin::Margins;
use super::study::Found;
use crate::limits::constant;
use serde::Serialize;

// One limit for both ways.
const _: () = assert!(constant::GAIN_MARGIN_UP == constant::GAIN_MARGIN_DOWN);

/// Least margins, from the register of limits.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Limits {
    /// Gain margin, up and down, dB.
    pub gain_margin_db: f64,
    /// Phase margin, degrees.
    pub phase_margin_deg: f64,
    /// Disk margin.
    pub disk_margin: f64,
    /// Delay margin, s.
    pub delay_margin_s: f64,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            gain_margin_db: constant::GAIN_MARGIN_UP,
            phase_margin_deg: constant::PHASE_MARGIN,
            disk_margin: constant::DISK_MARGIN,
            delay_margin_s: constant::DELAY_MARGIN,
        }
    }
}

/// The worst value of each margin and where it was found.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Worst {
    /// Gain margin up, dB; null: nothing breaks it.
    pub gain_margin_up_db: f64,
    /// Gain margin down, dB; null: nothing breaks it.
    pub gain_margin_down_db: f64,
    /// Phase margin, degrees.
    pub phase_margin_deg: f64,
    /// Disk margin.
    pub disk_margin: f64,
    /// Delay margin, s.
    pub delay_margin_s: f64,
    /// Largest magnitude of a pole.
    pub largest_pole: f64,
    /// Where each was found.
    #[serde(rename = "where")]
    pub place: WorstPlaces,
}

/// Where the worst values were found, in words.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct WorstPlaces {
    /// Gain margin up.
    pub gain_margin_up_db: String,
    /// Gain margin down.
    pub gain_margin_down_db: String,
    /// Phase margin.
    pub phase_margin_deg: String,
    /// Disk margin.
    pub disk_margin: String,
    /// Delay margin.
    pub delay_margin_s: String,
    /// Pole.
    pub largest_pole: String,
}

impl Worst {
    /// Over all places where the loop may be broken.
    pub fn of<'a>(all: impl Iterator<Item = &'a Found>) -> Self {
        let mut worst = Self::none();
        for found in all {
            for (place, margins) in Break::ALL.into_iter().zip(&found.margins) {
                worst.take(found, place, margins);
            }
        }
        worst
    }

    /// At one of them.
    pub fn at<'a>(all: impl Iterator<Item = &'a Found>, place: Break) -> Self {
        let mut worst = Self::none();
        for found in all {
            for (other, margins) in Break::ALL.into_iter().zip(&found.margins) {
                if other == place {
                    worst.take(found, place, margins);
                }
            }
        }
        worst
    }

    fn none() -> Self {
        Self {
            gain_margin_up_db: f64::INFINITY,
            gain_margin_down_db: f64::INFINITY,
            phase_margin_deg: f64::INFINITY,
            disk_margin: f64::INFINITY,
            delay_margin_s: f64::INFINITY,
            largest_pole: 0.0,
            place: WorstPlaces::default(),
        }
    }

    fn take(&mut self, found: &Found, place: Break, m: &Margins) {
        let words = || format!("{}: {}", place.name(), found.point.words());
        for (mine, text, value) in [
            (
                &mut self.gain_margin_up_db,
                &mut self.place.gain_margin_up_db,
                m.gain_margin_up_db,
            ),
            (
                &mut self.gain_margin_down_db,
                &mut self.place.gain_margin_down_db,
                m.gain_margin_down_db,
            ),
            (
                &mut self.phase_margin_deg,
                &mut self.place.phase_margin_deg,
                m.phase_margin_deg,
            ),
            (
                &mut self.disk_margin,
                &mut self.place.disk_margin,
                m.disk_margin,
            ),
            (
                &mut self.delay_margin_s,
                &mut self.place.delay_margin_s,
                m.delay_margin_s,
            ),
        ] {
            // What is no number is the worst of all.
            if !at_least(value, *mine) {
                *mine = value;
                *text = words();
            }
        }
        if !at_least(self.largest_pole, found.largest_pole) {
            self.largest_pole = found.largest_pole;
            self.place.largest_pole = found.point.words();
        }
    }
}

impl Limits {
    /// Each margin with its limit, by name.
    #[must_use]
    pub fn rows(&self, worst: &Worst) -> [(&'static str, f64, f64); 5] {
        [
            (
                "gain margin up, dB",
                worst.gain_margin_up_db,
                self.gain_margin_db,
            ),
            (
                "gain margin down, dB",
                worst.gain_margin_down_db,
                self.gain_margin_db,
            ),
            (
                "phase margin, degrees",
                worst.phase_margin_deg,
                self.phase_margin_deg,
            ),
            ("disk margin", worst.disk_margin, self.disk_margin),
            (
                "delay margin, ms",
                1.0e3 * worst.delay_margin_s,
                1.0e3 * self.delay_margin_s,
            ),
        ]
    }

    /// What is broken, in words.
    #[must_use]
    pub fn broken(&self, worst: &Worst) -> Vec<String> {
        self.rows(worst)
            .into_iter()
            .filter(|(_, value, limit)| !at_least(*value, *limit))
            .map(|(name, value, limit)| format!("{name}: {value:.3}, at least {limit} wanted"))
            .collect()
    }

    /// Which of [`NAMES`] a found point breaks: all, where it is unstable.
    #[must_use]
    pub fn broken_at(&self, found: &Found) -> [bool; NAMES.len()] {
        if !inside(found.largest_pole) {
            return [true; NAMES.len()];
        }
        let rows = self.rows(&Worst::of(std::iter::once(found)));
        core::array::from_fn(|i| match rows.get(i) {
            Some((_, value, limit)) => !at_least(*value, *limit),
            None => false,
        })
    }
}

/// Names of the limits.
pub const NAMES: [&str; 6] = [
    "gain margin up",
    "gain margin down",
    "phase margin",
    "disk margin",
    "delay margin",
    "poles",
];

/// Whether a value is a number at or above a limit: what is no number is not.
#[must_use]
pub fn at_least(value: f64, limit: f64) -> bool {
    value >= limit
}

/// Whether a pole's magnitude is a number below one.
#[must_use]
pub fn inside(magnitude: f64) -> bool {
    magnitude < 1.0
}
