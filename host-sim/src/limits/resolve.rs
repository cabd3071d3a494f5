//! Values of a rig that name a limit: `current_max_a = "@peak-current"`. A rig may hold the number itself instead; then
//! that is the limit for that rig.

use super::register::Register;
use crate::design;
use crate::rig::Rig;
use crate::toml_file::{Place, TomlError, field_at};
use std::collections::BTreeMap;
use std::path::Path;

/// Endings of fields, the longest first, the unit of a limit that may stand there, and how many of that unit make one of
/// the field's.
const ENDINGS: [(&str, &str, f64); 18] = [
    ("_tolerance", "share", 1.0),
    ("_per_hour", "1/h", 1.0),
    ("_strikes", "count", 1.0),
    ("_share", "share", 1.0),
    ("_steps", "count", 1.0),
    ("_mps3", "m/s3", 1.0),
    ("_mps2", "m/s2", 1.0),
    ("_mps", "m/s", 1.0),
    ("_nps", "N/s", 1.0),
    ("_kg", "kg", 1.0),
    ("_hc", "degC", 100.0),
    ("_a", "A", 1.0),
    ("_n", "N", 1.0),
    ("_s", "s", 1.0),
    ("_v", "V", 1.0),
    ("_w", "W", 1.0),
    ("_c", "degC", 1.0),
    ("_m", "m", 1.0),
];

/// Unit of a field by its name, and how many of it make one of the field's; none where the name does not tell.
fn unit_of(field: &str) -> Option<(&'static str, f64)> {
    let known = ENDINGS.iter().find(|(ending, ..)| field.ends_with(ending));
    known.map(|(_, unit, per)| (*unit, *per))
}

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
                let (unit, per) = unit_of(key).map_or((None, 1.0), |(u, per)| (Some(u), per));
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
                    format!("{key} = {:?}{rest}", limit.value / per)
                });
            }
        }
        start += line.len();
    }
    Ok(out)
}

/// Every number that the firmware is given for a rig, by the name that the register has for it, `firmware.stage.field`, those
/// that the bench works out included; and those of the rig's sections `checks` and `proof`.
///
/// # Errors
/// A rig whose observer cannot be designed, or that cannot be written as TOML.
pub fn numbers(rig: &Rig) -> Result<BTreeMap<String, f64>, String> {
    let wrong = |e: toml::ser::Error| format!("rig: {e}");
    let parameters = design::parameters(rig).map_err(|e| format!("rig section observer: {e}"))?;
    let mut found = BTreeMap::new();
    for (name, table) in [
        (
            "firmware",
            toml::Value::try_from(parameters).map_err(wrong)?,
        ),
        ("checks", toml::Value::try_from(rig.checks).map_err(wrong)?),
        ("proof", toml::Value::try_from(rig.proof).map_err(wrong)?),
    ] {
        collect(name.to_owned(), &table, &mut found);
    }
    Ok(found)
}

fn collect(name: String, value: &toml::Value, found: &mut BTreeMap<String, f64>) {
    match value {
        toml::Value::Table(table) => {
            for (key, value) in table {
                collect(format!("{name}.{key}"), value, found);
            }
        }
        toml::Value::Array(all) => {
            for (n, value) in all.iter().enumerate() {
                collect(format!("{name}.{n}"), value, found);
            }
        }
        other => {
            let number = other
                .as_float()
                .or_else(|| other.as_integer().map(|i| i as f64));
            found.extend(number.map(|x| (name, x)));
        }
    }
}

/// The register as it is for a rig: a limit that the rig holds, or that the bench works out for it, has the rig's value.
///
/// # Errors
/// A rig that cannot be used, or a limit whose field no rig has.
pub fn of_rig(register: &Register, rig: &Rig) -> Result<Register, String> {
    let numbers = numbers(rig)?;
    let mut own = register.clone();
    for limit in &mut own.limits {
        let Some(field) = &limit.rig else { continue };
        let Some(&value) = numbers.get(field) else {
            return Err(format!(
                "{}:{}: limit {}: rig: `{field}`: expected a number of the firmware's parameters, or of a rig's sections checks or proof",
                register.file, limit.line, limit.id
            ));
        };
        let per = unit_of(field).map_or(1.0, |(_, per)| per);
        let told = limit.value / per;
        // Single precision in the firmware: the register's own digits where they are the same number.
        if f64::from(told as f32) != value && told != value {
            limit.value = value * per;
        }
    }
    Ok(own)
}
