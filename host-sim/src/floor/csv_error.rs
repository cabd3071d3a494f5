//! What can be wrong with a recording in CSV form.

use std::path::PathBuf;

/// Why a CSV file was refused. Messages begin with file and line (from 1).
#[derive(Debug, thiserror::Error)]
#[allow(
    missing_docs,
    reason = "the fields are the words of the message above them"
)]
pub enum CsvError {
    /// The file cannot be opened or read.
    #[error("{}: cannot be read: {source}", file.display())]
    Read {
        file: PathBuf,
        source: std::io::Error,
    },
    /// The file is not text in UTF-8, or has a line of more than a million bytes.
    #[error("{}:{line}: not a line of text: expected UTF-8 and fewer than a million bytes", file.display())]
    NotText { file: PathBuf, line: u64 },
    /// There is no row of numbers.
    #[error("{}: no data: expected rows of time and acceleration", file.display())]
    Empty { file: PathBuf },
    /// There is only one row of numbers.
    #[error("{}:{line}: only one row of data: expected at least two", file.display())]
    OneRow { file: PathBuf, line: u64 },
    /// A row has more or fewer fields than the first one.
    #[error("{}:{line}: {found} fields: expected {expected} as in the first row", file.display())]
    Ragged {
        file: PathBuf,
        line: u64,
        found: usize,
        expected: usize,
    },
    /// A column is not there, or there twice.
    #[error("{}:{line}: expected a column {column}: the file has {available}", file.display())]
    MissingColumn {
        file: PathBuf,
        line: u64,
        column: String,
        available: String,
    },
    /// A field is not a number, or is NaN or infinite.
    #[error("{}:{line}: column {column}: '{value}': expected {}", file.display(), if *is_number { "a finite number" } else { "a number with a decimal point" })]
    NotANumber {
        file: PathBuf,
        line: u64,
        column: String,
        value: String,
        is_number: bool,
    },
    /// An acceleration that no floor has.
    #[error("{}:{line}: column {column}: {accel_mps2:.4e} m/s2 (unit {unit}): expected at most 200 m/s2; is the unit right?", file.display())]
    TooLarge {
        file: PathBuf,
        line: u64,
        column: String,
        accel_mps2: f64,
        unit: &'static str,
    },
    /// Time stays or runs backwards.
    #[error("{}:{line}: column {column}: time {value} s after {previous} s: expected rising time (with enough decimals)", file.display())]
    TimeNotRising {
        file: PathBuf,
        line: u64,
        column: String,
        value: f64,
        previous: f64,
    },
    /// Samples are missing.
    #[error("{}:{line}: gap of {step_s} s before this row: expected at most five median steps of {median_s} s", file.display())]
    Gap {
        file: PathBuf,
        line: u64,
        step_s: f64,
        median_s: f64,
    },
    /// The mean rate is not that of a recording in seconds.
    #[error("{}: {rate_hz:.4} rows a second: expected 10 to 1000000; is time in seconds?", file.display())]
    Rate { file: PathBuf, rate_hz: f64 },
    /// Header or mean contradict the unit.
    #[error("{}:{line}: column {column}: unit {unit} was given, but {reason}: expected the other of m/s2 and g", file.display())]
    WrongUnit {
        file: PathBuf,
        line: u64,
        column: String,
        unit: &'static str,
        reason: String,
    },
}
