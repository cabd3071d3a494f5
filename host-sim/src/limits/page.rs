//! The register as a page of the documentation, `docs/limits.md`.

use super::register::{Limit, Register};
use std::fmt::Write;

/// What demonstrates a limit, or that it is missed and what judges it.
fn shown(limit: &Limit) -> String {
    let tests = [&limit.demonstrated[..], &limit.judged].concat().join(", ");
    match (&limit.missed, &limit.asserts) {
        (Some(why), _) => format!("missed: {why}; judged by {tests}"),
        (None, Some(asserts)) => format!("{tests}: {asserts}"),
        (None, None) => tests,
    }
}

/// The page. A test holds the committed one against it.
#[must_use]
pub fn markdown(register: &Register) -> String {
    let mut text = String::from(
        "# Limits\n\nMade by `becalm limits --markdown` from [host-sim/limits.toml](../host-sim/limits.toml), which is the only place where \
         a limit is set. By how much each holds: `becalm limits`, or a dossier (`becalm dossier`). Where no figure is measured, the last column says what the tests assert; and of a limit that is missed, why.\n\n\
         | limit | value | protects | source | enforced by | demonstrated by |\n|---|---|---|---|---|---|\n",
    );
    for limit in &register.limits {
        let enforced: Vec<String> = limit
            .enforced
            .iter()
            .map(|i| format!("{}, `{}`", i.file, i.name))
            .collect();
        // Writing to a string cannot fail.
        let _ = writeln!(
            text,
            "| `{}` | {} | {} | {} | {} | {} |",
            limit.id,
            limit.wanted(),
            limit.protects,
            limit.source,
            enforced.join("; "),
            shown(limit),
        );
    }
    text.push_str(
        "\n## What is no limit\n\nEvery number that the firmware is given, and of the rig's sections `checks` and `proof`, is a limit above or stands here.\n\n\
         | fields | what they are |\n|---|---|\n",
    );
    for none in &register.no_limits {
        let _ = writeln!(
            text,
            "| `{}` | {} |",
            none.fields.join("`, `"),
            none.because
        );
    }
    text
}
