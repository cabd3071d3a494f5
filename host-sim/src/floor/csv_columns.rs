//! Reads acceleration columns from CSV text, and refuses what is not a sound recording.
//!
//! Fields are separated by commas, semicolons or tabs (the first data or header line decides) and
//! use a decimal point. Empty lines and lines that start with `#` are skipped. The first row is a
//! header when none of its fields is a number. Columns that are not asked for are not read.

use super::csv_error::CsvError;
use super::csv_header::{available, column_name, find, known, unit_of};
use super::csv_lines::{Lines, fields};
use super::resample::even_grid;
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};

pub use super::csv_header::Column;

/// Standard gravity, m/s2.
pub const STANDARD_GRAVITY_MPS2: f64 = 9.80665;
/// Largest acceleration that is believed, m/s2.
pub const GREATEST_MPS2: f64 = 200.0;
/// A time step longer than this many median steps is a gap.
pub const GAP_STEPS: f64 = 5.0;
const RATE_RANGE_HZ: std::ops::RangeInclusive<f64> = 10.0..=1e6;

/// Unit of the acceleration columns.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub enum AccelUnit {
    /// m/s2.
    #[default]
    #[serde(rename = "m/s2")]
    Mps2,
    /// Standard gravity, 9.80665 m/s2.
    #[serde(rename = "g")]
    G,
}

impl AccelUnit {
    fn in_mps2(self) -> f64 {
        match self {
            Self::Mps2 => 1.0,
            Self::G => STANDARD_GRAVITY_MPS2,
        }
    }

    fn symbol(self) -> &'static str {
        match self {
            Self::Mps2 => "m/s2",
            Self::G => "g",
        }
    }
}

/// What to read from the file.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ColumnChoice {
    /// Column of time in seconds; when `None`, the one headed time, t or time_s, or the first.
    pub time: Option<Column>,
    /// Acceleration columns; when empty, the one headed accel, acceleration, acc, a, az or
    /// accel_z, or the other one of two.
    pub accel: Vec<Column>,
    /// Unit of all acceleration columns.
    pub unit: AccelUnit,
}

/// Columns as they stand in the file, in SI units.
#[derive(Debug, Clone, PartialEq)]
pub struct Columns {
    /// The file.
    pub file: PathBuf,
    /// Headers of the acceleration columns, or "column 2" and so on.
    pub names: Vec<String>,
    /// Time stamps, s, rising.
    pub time_s: Vec<f64>,
    /// One vector of acceleration (m/s2) for each column asked for.
    pub accel_mps2: Vec<Vec<f64>>,
    /// Mean of each column, m/s2. Not removed. Near 9.8 when gravity is included.
    pub mean_mps2: Vec<f64>,
}

/// Columns on an even time grid.
#[derive(Debug, Clone, PartialEq)]
pub struct EvenColumns {
    /// Sample rate, Hz: that of the file.
    pub sample_rate_hz: f64,
    /// Headers of the acceleration columns.
    pub names: Vec<String>,
    /// One vector of acceleration (m/s2) for each column asked for.
    pub accel_mps2: Vec<Vec<f64>>,
    /// Mean of each column, m/s2. Not removed. Near 9.8 when gravity is included.
    pub mean_mps2: Vec<f64>,
}

/// Reads columns and puts them on an even grid at the file's own mean rate, without any filter.
///
/// Stamps within 1 % of a step of their even places count as even, and the values stay as they are.
/// Otherwise the values between stamps are interpolated linearly.
///
/// # Errors
/// [`CsvError`] for everything that [`read_raw`] refuses.
pub fn read_columns(path: &Path, choice: &ColumnChoice) -> Result<EvenColumns, CsvError> {
    let raw = read_raw(path, choice)?;
    let mut sample_rate_hz = 0.0;
    let accel_mps2 = raw
        .accel_mps2
        .into_iter()
        .map(|values| {
            let (rate_hz, even) = even_grid(&raw.time_s, values);
            sample_rate_hz = rate_hz;
            even
        })
        .collect();
    Ok(EvenColumns {
        sample_rate_hz,
        names: raw.names,
        accel_mps2,
        mean_mps2: raw.mean_mps2,
    })
}

/// Reads columns with their time stamps.
///
/// # Errors
/// [`CsvError`]: a file that is missing, empty or not text; rows of unequal length; a missing or
/// doubtful column; a field that is not a finite number; accelerations above 200 m/s2; time that
/// does not rise; fewer than two rows; a gap of more than five median steps; a mean rate outside
/// 10 Hz to 1 MHz; a unit that the header or the mean (gravity) contradicts.
pub fn read_raw(path: &Path, choice: &ColumnChoice) -> Result<Columns, CsvError> {
    let mut table = Table::new(path, choice);
    let mut lines = Lines::open(path)?;
    while let Some((number, text)) = lines.next_line()? {
        table.take(number, text)?;
    }
    table.finish()
}

/// Places of the chosen columns, from 0.
struct Places {
    delimiter: char,
    count: usize,
    time: usize,
    accel: Vec<usize>,
    headers: Vec<String>,
}

struct Table<'a> {
    path: &'a Path,
    choice: &'a ColumnChoice,
    places: Option<Places>,
    lines: Vec<u64>,
    columns: Columns,
}

impl<'a> Table<'a> {
    fn new(path: &'a Path, choice: &'a ColumnChoice) -> Self {
        Self {
            path,
            choice,
            places: None,
            lines: Vec::new(),
            columns: Columns {
                file: path.to_owned(),
                names: Vec::new(),
                time_s: Vec::new(),
                accel_mps2: Vec::new(),
                mean_mps2: Vec::new(),
            },
        }
    }

    fn take(&mut self, line: u64, text: &str) -> Result<(), CsvError> {
        let Some(places) = &self.places else {
            return self.take_first(line, text);
        };
        let row = fields(text, places.delimiter);
        if row.len() != places.count {
            return Err(CsvError::Ragged {
                file: self.path.to_owned(),
                line,
                found: row.len(),
                expected: places.count,
            });
        }
        let number = |place: usize| -> Result<f64, CsvError> {
            let value = row[place].as_ref();
            match value.parse::<f64>() {
                Ok(number) if number.is_finite() => Ok(number),
                parsed => Err(CsvError::NotANumber {
                    file: self.path.to_owned(),
                    line,
                    column: column_name(&places.headers, place),
                    value: value.to_owned(),
                    is_number: parsed.is_ok(),
                }),
            }
        };
        let time_s = number(places.time)?;
        if let Some(&previous) = self.columns.time_s.last()
            && time_s <= previous
        {
            return Err(CsvError::TimeNotRising {
                file: self.path.to_owned(),
                line,
                column: column_name(&places.headers, places.time),
                value: time_s,
                previous,
            });
        }
        for (values, &place) in self.columns.accel_mps2.iter_mut().zip(&places.accel) {
            let accel_mps2 = number(place)? * self.choice.unit.in_mps2();
            if accel_mps2.abs() > GREATEST_MPS2 {
                return Err(CsvError::TooLarge {
                    file: self.path.to_owned(),
                    line,
                    column: column_name(&places.headers, place),
                    accel_mps2,
                    unit: self.choice.unit.symbol(),
                });
            }
            values.push(accel_mps2);
        }
        self.columns.time_s.push(time_s);
        self.lines.push(line);
        Ok(())
    }

    /// The first row: settles delimiter, header and columns.
    fn take_first(&mut self, line: u64, text: &str) -> Result<(), CsvError> {
        let delimiter = [';', '\t']
            .into_iter()
            .find(|&d| text.contains(d))
            .unwrap_or(',');
        let row = fields(text, delimiter);
        let is_header = row.iter().all(|field| field.parse::<f64>().is_err());
        let headers: Vec<String> = if is_header {
            row.iter().map(|field| field.to_string()).collect()
        } else {
            Vec::new()
        };
        let find = |column: &Column| find(self.path, line, row.len(), &headers, column);
        let time = match &self.choice.time {
            Some(column) => find(column)?,
            None => known(&headers, &["time", "t", "time_s"]).unwrap_or(0),
        };
        let accel = if self.choice.accel.is_empty() {
            let names = ["accel", "acceleration", "acc", "a", "az", "accel_z"];
            let place = known(&headers, &names)
                .or((row.len() == 2).then_some(1 - time.min(1)))
                .ok_or_else(|| CsvError::MissingColumn {
                    file: self.path.to_owned(),
                    line,
                    column: "of acceleration".to_owned(),
                    available: available(row.len(), &headers),
                })?;
            vec![place]
        } else {
            self.choice
                .accel
                .iter()
                .map(find)
                .collect::<Result<_, _>>()?
        };
        if let Some(&place) = accel.iter().find(|&&place| place == time) {
            return Err(CsvError::MissingColumn {
                file: self.path.to_owned(),
                line,
                column: format!(
                    "of acceleration besides the time column {}",
                    column_name(&headers, place)
                ),
                available: available(row.len(), &headers),
            });
        }
        for &place in &accel {
            self.check_header_unit(line, &headers, place)?;
        }
        self.columns.names = accel.iter().map(|&p| column_name(&headers, p)).collect();
        self.columns.accel_mps2 = vec![Vec::new(); accel.len()];
        self.places = Some(Places {
            delimiter,
            count: row.len(),
            time,
            accel,
            headers,
        });
        if is_header {
            return Ok(());
        }
        self.take(line, text)
    }

    fn check_header_unit(
        &self,
        line: u64,
        headers: &[String],
        place: usize,
    ) -> Result<(), CsvError> {
        let Some(written) = headers.get(place).and_then(|h| unit_of(h)) else {
            return Ok(());
        };
        let says = match written.to_lowercase().replace(['^', ' '], "").as_str() {
            "g" => AccelUnit::G,
            "m/s2" | "m/s²" | "ms-2" | "m/s/s" => AccelUnit::Mps2,
            _ => return Ok(()),
        };
        if says == self.choice.unit {
            return Ok(());
        }
        Err(CsvError::WrongUnit {
            file: self.path.to_owned(),
            line,
            column: column_name(headers, place),
            unit: self.choice.unit.symbol(),
            reason: "the header gives another unit".to_owned(),
        })
    }

    fn finish(mut self) -> Result<Columns, CsvError> {
        let file = || self.path.to_owned();
        let time = &self.columns.time_s;
        let (Some(&first), Some(&last)) = (time.first(), time.last()) else {
            return Err(CsvError::Empty { file: file() });
        };
        if time.len() < 2 {
            return Err(CsvError::OneRow {
                file: file(),
                line: self.lines[0],
            });
        }
        let mut steps: Vec<f64> = time.windows(2).map(|pair| pair[1] - pair[0]).collect();
        let middle = steps.len() / 2;
        let median_s = *steps.select_nth_unstable_by(middle, f64::total_cmp).1;
        for (index, pair) in time.windows(2).enumerate() {
            if pair[1] - pair[0] > GAP_STEPS * median_s {
                return Err(CsvError::Gap {
                    file: file(),
                    line: self.lines[index + 1],
                    step_s: pair[1] - pair[0],
                    median_s,
                });
            }
        }
        let rate_hz = (time.len() - 1) as f64 / (last - first);
        if !RATE_RANGE_HZ.contains(&rate_hz) {
            return Err(CsvError::Rate {
                file: file(),
                rate_hz,
            });
        }
        for (values, name) in self.columns.accel_mps2.iter().zip(&self.columns.names) {
            let mean_mps2 = values.iter().sum::<f64>() / values.len() as f64;
            let mean = mean_mps2 / self.choice.unit.in_mps2();
            let reason = match self.choice.unit {
                AccelUnit::Mps2 if (0.95..=1.05).contains(&mean.abs()) => {
                    format!("the mean is {mean:.3}, as of gravity in g")
                }
                AccelUnit::G if (9.0..=10.6).contains(&mean.abs()) => {
                    format!("the mean is {mean:.3}, as of gravity in m/s2")
                }
                _ => {
                    self.columns.mean_mps2.push(mean_mps2);
                    continue;
                }
            };
            return Err(CsvError::WrongUnit {
                file: file(),
                line: self.lines[0],
                column: name.clone(),
                unit: self.choice.unit.symbol(),
                reason,
            });
        }
        Ok(self.columns)
    }
}
