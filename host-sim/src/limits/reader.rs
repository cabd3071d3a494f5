//! Reads the fields of one table of the register, and says of each that is wrong what was expected.

use super::register::{Item, Limit, NoLimit, Refusal, Sense, UNITS};

/// Fields of a limit.
const FIELDS: [&str; 14] = [
    "id",
    "protects",
    "value",
    "unit",
    "sense",
    "source",
    "rig",
    "enforced",
    "demonstrated",
    "judged",
    "missed",
    "figure",
    "asserts",
    "command",
];

/// Reads the fields of one limit, or of what is none.
pub(super) struct Reader<'t> {
    text: &'t str,
    file: &'t str,
    line: usize,
    row: Option<&'t toml::Table>,
    id: Option<String>,
    pub(super) refusals: Vec<Refusal>,
}

impl<'t> Reader<'t> {
    pub(super) fn new(text: &'t str, file: &'t str, line: usize, row: &'t toml::Value) -> Self {
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

    pub(super) fn refuse(&mut self, field: &str, found: String, expected: &str) {
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

    pub(super) fn limit(&mut self) -> Limit {
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
        let (is_missed, is_judged, is_shown) = (has("missed"), has("judged"), has("demonstrated"));
        let rig = has_rig.then(|| self.text_of("rig", "section.field of a rig"));
        if has_figure && by_tests {
            self.refuse(
                "asserts",
                "`figure` is there too".to_owned(),
                "either measured figures, or what the tests assert where nothing is measured",
            );
        }
        if is_missed && (is_shown || by_tests) {
            self.refuse(
                "missed",
                "`demonstrated` or `asserts` is there too".to_owned(),
                "no test that shows a limit which is missed, but measured figures and `judged`",
            );
        }
        if !is_missed && is_judged {
            self.refuse(
                "judged",
                "`missed` is not there".to_owned(),
                "`demonstrated`, unless the limit is missed",
            );
        }
        let missed =
            is_missed.then(|| self.text_of("missed", "why it is not kept, and where that stands"));
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
            demonstrated: if is_missed {
                Vec::new()
            } else {
                self.list(
                    "demonstrated",
                    "tests that show it, at least one `room::file::test`; or `missed` and `judged`",
                )
            },
            judged: if is_missed {
                self.list(
                    "judged",
                    "tests that show that it is judged rightly, at least one `room::file::test`",
                )
            } else {
                Vec::new()
            },
            missed,
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

    /// What is no limit, and why.
    pub(super) fn no_limit(&mut self) -> NoLimit {
        let fields = self.list("fields", "fields of a rig, at least one `section.field`");
        let because = self.text_of("because", "what they are, if no limit");
        if !because.is_empty() && because.len() <= 10 {
            self.refuse("because", format!("`{because}`"), "a reason");
        }
        let unknown = self.row.into_iter().flat_map(|r| r.keys());
        let unknown: Vec<String> = unknown
            .filter(|key| !["fields", "because"].contains(&key.as_str()))
            .cloned()
            .collect();
        for key in unknown {
            self.refuse(&key, "unknown".to_owned(), "fields and because");
        }
        NoLimit {
            fields,
            because,
            line: self.line,
        }
    }
}
