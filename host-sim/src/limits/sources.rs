//! A digest of the sources that decide what this program computes. The build script uses this file too.

use sha2::{Digest, Sha256};
use std::path::{Path, PathBuf};

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
        collect(&root.join(folder), &mut files)?;
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

fn collect(path: &Path, files: &mut Vec<PathBuf>) -> Option<()> {
    if path.is_dir() {
        for entry in std::fs::read_dir(path).ok()? {
            collect(&entry.ok()?.path(), files)?;
        }
    } else {
        files.push(path.to_owned());
    }
    Some(())
}

/// Bytes as hexadecimal digits.
#[must_use]
pub fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|b| format!("{b:02x}")).collect()
}
