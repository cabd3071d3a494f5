//! The commit that this program is made from.
//!
//! Git is asked when the dossier is made, so that a commit does not build the bench anew. It counts only while the sources
//! beside it are those that the program was made from; else stands what git said when the program was built.

use crate::limits::sources;
use std::path::Path;

/// The commit's hash, with ` with changes` behind it where files differ from it; `none` outside git.
#[must_use]
pub fn commit() -> String {
    let root = Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/.."));
    let same = sources::digest(root).as_deref() == Some(env!("BECALM_SOURCES"));
    same.then(|| sources::commit(root))
        .flatten()
        .unwrap_or_else(|| env!("BECALM_GIT").to_owned())
}
