//! The commit that this program is made from.
//!
//! Git is asked when the dossier is made, so that a commit does not build the bench anew. It counts only while the sources
//! beside it are those that the program was made from; else stands what git said when the program was built.

use crate::limits::sources;
use std::path::Path;
use std::process::Command;

/// The commit's hash, with ` with changes` behind it where files differ from it; `none` outside git.
#[must_use]
pub fn commit() -> String {
    let root = Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/.."));
    let same = sources::digest(root).as_deref() == Some(env!("BECALM_SOURCES"));
    same.then(|| told(root))
        .flatten()
        .unwrap_or_else(|| env!("BECALM_GIT").to_owned())
}

/// What git tells in a folder; none without git.
fn told(root: &Path) -> Option<String> {
    let said = |arguments: &[&str]| {
        let output = Command::new("git")
            .args(arguments)
            .current_dir(root)
            .output()
            .ok()?;
        let text = String::from_utf8(output.stdout).ok()?;
        output.status.success().then(|| text.trim().to_owned())
    };
    let commit = said(&["rev-parse", "HEAD"])?;
    let changed = said(&["status", "--porcelain", "--untracked-files=no"])?;
    Some(if changed.is_empty() {
        commit
    } else {
        format!("{commit} with changes")
    })
}
