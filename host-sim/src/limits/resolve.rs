//! Values of a rig that name a limit: `current_max_a = "@peak-current"`. A rig may hold the number itself instead; then
//! that is the limit for that rig.

use super::register::Register;
use crate::rig::Rig;
use crate::toml_file::{Place, TomlError, field_at};
use std::path::Path;

/// Endings of a rig's fields, the longest first, and the unit of a limit that may stand there.
const ENDINGS: [(&str, &str); 14] = [
    ("_mps3", "m/s3"),
    ("_mps2", "m/s2"),
    ("_strikes", "count"),
    ("_steps", "count"),
    ("_mps", "m/s"),
    ("_nps", "N/s"),
    ("_kg", "kg"),
    ("_a", "A"),
    ("_n", "N"),
    ("_s", "s"),
    ("_v", "V"),
    ("_w", "W"),
    ("_c", "degC"),
    ("_m", "m"),
];

/// The text of a rig with the numbers of the register in place of names. Lines stay where they are.
///
/// # Errors
/// A name that is no limit, or a limit of another unit than the field's, with file, line and field.
pub fn resolve(text: &str, path: &Path, register: &Register) -> Result<String, TomlError> {
    let mut out = String::with_capacity(text.len());
    let mut start = 0;
    for line in text.split_inclusive('\n') {
        let found = line.split_once('=').and_then(|(key, rest)| {
            let id = rest.trim_start().strip_prefix("\"@")?.split_once('"')?;
            Some((key.trim(), id.0, id.1))
        });
        match found {
            None => out.push_str(line),
            Some((key, id, rest)) => {
                let at = start + line.find('"').unwrap_or(0);
                let refuse = |message: String| TomlError::Syntax {
                    place: Place {
                        file: path.to_owned(),
                        line: text[..start].matches('\n').count() + 1,
                        column: text[start..at].chars().count() + 1,
                    },
                    field: field_at(text, &(at..at + 1)),
                    message,
                };
                let limit = register.find(id).ok_or_else(|| {
                    refuse(format!("`@{id}` is no limit: expected a number, or `@` and an id that `becalm limits` lists"))
                })?;
                let unit = ENDINGS
                    .iter()
                    .find(|(ending, _)| key.ends_with(ending))
                    .map(|(_, unit)| *unit);
                if let Some(unit) = unit.filter(|unit| *unit != limit.unit) {
                    return Err(refuse(format!(
                        "limit `{id}` is in {}: expected one in {unit}, as the field's name says",
                        limit.unit
                    )));
                }
                // Counted fields are whole numbers.
                out.push_str(&if unit == Some("count") {
                    format!("{key} = {:.0}{rest}", limit.value)
                } else {
                    format!("{key} = {:?}{rest}", limit.value)
                });
            }
        }
        start += line.len();
    }
    Ok(out)
}

/// The register as it is for a rig: a limit that a field of the rig holds has the rig's value.
///
/// # Errors
/// A rig that cannot be written as TOML, or a limit whose field no rig has.
pub fn of_rig(register: &Register, rig: &Rig) -> Result<Register, String> {
    let table = toml::Table::try_from(rig).map_err(|e| format!("rig: {e}"))?;
    let mut own = register.clone();
    for limit in &mut own.limits {
        let Some(field) = &limit.rig else { continue };
        let found = field.split('.').try_fold(None::<&toml::Value>, |at, key| {
            let table = at.map_or(Some(&table), toml::Value::as_table)?;
            Some(Some(table.get(key)?))
        });
        let value = found
            .flatten()
            .and_then(|v| v.as_float().or_else(|| v.as_integer().map(|i| i as f64)));
        let value = value.ok_or_else(|| {
            format!(
                "{}:{}: limit {}: rig: `{field}`: expected a number's field of a rig",
                register.file, limit.line, limit.id
            )
        })?;
        // Single precision in the firmware: the register's own digits where they are the same number.
        if f64::from(limit.value as f32) != value && limit.value != value {
            limit.value = value;
        }
    }
    Ok(own)
}
