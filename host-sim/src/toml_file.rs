//! Files in TOML: how they are read, what can be wrong with any of them, and where a field stands in one.

use serde::de::DeserializeOwned;
use std::fmt;
use std::ops::Range;
use std::path::{Path, PathBuf};

/// A place in a text file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Place {
    /// The file.
    pub file: PathBuf,
    /// Line, from 1; 0 when only the file is known.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.line == 0 {
            write!(f, "{}", self.file.display())
        } else {
            write!(f, "{}:{}:{}", self.file.display(), self.line, self.column)
        }
    }
}

/// What can be wrong with any file in TOML.
#[derive(Debug, thiserror::Error)]
pub enum TomlError {
    /// The file cannot be read.
    #[error("{}: cannot be read: {source}: expected {expected}", path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
        /// What the file should hold.
        expected: &'static str,
    },
    /// Not TOML, or not of this kind.
    #[error("{place}: {}{message}", field.as_ref().map_or_else(String::new, |f| format!("{f}: ")))]
    Syntax {
        /// Where.
        place: Place,
        /// The field, when it can be told.
        field: Option<String>,
        /// What is wrong and what was expected.
        message: String,
    },
    /// A value cannot be used.
    #[error("{place}: {field} = {value}: expected {expected}")]
    Value {
        /// Where; the file alone for a value that follows from others.
        place: Place,
        /// `table.field`.
        field: String,
        /// The value found.
        value: f64,
        /// What was expected.
        expected: String,
    },
}

/// The text of a file, which should hold what is `expected`.
///
/// # Errors
/// [`TomlError::Unreadable`].
pub fn read(path: &Path, expected: &'static str) -> Result<String, TomlError> {
    std::fs::read_to_string(path).map_err(|source| TomlError::Unreadable {
        path: path.to_owned(),
        source,
        expected,
    })
}

/// What the text holds; `path` names it in errors.
///
/// # Errors
/// [`TomlError::Syntax`], with line, column and field where they can be told.
pub fn parse<T: DeserializeOwned>(text: &str, path: &Path) -> Result<T, TomlError> {
    toml::from_str(text).map_err(|e| TomlError::Syntax {
        place: e.span().map_or_else(
            || Place {
                file: path.to_owned(),
                line: 0,
                column: 0,
            },
            |span| place_of(path, text, &span),
        ),
        field: e.span().and_then(|span| field_at(text, &span)),
        message: plain_words(e.message()),
    })
}

/// The place at which a span of bytes begins.
#[must_use]
pub fn place_of(file: &Path, text: &str, span: &Range<usize>) -> Place {
    let before = text.get(..span.start.min(text.len())).unwrap_or_default();
    let line_start = before.rfind('\n').map_or(0, |at| at + 1);
    Place {
        file: file.to_owned(),
        line: before.matches('\n').count() + 1,
        column: before[line_start..].chars().count() + 1,
    }
}

/// The header of a table: `name` from `[name]` or `[[name]]`.
fn table_of(line: &str) -> Option<&str> {
    let inner = line.trim().strip_prefix('[')?;
    let inner = inner.strip_prefix('[').unwrap_or(inner);
    inner.split(']').next().map(str::trim)
}

fn key_of(line: &str) -> Option<&str> {
    let (key, _) = line.split_once('=')?;
    let key = key.trim().trim_matches('"');
    (!key.is_empty() && !key.starts_with('#')).then_some(key)
}

/// `table.key` of the line at which a span of bytes begins, as far as it can be told.
#[must_use]
pub fn field_at(text: &str, span: &Range<usize>) -> Option<String> {
    let (mut table, mut start) = ("", 0);
    for line in text.split_inclusive('\n') {
        let end = start + line.len();
        if let Some(name) = table_of(line) {
            table = name;
        }
        if span.start < end {
            let key = key_of(line);
            return match (table, key) {
                ("", key) => key.map(str::to_owned),
                (table, Some(key)) => Some(format!("{table}.{key}")),
                (table, None) => table_of(line).map(|_| table.to_owned()),
            };
        }
        start = end;
    }
    None
}

/// The place of `table.key`, or of the header `[table.key]`; the file alone when it is neither.
#[must_use]
pub fn find_field(file: &Path, text: &str, field: &str) -> Place {
    let (table, key) = field.rsplit_once('.').unwrap_or(("", field));
    let mut now = "";
    for (index, line) in text.lines().enumerate() {
        let indent = line.chars().take_while(|c| c.is_whitespace()).count();
        let here = Place {
            file: file.to_owned(),
            line: index + 1,
            column: indent + 1,
        };
        if let Some(name) = table_of(line) {
            now = name;
            if name == field {
                return here;
            }
        } else if now == table && key_of(line) == Some(key) {
            return here;
        }
    }
    Place {
        file: file.to_owned(),
        line: 0,
        column: 0,
    }
}

/// A parser's message without Rust's names of types.
#[must_use]
pub fn plain_words(message: &str) -> String {
    let message = message.trim().replace('\n', "; ");
    [
        ("floating point", "number"),
        ("expected f64", "expected a number"),
        ("expected f32", "expected a number"),
        ("expected u64", "expected a whole number of 0 or more"),
        ("expected usize", "expected a whole number of 0 or more"),
        ("expected u16", "expected a whole number from 0 to 65535"),
        ("expected path string", "expected a path in quotes"),
        ("expected a string", "expected a text in quotes"),
    ]
    .into_iter()
    .fold(message, |text, (from, to)| text.replace(from, to))
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str = "a = 1\n[seat]\n  mass = 2 # b = 3\n[[changes]]\nat_s = 4\n";

    #[test]
    fn fields_are_found_both_ways() {
        let file = Path::new("x.toml");
        for (field, line, column) in [
            ("a", 1, 1),
            ("seat", 2, 1),
            ("seat.mass", 3, 3),
            ("changes.at_s", 5, 1),
            ("seat.b", 0, 0),
        ] {
            let place = find_field(file, TEXT, field);
            assert_eq!((place.line, place.column), (line, column), "{field}");
        }
        let at = TEXT.find('2').unwrap_or_default();
        assert_eq!(field_at(TEXT, &(at..at + 1)).as_deref(), Some("seat.mass"));
        let place = place_of(file, TEXT, &(at..at + 1));
        assert_eq!(place.to_string(), "x.toml:3:10");
    }
}
