//! What the register of limits holds, read from its file: every field is checked, and what is wrong is told with file,
//! line, limit, field and what was expected.
//!
//! The build script reads the register by this same file, so nothing here may come from the rest of the crate but
//! what the script takes in as well.

use super::reader::Reader;
use crate::units;
use std::fmt;

/// Units that a limit may have. `1` and `share` have none; a count is a whole number.
pub const UNITS: [&str; 23] = [
    "m",
    "m/s",
    "m/s2",
    "m/s3",
    "m/s1.75",
    "s",
    "kg",
    "N",
    "N/s",
    "A",
    "V",
    "W",
    "degC",
    "dB",
    "deg",
    "1",
    "share",
    "count",
    "bytes",
    "instructions",
    "Hz",
    "s2",
    "1/h",
];

/// What a measured figure must be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sense {
    /// At most the limit.
    AtMost,
    /// At least the limit.
    AtLeast,
}

impl Limit {
    /// A number of the limit's, its unit beside it where it has one.
    #[must_use]
    pub fn with_unit(&self, number: &str) -> String {
        units::beside(number, &self.unit)
    }

    /// What is wanted, in words: sense, value and unit.
    #[must_use]
    pub fn wanted(&self) -> String {
        format!(
            "{} {}",
            self.sense.words(),
            self.with_unit(&self.value.to_string())
        )
    }
}

impl Sense {
    /// In words, as in the file.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::AtMost => "at most",
            Self::AtLeast => "at least",
        }
    }

    /// Whether a measured figure keeps the limit. What is no number does not.
    #[must_use]
    pub fn holds(self, measured: f64, limit: f64) -> bool {
        match self {
            Self::AtMost => measured <= limit,
            Self::AtLeast => measured >= limit,
        }
    }

    /// What is left to the limit, in its unit; negative when it is broken.
    #[must_use]
    pub fn margin(self, measured: f64, limit: f64) -> f64 {
        match self {
            Self::AtMost => limit - measured,
            Self::AtLeast => measured - limit,
        }
    }
}

/// A place in the source: `file: item`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Item {
    /// The file, from the root of the repository.
    pub file: String,
    /// What stands there: `name`, or `Type::name`.
    pub name: String,
}

/// One limit.
#[derive(Clone, Debug, PartialEq)]
pub struct Limit {
    /// Name.
    pub id: String,
    /// Whom or what it protects.
    pub protects: String,
    /// The limit.
    pub value: f64,
    /// Its unit, one of [`UNITS`].
    pub unit: String,
    /// What a measured figure must be.
    pub sense: Sense,
    /// Where the number comes from.
    pub source: String,
    /// Field of a rig that holds it.
    pub rig: Option<String>,
    /// Where it is kept.
    pub enforced: Vec<Item>,
    /// Tests that show it: `room::file::test`; none of a limit that is missed.
    pub demonstrated: Vec<String>,
    /// Tests that show that a limit which is missed is judged rightly.
    pub judged: Vec<String>,
    /// Why it is not kept, when it is known to be missed.
    pub missed: Option<String>,
    /// Measured figures that are held against it; none when tests alone show it.
    pub figure: Vec<String>,
    /// What the tests assert, where no figure is measured.
    pub asserts: Option<String>,
    /// What reproduces them.
    pub command: String,
    /// Line of the file on which it begins, from 1.
    pub line: usize,
}

/// What is wrong with the register, or with what it names.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Refusal {
    /// The file.
    pub file: String,
    /// Line, from 1; 0 when only the file is known.
    pub line: usize,
    /// The limit, when it can be told.
    pub limit: Option<String>,
    /// The field.
    pub field: String,
    /// What was found.
    pub found: String,
    /// What was expected.
    pub expected: String,
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.file)?;
        if self.line > 0 {
            write!(f, ":{}", self.line)?;
        }
        if let Some(limit) = &self.limit {
            write!(f, ": limit {limit}")?;
        }
        write!(
            f,
            ": {}: {}: expected {}",
            self.field, self.found, self.expected
        )
    }
}

impl std::error::Error for Refusal {}

/// Numbers that the firmware is given and that are no limit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NoLimit {
    /// Fields of a rig or of the firmware's parameters; a name stands for all below it.
    pub fields: Vec<String>,
    /// Why breaching them leads to nothing: what they are.
    pub because: String,
    /// Line of the file on which the table begins, from 1.
    pub line: usize,
}

/// All limits, in the order of the file.
#[derive(Clone, Debug, PartialEq)]
pub struct Register {
    /// Name of the file in errors.
    pub file: String,
    /// The limits.
    pub limits: Vec<Limit>,
    /// What is none.
    pub no_limits: Vec<NoLimit>,
}

impl Register {
    /// The limit of that name.
    #[must_use]
    pub fn find(&self, id: &str) -> Option<&Limit> {
        self.limits.iter().find(|l| l.id == id)
    }

    /// Reads a register from text; `file` names it in errors.
    ///
    /// # Errors
    /// All that is wrong with its fields.
    pub fn read(text: &str, file: &str) -> Result<Self, Vec<Refusal>> {
        let refuse = |line, field: &str, found: String, expected: &str| {
            vec![Refusal {
                file: file.to_owned(),
                line,
                limit: None,
                field: field.to_owned(),
                found,
                expected: expected.to_owned(),
            }]
        };
        let table: toml::Table = text.parse().map_err(|e: toml::de::Error| {
            let at = e.span().map_or(0, |span| {
                1 + text[..span.start.min(text.len())].matches('\n').count()
            });
            refuse(
                at,
                "TOML",
                e.message().trim().replace('\n', "; "),
                "a register of limits in TOML",
            )
        })?;
        if table.get("version").and_then(toml::Value::as_integer) != Some(1) {
            return Err(refuse(0, "version", "missing or another".to_owned(), "1"));
        }
        let (rows, lines) = tables(&table, text, "limit");
        let (others, other_lines) = tables(&table, text, "no_limit");
        let known = 2 + usize::from(!others.is_empty());
        let told = rows.len() == lines.len() && others.len() == other_lines.len();
        if rows.is_empty() || !told || table.len() != known {
            return Err(refuse(
                0,
                "limit",
                format!("{} tables", rows.len()),
                "`version`, tables [[limit]] and [[no_limit]], nothing else",
            ));
        }
        let mut refusals = Vec::new();
        let mut limits: Vec<Limit> = Vec::new();
        for (row, line) in rows.iter().zip(lines) {
            let mut reader = Reader::new(text, file, line, row);
            let limit = reader.limit();
            if let Some(known) = limits.iter().find(|l| l.id == limit.id && !l.id.is_empty()) {
                let expected = format!(
                    "an id that no other limit has; line {} has it too",
                    known.line
                );
                reader.refuse("id", format!("`{}`", limit.id), &expected);
            }
            refusals.append(&mut reader.refusals);
            limits.push(limit);
        }
        let mut no_limits: Vec<NoLimit> = Vec::new();
        for (row, line) in others.iter().zip(other_lines) {
            let mut reader = Reader::new(text, file, line, row);
            let found = reader.no_limit();
            for field in &found.fields {
                let limit = limits.iter().find(|l| l.rig.as_ref() == Some(field));
                if limit.is_some() || no_limits.iter().any(|n| n.fields.contains(field)) {
                    let found = format!("`{field}` stands twice");
                    reader.refuse("fields", found, "a field that no other table has");
                }
            }
            refusals.append(&mut reader.refusals);
            no_limits.push(found);
        }
        if refusals.is_empty() {
            Ok(Self {
                file: file.to_owned(),
                limits,
                no_limits,
            })
        } else {
            Err(refusals)
        }
    }
}

/// The tables of a name, and the lines on which they begin.
fn tables<'t>(table: &'t toml::Table, text: &str, name: &str) -> (&'t [toml::Value], Vec<usize>) {
    let rows = table.get(name).and_then(toml::Value::as_array);
    let header = format!("[[{name}]]");
    let lines = (text.lines().enumerate())
        .filter(|(_, line)| line.trim() == header)
        .map(|(n, _)| n + 1)
        .collect();
    (rows.map_or(&[], Vec::as_slice), lines)
}
