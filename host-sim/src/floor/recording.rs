//! A floor from a recorded acceleration.
//!
//! 1. Time stamps: used as they are, or as an even grid when within 1 % of a step of it.
//! 2. Recording faster than the control rate (by more than 1 %): put on an even grid at its mean
//!    rate, then low-passed without phase shift by [`anti_alias`].
//! 3. Linear interpolation onto the control grid, which starts at the first stamp. (For a slower
//!    recording this loses a little near half of its own rate: the gain is sinc^2, 0.97 at a tenth.)
//! 4. The mean over the whole recording is taken off, unless `keep_mean` says otherwise. Gravity, when it is included, goes with it;
//!    [`Recording::gravity_included`] tells.
//! 5. Level; then a fade-in and fade-out of acceleration over `fade_s` (0.5 s) by a smooth ramp.
//! 6. Drift: causal second-order Butterworth high-pass at `high_pass_hz` (0.05 Hz), starting
//!    settled on the mean (which is zero after step 4). It goes on after the end of the recording,
//!    so that the floor comes to rest.
//!
//! The recording is held in memory.

use super::FloorSource;
use super::butterworth::{Cascade, Side, design};
use super::csv_columns::{AccelUnit, Column, ColumnChoice, read_raw};
use super::error::FloorError;
use super::options::pairs;
use super::ramp::window;
use super::resample::{anti_alias, even_grid, interpolate, is_even};
use serde::{Deserialize, Serialize};
use std::path::Path;

const EXPECTED: &str = "time=COLUMN, accel=COLUMN (a header, or a number from 1), unit=m/s2 or g, \
                        fade=SECONDS (0 to 60), highpass=HZ (0 for none, or 0.005 to 2)";

/// How to read and treat a recording.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct RecordingOptions {
    /// Column of time in seconds; see [`ColumnChoice::time`].
    pub time: Option<Column>,
    /// Column of acceleration; see [`ColumnChoice::accel`].
    pub accel: Option<Column>,
    /// Unit of acceleration.
    pub unit: AccelUnit,
    /// Fade-in and fade-out, s: 0 to 60, at most half of the recording.
    pub fade_s: f64,
    /// Corner of the high-pass, Hz: 0.005 to 2, or 0 for none.
    pub high_pass_hz: f64,
    /// Leave the mean in: for floors that were made, not recorded.
    pub keep_mean: bool,
}

impl Default for RecordingOptions {
    fn default() -> Self {
        Self {
            time: None,
            accel: None,
            unit: AccelUnit::Mps2,
            fade_s: 0.5,
            high_pass_hz: 0.05,
            keep_mean: false,
        }
    }
}

impl RecordingOptions {
    /// Takes options as written behind the file's name, and checks all.
    pub(crate) fn with_text(&self, file: &str, text: Option<&str>) -> Result<Self, FloorError> {
        let mut options = self.clone();
        for (key, value) in text.map_or_else(|| Ok(Vec::new()), |text| pairs(file, text))? {
            let bad = || FloorError::BadOption {
                floor: file.to_owned(),
                key: key.to_owned(),
                value: value.to_owned(),
                expected: EXPECTED.to_owned(),
            };
            match key {
                "time" => options.time = Some(Column::from(value)),
                "accel" => options.accel = Some(Column::from(value)),
                "unit" => {
                    options.unit = match value {
                        "m/s2" => AccelUnit::Mps2,
                        "g" => AccelUnit::G,
                        _ => return Err(bad()),
                    };
                }
                "fade" => options.fade_s = value.parse().map_err(|_| bad())?,
                "highpass" => options.high_pass_hz = value.parse().map_err(|_| bad())?,
                _ => {
                    return Err(FloorError::UnknownOption {
                        floor: file.to_owned(),
                        key: key.to_owned(),
                        expected: EXPECTED.to_owned(),
                    });
                }
            }
        }
        if !(0.0..=60.0).contains(&options.fade_s) {
            return Err(FloorError::BadField {
                field: "fade_s",
                value: options.fade_s,
                expected: "0 to 60 s",
            });
        }
        if options.high_pass_hz != 0.0 && !(0.005..=2.0).contains(&options.high_pass_hz) {
            return Err(FloorError::BadField {
                field: "high_pass_hz",
                value: options.high_pass_hz,
                expected: "0 for none, or 0.005 to 2 Hz",
            });
        }
        Ok(options)
    }
}

/// A recorded floor, on its way to the control grid.
pub struct Recording {
    time_s: Vec<f64>,
    accel_mps2: Vec<f64>,
    cursor: usize,
    index: u64,
    interval_s: f64,
    duration_s: f64,
    mean_mps2: f64,
    level: f64,
    fade_s: f64,
    high_pass: Option<Cascade<1>>,
    file_rate_hz: f64,
    evened: bool,
}

impl Recording {
    /// Reads and prepares a recording.
    ///
    /// # Errors
    /// [`FloorError`] for a file that is refused or a filter that does not fit the rates.
    pub fn load(
        path: &Path,
        options: &RecordingOptions,
        level: f64,
        sample_rate_hz: f64,
    ) -> Result<Self, FloorError> {
        let file = path.display().to_string();
        let options = options.with_text(&file, None)?;
        let columns = read_raw(
            path,
            &ColumnChoice {
                time: options.time.clone(),
                accel: options.accel.iter().cloned().collect(),
                unit: options.unit,
            },
        )?;
        let accel_mps2 = columns.accel_mps2.into_iter().next().unwrap_or_default();
        Self::of(
            &columns.time_s,
            accel_mps2,
            &options,
            level,
            sample_rate_hz,
            &file,
        )
    }

    /// The same from what the file holds: rising stamps, at least two, and as many values.
    pub(crate) fn of(
        stamps_s: &[f64],
        mut accel_mps2: Vec<f64>,
        options: &RecordingOptions,
        level: f64,
        sample_rate_hz: f64,
        file: &str,
    ) -> Result<Self, FloorError> {
        let corner = |source| FloorError::Corner {
            floor: file.to_owned(),
            source,
        };
        let start_s = stamps_s[0];
        let mut time_s: Vec<f64> = stamps_s.iter().map(|t| t - start_s).collect();
        let count = time_s.len();
        let duration_s = time_s[count - 1];
        let file_rate_hz = (count - 1) as f64 / duration_s;
        let fast = file_rate_hz > 1.01 * sample_rate_hz;
        let even = is_even(&time_s);
        if fast || even {
            accel_mps2 = even_grid(&time_s, accel_mps2).1;
            for (i, time) in time_s.iter_mut().enumerate() {
                *time = i as f64 / file_rate_hz;
            }
        }
        let area: f64 = (1..count)
            .map(|i| 0.5 * (accel_mps2[i] + accel_mps2[i - 1]) * (time_s[i] - time_s[i - 1]))
            .sum();
        if fast {
            anti_alias(&mut accel_mps2, file_rate_hz, sample_rate_hz).map_err(corner)?;
        }
        let high_pass = if options.high_pass_hz == 0.0 {
            None
        } else {
            let sections = design::<1>(Side::High, options.high_pass_hz, sample_rate_hz);
            Some(Cascade::new(sections.map_err(corner)?))
        };
        Ok(Self {
            time_s,
            accel_mps2,
            cursor: 0,
            index: 0,
            interval_s: 1.0 / sample_rate_hz,
            duration_s,
            mean_mps2: if options.keep_mean {
                0.0
            } else {
                area / duration_s
            },
            level,
            fade_s: options.fade_s.min(0.5 * duration_s),
            high_pass,
            file_rate_hz,
            evened: fast && !even,
        })
    }

    /// Mean rate of the file, Hz.
    #[must_use]
    pub fn file_rate_hz(&self) -> f64 {
        self.file_rate_hz
    }

    /// Mean that was taken off, m/s2.
    #[must_use]
    pub fn mean_mps2(&self) -> f64 {
        self.mean_mps2
    }

    /// True when the mean is within 1.5 m/s2 of standard gravity, up or down.
    #[must_use]
    pub fn gravity_included(&self) -> bool {
        (self.mean_mps2.abs() - super::csv_columns::STANDARD_GRAVITY_MPS2).abs() < 1.5
    }

    /// True when uneven stamps had to be put on an even grid before the low-pass.
    #[must_use]
    pub fn evened(&self) -> bool {
        self.evened
    }
}

impl FloorSource for Recording {
    fn next_accel(&mut self) -> f64 {
        let time_s = self.index as f64 * self.interval_s;
        self.index += 1;
        // Half a nanosecond of grace for the rounding of the last stamp.
        let accel_mps2 = if time_s > self.duration_s + 5e-10 {
            0.0
        } else {
            let raw = interpolate(&self.time_s, &self.accel_mps2, &mut self.cursor, time_s);
            let inside = time_s > self.fade_s && time_s < self.duration_s - self.fade_s;
            let share = if inside || self.fade_s == 0.0 {
                1.0
            } else {
                window(time_s, self.duration_s, self.fade_s).value
            };
            self.level * (raw - self.mean_mps2) * share
        };
        match &mut self.high_pass {
            Some(filter) => filter.step(accel_mps2),
            None => accel_mps2,
        }
    }

    fn duration_s(&self) -> Option<f64> {
        Some(self.duration_s)
    }
}
