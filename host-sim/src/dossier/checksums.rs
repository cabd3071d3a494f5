//! SHA-256 of every file of a dossier, in the form that `sha256sum --check` reads.

use crate::limits::sources::hex;
use sha2::{Digest, Sha256};
use std::path::Path;

/// Name of the file.
pub const FILE: &str = "SHA256SUMS";

/// SHA-256 of some bytes, as hexadecimal digits.
#[must_use]
pub fn sha256(bytes: &[u8]) -> String {
    hex(&Sha256::digest(bytes))
}

/// One line: checksum, two spaces, name.
#[must_use]
pub fn line(name: &str, bytes: &[u8]) -> String {
    format!("{}  {name}\n", sha256(bytes))
}

/// What does not agree with the checksums of a folder that holds the files of these names, and how many of them do; all of
/// them must have their line, and nothing else may be there.
///
/// # Errors
/// No file of checksums, or one that is none, with line and what was expected.
pub fn check(folder: &Path, names: &[&str]) -> Result<(usize, Vec<String>), String> {
    let path = folder.join(FILE);
    let text = std::fs::read_to_string(&path).map_err(|e| {
        format!(
            "{}: cannot be read: {e}: expected the checksums of a dossier",
            path.display()
        )
    })?;
    let (mut agree, mut wrong, mut listed) = (0, Vec::new(), Vec::new());
    for (n, row) in text.lines().enumerate() {
        let parts = row
            .split_once("  ")
            .filter(|(sum, name)| sum.len() == 64 && !name.contains(['/', '\\']));
        let (sum, name) = parts.ok_or_else(|| {
            format!("{}:{}: `{row}`: expected a SHA-256 of 64 digits, two spaces and the name of a file", path.display(), n + 1)
        })?;
        if listed.contains(&name) {
            wrong.push(format!(
                "{FILE}:{}: {name}: expected one line a file",
                n + 1
            ));
        } else if !names.contains(&name) {
            wrong.push(format!(
                "{FILE}:{}: {name}: expected no such file in this dossier",
                n + 1
            ));
        }
        listed.push(name);
        match std::fs::read(folder.join(name)) {
            Err(e) => wrong.push(format!("{name}: cannot be read: {e}")),
            Ok(bytes) if sha256(&bytes) != sum => wrong.push(format!(
                "{name}: another content: SHA-256 {}, expected {sum}",
                sha256(&bytes)
            )),
            Ok(_) => agree += 1,
        }
    }
    for name in names.iter().filter(|name| !listed.contains(name)) {
        wrong.push(format!(
            "{FILE}: no line of {name}: expected one for every file"
        ));
    }
    let entries = std::fs::read_dir(folder)
        .and_then(Iterator::collect::<Result<Vec<_>, _>>)
        .map_err(|e| format!("{}: cannot be read: {e}", folder.display()))?;
    let mut strangers: Vec<String> = entries
        .iter()
        .map(|entry| entry.file_name().to_string_lossy().into_owned())
        .filter(|name| name != FILE && !names.contains(&name.as_str()))
        .collect();
    strangers.sort();
    for name in strangers {
        wrong.push(format!(
            "{name}: is no part of this dossier: expected only what becalm wrote"
        ));
    }
    Ok((agree, wrong))
}
