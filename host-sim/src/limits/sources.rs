//! What this program is made from: a digest of the sources that decide what it computes, and the commit. The build script
//! uses this file too.

use sha2::{Digest, Sha256};
use std::path::{Path, PathBuf};
use std::process::Command;

/// From the root of the repository: folders and files.
pub const FOLDERS: [&str; 7] = [
    "shared-math/src",
    "firmware/src",
    "host-sim/src",
    "host-sim/rigs",
    "host-sim/limits.toml",
    "Cargo.toml",
    "Cargo.lock",
];

/// SHA-256 over names and contents, in order of the names, as hexadecimal digits; none when they cannot be read.
#[must_use]
pub fn digest(root: &Path) -> Option<String> {
    let mut files = Vec::new();
    for folder in FOLDERS {
        collect(&root.join(folder), &mut files).ok()?;
    }
    files.sort();
    let mut hash = Sha256::new();
    for file in files {
        let name = file
            .strip_prefix(root)
            .ok()?
            .to_string_lossy()
            .replace('\\', "/");
        let bytes = std::fs::read(&file).ok()?;
        hash.update(format!("{name} {}\n", bytes.len()));
        hash.update(&bytes);
    }
    Some(hex(&hash.finalize()))
}

/// A file itself, or every file below a folder, in no order.
///
/// # Errors
/// A folder that cannot be read.
pub fn collect(path: &Path, files: &mut Vec<PathBuf>) -> std::io::Result<()> {
    if path.is_dir() {
        for entry in std::fs::read_dir(path)? {
            collect(&entry?.path(), files)?;
        }
    } else {
        files.push(path.to_owned());
    }
    Ok(())
}

/// The commit's hash as git tells it in a folder, with ` with changes` behind it where files differ from it; none without git.
#[must_use]
pub fn commit(root: &Path) -> Option<String> {
    let commit = said(root, "git", &["rev-parse", "HEAD"])?;
    let changed = said(
        root,
        "git",
        &["status", "--porcelain", "--untracked-files=no"],
    )?;
    Some(if changed.is_empty() {
        commit
    } else {
        format!("{commit} with changes")
    })
}

/// What a program prints in a folder; none when it fails.
#[must_use]
pub fn said(root: &Path, program: &str, arguments: &[&str]) -> Option<String> {
    let output = Command::new(program)
        .args(arguments)
        .current_dir(root)
        .output()
        .ok()?;
    let text = String::from_utf8(output.stdout).ok()?;
    output.status.success().then(|| text.trim().to_owned())
}

/// Bytes as hexadecimal digits.
#[must_use]
pub fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|b| format!("{b:02x}")).collect()
}
