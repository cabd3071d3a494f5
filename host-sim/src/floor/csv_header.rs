//! The header of a CSV file: finds columns by name or place, and the units it names.

use super::csv_error::CsvError;
use serde::{Deserialize, Serialize};
use std::path::Path;

/// A column, by header or by place.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum Column {
    /// Place, counted from 1.
    Number(usize),
    /// Header, without its unit in brackets; capital letters do not matter.
    Name(String),
}

impl From<&str> for Column {
    /// A whole number is a place, all else a header.
    fn from(text: &str) -> Self {
        text.parse()
            .map_or_else(|_| Self::Name(text.to_owned()), Self::Number)
    }
}

/// The unit that a header carries in brackets.
pub(crate) fn unit_of(header: &str) -> Option<&str> {
    let open = header.find(['[', '('])?;
    let close = header.rfind([']', ')'])?;
    header.get(open + 1..close).map(str::trim)
}

/// A header without its unit, in small letters.
fn bare(header: &str) -> String {
    let end = header.find(['[', '(']).unwrap_or(header.len());
    header[..end].trim().to_lowercase()
}

pub(crate) fn known(headers: &[String], names: &[&str]) -> Option<usize> {
    names
        .iter()
        .find_map(|name| headers.iter().position(|header| bare(header) == *name))
}

pub(crate) fn column_name(headers: &[String], place: usize) -> String {
    headers
        .get(place)
        .filter(|header| !header.is_empty())
        .map_or_else(|| format!("column {}", place + 1), |h| format!("'{h}'"))
}

pub(crate) fn available(count: usize, headers: &[String]) -> String {
    let names: Vec<String> = (0..headers.len())
        .map(|i| column_name(headers, i))
        .collect();
    if names.is_empty() {
        format!("columns 1 to {count} without a header")
    } else {
        names.join(", ")
    }
}

pub(crate) fn find(
    path: &Path,
    line: u64,
    count: usize,
    headers: &[String],
    column: &Column,
) -> Result<usize, CsvError> {
    let matching: Vec<usize> = match column {
        Column::Number(number) => (1..=count).filter(|n| n == number).map(|n| n - 1).collect(),
        Column::Name(name) => {
            let exact = |h: &&String| h.as_str() == name;
            let places = |test: &dyn Fn(&&String) -> bool| -> Vec<usize> {
                (0..headers.len()).filter(|&i| test(&&headers[i])).collect()
            };
            let found = places(&exact);
            if found.is_empty() {
                places(&|h| bare(h) == bare(name))
            } else {
                found
            }
        }
    };
    match matching.as_slice() {
        [place] => Ok(*place),
        found => Err(CsvError::MissingColumn {
            file: path.to_owned(),
            line,
            column: match column {
                Column::Number(number) => format!("number {number}"),
                Column::Name(name) if found.is_empty() => format!("'{name}'"),
                Column::Name(name) => format!("'{name}' only once"),
            },
            available: available(count, headers),
        }),
    }
}
