//! Lines and fields of a CSV file, with true line numbers.

use super::csv_error::CsvError;
use std::borrow::Cow;
use std::fs::File;
use std::io::{BufRead, BufReader, Read};
use std::path::{Path, PathBuf};

const LONGEST_LINE: u64 = 1_000_000;

/// Gives the lines of a file that are neither empty nor comments.
pub(crate) struct Lines {
    path: PathBuf,
    reader: BufReader<File>,
    number: u64,
    buffer: Vec<u8>,
}

impl Lines {
    pub(crate) fn open(path: &Path) -> Result<Self, CsvError> {
        let file = File::open(path).map_err(|source| CsvError::Read {
            file: path.to_owned(),
            source,
        })?;
        Ok(Self {
            path: path.to_owned(),
            reader: BufReader::new(file),
            number: 0,
            buffer: Vec::new(),
        })
    }

    /// The next line with its number (from 1), without line ending or byte-order mark.
    pub(crate) fn next_line(&mut self) -> Result<Option<(u64, &str)>, CsvError> {
        loop {
            self.buffer.clear();
            let read = self
                .reader
                .by_ref()
                .take(LONGEST_LINE)
                .read_until(b'\n', &mut self.buffer)
                .map_err(|source| CsvError::Read {
                    file: self.path.clone(),
                    source,
                })?;
            if read == 0 {
                return Ok(None);
            }
            self.number += 1;
            if self.number == 1 && self.buffer.starts_with(b"\xef\xbb\xbf") {
                self.buffer.drain(..3);
            }
            let too_long = read as u64 == LONGEST_LINE && !self.buffer.ends_with(b"\n");
            if too_long || std::str::from_utf8(&self.buffer).is_err() {
                return Err(CsvError::NotText {
                    file: self.path.clone(),
                    line: self.number,
                });
            }
            if !matches!(self.buffer.trim_ascii(), [] | [b'#', ..]) {
                break;
            }
        }
        let text = str::from_utf8(&self.buffer).unwrap_or_default();
        Ok(Some((self.number, text.trim_end_matches(['\r', '\n']))))
    }
}

/// The fields of a line, without surrounding blanks; double quotes protect the delimiter.
pub(crate) fn fields(line: &str, delimiter: char) -> Vec<Cow<'_, str>> {
    if !line.contains('"') {
        return line
            .split(delimiter)
            .map(|field| Cow::Borrowed(field.trim()))
            .collect();
    }
    let mut fields = vec![String::new()];
    let mut quoted = false;
    let mut characters = line.chars().peekable();
    while let Some(character) = characters.next() {
        let last = fields.len() - 1;
        match character {
            '"' if quoted && characters.peek() == Some(&'"') => {
                characters.next();
                fields[last].push('"');
            }
            '"' => quoted = !quoted,
            c if c == delimiter && !quoted => fields.push(String::new()),
            c => fields[last].push(c),
        }
    }
    fields
        .into_iter()
        .map(|field| Cow::Owned(field.trim().to_owned()))
        .collect()
}
