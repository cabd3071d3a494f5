//! What the register of limits holds, read from its file: every field is checked, and what is wrong is told with file,
//! line, limit, field and what was expected.
//!
//! The build script reads the register by this same file, so nothing here may come from the rest of the crate.

use std::fmt;

/// Units that a limit may have. `1` and `share` have none; a count is a whole number.
pub const UNITS: [&str; 21] = [
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
];

/// Fields of a limit.
const FIELDS: [&str; 12] = [
    "id",
    "protects",
    "value",
    "unit",
    "sense",
    "source",
    "rig",
    "enforced",
    "demonstrated",
    "figure",
    "asserts",
    "command",
];

/// What a measured figure must be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sense {
    /// At most the limit.
    AtMost,
    /// At least the limit.
    AtLeast,
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
    /// Tests that show it: `room::file::test`.
    pub demonstrated: Vec<String>,
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

/// All limits, in the order of the file.
#[derive(Clone, Debug, PartialEq)]
pub struct Register {
    /// Name of the file in errors.
    pub file: String,
    /// The limits.
    pub limits: Vec<Limit>,
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
        let none = Vec::new();
        let rows = table
            .get("limit")
            .and_then(toml::Value::as_array)
            .unwrap_or(&none);
        let lines: Vec<usize> = (text.lines().enumerate())
            .filter(|(_, line)| line.trim() == "[[limit]]")
            .map(|(n, _)| n + 1)
            .collect();
        if rows.is_empty() || rows.len() != lines.len() || table.len() != 2 {
            return Err(refuse(
                0,
                "limit",
                format!("{} tables", rows.len()),
                "`version` and tables [[limit]], nothing else",
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
        if refusals.is_empty() {
            Ok(Self {
                file: file.to_owned(),
                limits,
            })
        } else {
            Err(refusals)
        }
    }
}

/// Reads the fields of one limit.
struct Reader<'t> {
    text: &'t str,
    file: &'t str,
    line: usize,
    row: Option<&'t toml::Table>,
    id: Option<String>,
    refusals: Vec<Refusal>,
}

impl<'t> Reader<'t> {
    fn new(text: &'t str, file: &'t str, line: usize, row: &'t toml::Value) -> Self {
        let row = row.as_table();
        let id = row.and_then(|r| r.get("id")).and_then(toml::Value::as_str);
        Self {
            text,
            file,
            line,
            row,
            id: id.map(str::to_owned),
            refusals: Vec::new(),
        }
    }

    /// The line of a field, or that of the limit's header.
    fn line_of(&self, field: &str) -> usize {
        let own = self
            .text
            .lines()
            .enumerate()
            .skip(self.line)
            .take_while(|(_, l)| !l.starts_with('['));
        let mut found =
            own.filter(|(_, l)| l.split('=').next().is_some_and(|key| key.trim() == field));
        found.next().map_or(self.line, |(n, _)| n + 1)
    }

    fn refuse(&mut self, field: &str, found: String, expected: &str) {
        self.refusals.push(Refusal {
            file: self.file.to_owned(),
            line: self.line_of(field),
            limit: self.id.clone(),
            field: field.to_owned(),
            found,
            expected: expected.to_owned(),
        });
    }

    fn text_of(&mut self, field: &str, expected: &str) -> String {
        let value = self.row.and_then(|r| r.get(field));
        let text = value
            .and_then(toml::Value::as_str)
            .map(str::trim)
            .unwrap_or_default();
        if text.is_empty() {
            let found = if value.is_some() {
                "empty, or no text"
            } else {
                "missing"
            };
            self.refuse(field, found.to_owned(), expected);
        }
        text.to_owned()
    }

    fn list(&mut self, field: &str, expected: &str) -> Vec<String> {
        let value = self
            .row
            .and_then(|r| r.get(field))
            .and_then(toml::Value::as_array);
        let texts: Vec<String> = value
            .into_iter()
            .flatten()
            .filter_map(|v| v.as_str().map(str::to_owned))
            .collect();
        if texts.is_empty() || value.is_some_and(|all| all.len() != texts.len()) {
            self.refuse(field, "nothing, or no list of texts".to_owned(), expected);
        }
        texts
    }

    fn limit(&mut self) -> Limit {
        let unknown: Vec<String> = (self.row.into_iter().flat_map(|r| r.keys()))
            .filter(|key| !FIELDS.contains(&key.as_str()))
            .cloned()
            .collect();
        for key in unknown {
            self.refuse(
                &key,
                "unknown".to_owned(),
                &format!("one of {}", FIELDS.join(", ")),
            );
        }
        let id = self.text_of("id", "a name in small letters, digits and hyphens");
        if id.contains(|c: char| !(c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-')) {
            self.refuse(
                "id",
                format!("`{id}`"),
                "a name in small letters, digits and hyphens",
            );
        }
        let enforced = self.list("enforced", "where it is kept, at least one `file: item`");
        let items = enforced.iter().filter_map(|text| {
            let (file, name) = text.split_once(": ")?;
            Some(Item {
                file: file.to_owned(),
                name: name.to_owned(),
            })
        });
        let items: Vec<Item> = items.collect();
        if items.len() != enforced.len() {
            self.refuse(
                "enforced",
                format!("`{}`", enforced.join("`, `")),
                "each as `file: item`",
            );
        }
        let value = self.value();
        let unit = self.text_of("unit", "a unit");
        if !unit.is_empty() && !UNITS.contains(&unit.as_str()) {
            self.refuse(
                "unit",
                format!("`{unit}`"),
                &format!("one of {}", UNITS.join(", ")),
            );
        }
        let whole = matches!(unit.as_str(), "count" | "bytes" | "instructions");
        if whole && value.fract() != 0.0 {
            self.refuse(
                "value",
                value.to_string(),
                &format!("a whole number of {unit}"),
            );
        }
        let sense = match self.text_of("sense", "`at most` or `at least`").as_str() {
            "at most" => Sense::AtMost,
            "at least" => Sense::AtLeast,
            "" => Sense::AtMost,
            other => {
                let found = format!("`{other}`");
                self.refuse("sense", found, "`at most` or `at least`");
                Sense::AtMost
            }
        };
        let source = self.source();
        let has = |field: &str| self.row.is_some_and(|r| r.contains_key(field));
        let (has_rig, has_figure, by_tests) = (has("rig"), has("figure"), has("asserts"));
        let rig = has_rig.then(|| self.text_of("rig", "section.field of a rig"));
        if has_figure && by_tests {
            self.refuse(
                "asserts",
                "`figure` is there too".to_owned(),
                "either measured figures, or what the tests assert where nothing is measured",
            );
        }
        let asserts = by_tests.then(|| {
            self.text_of(
                "asserts",
                "what the tests assert, where no figure is measured",
            )
        });
        Limit {
            id,
            protects: self.text_of("protects", "whom or what the limit protects"),
            value,
            unit,
            sense,
            source,
            rig,
            enforced: items,
            demonstrated: self.list(
                "demonstrated",
                "tests that show it, at least one `room::file::test`",
            ),
            figure: if by_tests {
                Vec::new()
            } else {
                self.list(
                    "figure",
                    "figures of the dossier, at least one `stage.name`; or `asserts`, what the tests assert where nothing is measured",
                )
            },
            asserts,
            command: self.text_of("command", "the command that reproduces the figure"),
            line: self.line,
        }
    }

    fn value(&mut self) -> f64 {
        let found = self.row.and_then(|r| r.get("value"));
        let number = found.and_then(|v| v.as_float().or_else(|| v.as_integer().map(|i| i as f64)));
        match number {
            Some(number) if number.is_finite() => number,
            other => {
                let found =
                    other.map_or_else(|| "missing, or no number".to_owned(), |n| n.to_string());
                self.refuse("value", found, "a finite number");
                0.0
            }
        }
    }

    /// Own derivations and common practice say so; anything else is published and has a clause, page or year.
    fn source(&mut self) -> String {
        const EXPECTED: &str = "a published source with its clause, `common practice, no source`, or `own: reason; where it stands`";
        let source = self.text_of("source", EXPECTED);
        let own = source
            .strip_prefix("own:")
            .is_some_and(|reason| reason.trim().len() > 10);
        let sound = own
            || source.starts_with("common practice, no source")
            || (!source.starts_with("own:") && source.contains(|c: char| c.is_ascii_digit()));
        if !source.is_empty() && !sound {
            self.refuse("source", format!("`{source}`"), EXPECTED);
        }
        source
    }
}
