//! The firmware's parameter table as a constant in Rust, for a port to compile in.

use firmware::{Parameters, StoredTable};
use std::fmt::Write as _;

/// The table as one expression of the type [`StoredTable`], with its check. It needs the crate's path as
/// `firmware`; numbers are written so that they read back as the same bits. A table in which a number was changed by
/// hand no longer holds.
#[must_use]
pub fn expression(parameters: &Parameters) -> String {
    let mut stage = String::new();
    let mut text = "firmware::StoredTable::stored(\n".to_owned();
    // The derived form names types without their modules; the field of the first level is the module.
    for line in format!("{parameters:#?}").lines() {
        let depth = (line.len() - line.trim_start().len()) / 4;
        if let (1, Some((field, _))) = (depth, line.trim().split_once(':')) {
            field.clone_into(&mut stage);
        }
        let line = match line.trim_end().rsplit_once(char::is_whitespace) {
            Some((_, "{")) => qualified(line, depth, &stage),
            _ => line.to_owned(),
        };
        let _ = writeln!(text, "    {line}{}", if line == "}" { "," } else { "" });
    }
    let crc = StoredTable::new(parameters).crc();
    let _ = writeln!(text, "    {crc:#010x},\n)");
    text
}

fn qualified(line: &str, depth: usize, stage: &str) -> String {
    let body = line.trim_end().trim_end_matches('{').trim_end();
    let (before, name) = body.rsplit_once(char::is_whitespace).unwrap_or(("", body));
    let path = if depth == 0 || stage == "timing" {
        format!("firmware::{name}")
    } else {
        format!("firmware::{stage}::{name}")
    };
    let space = if before.is_empty() { "" } else { " " };
    format!("{before}{space}{path} {{")
}
