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

/// What does not agree with the checksums of a folder; empty when all does.
///
/// # Errors
/// No file of checksums, or one that is none, with line and what was expected.
pub fn check(folder: &Path) -> Result<Vec<String>, String> {
    let path = folder.join(FILE);
    let text = std::fs::read_to_string(&path).map_err(|e| {
        format!(
            "{}: cannot be read: {e}: expected the checksums of a dossier",
            path.display()
        )
    })?;
    let mut wrong = Vec::new();
    for (n, row) in text.lines().enumerate() {
        let parts = row
            .split_once("  ")
            .filter(|(sum, name)| sum.len() == 64 && !name.contains(['/', '\\']));
        let (sum, name) = parts.ok_or_else(|| {
            format!("{}:{}: `{row}`: expected a SHA-256 of 64 digits, two spaces and the name of a file", path.display(), n + 1)
        })?;
        match std::fs::read(folder.join(name)) {
            Err(e) => wrong.push(format!("{name}: cannot be read: {e}")),
            Ok(bytes) if sha256(&bytes) != sum => wrong.push(format!(
                "{name}: another content: SHA-256 {}, expected {sum}",
                sha256(&bytes)
            )),
            Ok(_) => {}
        }
    }
    if text.lines().next().is_none() {
        wrong.push(format!("{FILE}: empty: expected a line for every file"));
    }
    Ok(wrong)
}
