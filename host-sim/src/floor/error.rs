//! What can be wrong with the wanted floor.

use super::butterworth::CornerError;
use super::csv_error::CsvError;

/// Why a floor could not be built.
#[derive(Debug, thiserror::Error)]
pub enum FloorError {
    /// No floor of this name.
    #[error(
        "unknown floor '{name}': expected one of {known}, or a recording whose name ends in .csv"
    )]
    UnknownFloor {
        /// What was asked for.
        name: String,
        /// The names that exist, separated by commas.
        known: String,
    },
    /// The floor has no such option.
    #[error("floor '{floor}' has no option '{key}': expected {expected}")]
    UnknownOption {
        /// Name of the floor.
        floor: String,
        /// The key that was given.
        key: String,
        /// The keys and ranges that exist.
        expected: String,
    },
    /// An option's value cannot be used.
    #[error("floor '{floor}', option '{key}': '{value}' given, expected {expected}")]
    BadOption {
        /// Name of the floor.
        floor: String,
        /// The key.
        key: String,
        /// The value as it was written.
        value: String,
        /// What would be right.
        expected: String,
    },
    /// A field of the specification is out of range.
    #[error("floor: {field} = {value}: expected {expected}")]
    BadField {
        /// Name of the field.
        field: &'static str,
        /// Its value.
        value: f64,
        /// What would be right.
        expected: &'static str,
    },
    /// A corner of the floor's band does not fit the sample rate.
    #[error("floor '{floor}': {source}")]
    Corner {
        /// Name of the floor.
        floor: String,
        /// The filter's complaint.
        source: CornerError,
    },
    /// The recording cannot be used.
    #[error(transparent)]
    Csv(#[from] CsvError),
}
