//! Whether every limit is enforced by something and demonstrated by something: the items that the register names are in
//! their files, and the tests that it names carry its tags, each for each.
//!
//! A tag stands above a test: `// Demonstrates: peak-current, clamp-accel`; of a limit that is missed, above those that show
//! that it is judged rightly, `// Judges: peak-current`. The build script uses this file too.

use super::register::{Item, Limit, Refusal, Register};
use super::sources;
use std::collections::BTreeMap;
use std::path::Path;

/// Folders whose tests may carry tags.
pub const TEST_FOLDERS: [&str; 2] = ["tests/tests", "host-sim/tests"];
/// How the tags begin, and the field of the register that names the same tests.
const TAGS: [(&str, &str); 2] = [
    ("// Demonstrates:", "demonstrated"),
    ("// Judges:", "judged"),
];

/// One id of a tag.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Tag {
    /// The file, from the root.
    pub file: String,
    /// Line, from 1.
    pub line: usize,
    /// The test below it, as `room::file::test`; none when no test follows.
    pub test: Option<String>,
    /// The limit that is named.
    pub id: String,
    /// Field of the register that names the test: `demonstrated` or `judged`.
    pub field: &'static str,
}

/// The tags of one file.
#[must_use]
pub fn tags(file: &str, text: &str) -> Vec<Tag> {
    let below = TEST_FOLDERS.iter().find_map(|f| file.strip_prefix(f));
    let module = below
        .unwrap_or(file)
        .trim_matches('/')
        .trim_end_matches(".rs")
        .replace('/', "::");
    let lines: Vec<&str> = text.lines().map(str::trim).collect();
    let mut found = Vec::new();
    for (n, line) in lines.iter().enumerate() {
        let tag = TAGS
            .iter()
            .find_map(|(tag, field)| Some((line.strip_prefix(tag)?, *field)));
        let Some((ids, field)) = tag else {
            continue;
        };
        // Comments and attributes may stand between a tag and its test, nothing else.
        let mut below = lines[n + 1..]
            .iter()
            .skip_while(|l| l.starts_with("//") || l.starts_with("#["));
        let attributes = lines[n + 1..]
            .iter()
            .take_while(|l| l.starts_with("//") || l.starts_with("#["));
        let is_test = attributes.clone().any(|l| *l == "#[test]");
        let name = below
            .next()
            .and_then(|l| l.strip_prefix("fn "))
            .and_then(|l| l.split('(').next());
        for id in ids.split(',').map(str::trim) {
            found.push(Tag {
                file: file.to_owned(),
                line: n + 1,
                test: name
                    .filter(|_| is_test)
                    .map(|name| format!("{module}::{name}")),
                id: id.to_owned(),
                field,
            });
        }
    }
    found
}

/// Whether an item is defined in a source text: a function, constant, type or field, or `Type::name`, where the file also
/// has the type or something implemented for it.
#[must_use]
pub fn defines(text: &str, item: &str) -> bool {
    let code: Vec<Vec<&str>> = (text.lines().map(str::trim))
        .filter(|line| !line.starts_with("//"))
        .map(|line| {
            line.split(|c: char| !(c.is_alphanumeric() || c == '_'))
                .filter(|w| !w.is_empty())
                .collect()
        })
        .collect();
    let follows = |words: &[&str], name: &str| {
        code.iter().any(|line| {
            line.windows(2)
                .any(|pair| words.contains(&pair[0]) && pair[1] == name)
        })
    };
    let field = |name: &str| {
        text.lines().map(str::trim).any(|line| {
            let line = line
                .strip_prefix("pub ")
                .or_else(|| line.strip_prefix("pub(crate) "))
                .unwrap_or(line);
            line.strip_prefix(name)
                .is_some_and(|rest| rest.starts_with(':') && !rest.starts_with("::"))
        })
    };
    let (of, name) = match item.rsplit_once("::") {
        Some((of, name)) => (Some(of), name),
        None => (None, item),
    };
    let defined = follows(
        &[
            "fn", "const", "static", "struct", "enum", "trait", "type", "mod",
        ],
        name,
    ) || field(name);
    let owned = of.is_none_or(|of| {
        follows(&["struct", "enum", "trait"], of)
            || code
                .iter()
                .any(|line| line.first() == Some(&"impl") && line.contains(&of))
    });
    !name.is_empty() && defined && owned
}

/// What the files below `root` say against the register: all of it.
///
/// # Errors
/// A folder of tests that cannot be read.
pub fn check(register: &Register, root: &Path) -> Result<Vec<Refusal>, Vec<Refusal>> {
    let mut refusals = Vec::new();
    let mut sources: BTreeMap<String, Option<String>> = BTreeMap::new();
    for limit in &register.limits {
        for item in &limit.enforced {
            let text = sources
                .entry(item.file.clone())
                .or_insert_with(|| std::fs::read_to_string(root.join(&item.file)).ok());
            refusals.extend(enforced(register, limit, item, text.as_deref()));
        }
    }
    let mut shown: BTreeMap<(String, String, &str), Tag> = BTreeMap::new();
    for tag in all_tags(root)? {
        match (&tag.test, register.find(&tag.id)) {
            (None, _) => refusals.push(about_tag(
                &tag,
                "no test below it",
                "a function with #[test] right below the tag",
            )),
            (_, None) => refusals.push(about_tag(
                &tag,
                &format!("`{}` is no limit", tag.id),
                &known(register),
            )),
            (Some(test), Some(_)) => {
                shown.insert((tag.id.clone(), test.clone(), tag.field), tag);
            }
        }
    }
    for limit in &register.limits {
        for (tag, field) in TAGS {
            let tests = match field {
                "judged" => &limit.judged,
                _ => &limit.demonstrated,
            };
            for test in tests {
                let key = (limit.id.clone(), test.clone(), field);
                if shown.remove(&key).is_none() {
                    refusals.push(about(
                        register,
                        limit,
                        field,
                        format!("`{test}` is not there or not tagged"),
                        format!("a test of that name with `{tag} {}` above it", limit.id),
                    ));
                }
            }
        }
    }
    for ((id, test, field), tag) in shown {
        refusals.push(about_tag(
            &tag,
            &format!("`{id}` does not name `{test}`"),
            &format!("the same test in `{field}` of that limit, or no tag"),
        ));
    }
    Ok(refusals)
}

fn enforced(
    register: &Register,
    limit: &Limit,
    item: &Item,
    text: Option<&str>,
) -> Option<Refusal> {
    let found = match text {
        None => format!("`{}` cannot be read", item.file),
        Some(text) if !defines(text, &item.name) => {
            format!("`{}` is not defined in `{}`", item.name, item.file)
        }
        Some(_) => return None,
    };
    let expected =
        "a file of the repository and a function, constant, type or field in it".to_owned();
    Some(about(register, limit, "enforced", found, expected))
}

fn about(
    register: &Register,
    limit: &Limit,
    field: &str,
    found: String,
    expected: String,
) -> Refusal {
    Refusal {
        file: register.file.clone(),
        line: limit.line,
        limit: Some(limit.id.clone()),
        field: field.to_owned(),
        found,
        expected,
    }
}

fn about_tag(tag: &Tag, found: &str, expected: &str) -> Refusal {
    Refusal {
        file: tag.file.clone(),
        line: tag.line,
        limit: Some(tag.id.clone()),
        field: "tag".to_owned(),
        found: found.to_owned(),
        expected: expected.to_owned(),
    }
}

fn known(register: &Register) -> String {
    format!(
        "an id of {}, which has {}",
        register.file,
        register.limits.len()
    )
}

/// The tags of all tests below `root`, in order of their files.
///
/// # Errors
/// A folder or file that cannot be read.
pub fn all_tags(root: &Path) -> Result<Vec<Tag>, Vec<Refusal>> {
    let mut found = Vec::new();
    for folder in TEST_FOLDERS {
        let refuse = |error: std::io::Error| {
            vec![Refusal {
                file: folder.to_owned(),
                line: 0,
                limit: None,
                field: "tests".to_owned(),
                found: error.to_string(),
                expected: "a folder of tests that can be read".to_owned(),
            }]
        };
        let mut files = Vec::new();
        sources::collect(&root.join(folder), &mut files).map_err(refuse)?;
        files.retain(|file| file.extension().is_some_and(|e| e == "rs"));
        files.sort();
        for file in files {
            let name = file.strip_prefix(root).unwrap_or(&file).to_string_lossy();
            let text = std::fs::read_to_string(&file).map_err(refuse)?;
            found.extend(tags(&name.replace('\\', "/"), &text));
        }
    }
    Ok(found)
}
