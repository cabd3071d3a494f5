//! The record of a dossier read from its file; what is none is refused with line, place and field.

use super::figure::Figure;
use super::record::{Dossier, Environment, Judged, NotRun, VERSION};
use super::run::DossierError;
use serde::Deserialize;
use serde_json::Value;
use std::path::Path;

/// Reads the record of a dossier: a folder, or its `dossier.json`.
///
/// # Errors
/// A file that cannot be read or is no dossier of this version.
pub fn read(path: &Path) -> Result<Dossier, DossierError> {
    let file = if path.is_dir() {
        path.join("dossier.json")
    } else {
        path.to_owned()
    };
    let expected =
        "expected a dossier: a folder that `becalm dossier` has written, or its dossier.json";
    let text = std::fs::read_to_string(&file).map_err(|e| {
        DossierError::NotOne(format!(
            "{}: cannot be read: {e}: {expected}",
            file.display()
        ))
    })?;
    let refuse = |e: &serde_json::Error, at: &str| {
        // The place stands before the message.
        let said = e.to_string();
        let said = said.split(" at line ").next().unwrap_or_default();
        DossierError::NotOne(format!(
            "{}:{}:{}: {at}{said}: {expected}",
            file.display(),
            e.line(),
            e.column()
        ))
    };
    let value: Value = serde_json::from_str(&text).map_err(|e| refuse(&e, ""))?;
    if value["version"].as_u64() != Some(u64::from(VERSION)) {
        return Err(DossierError::NotOne(format!(
            "{}: version: {}: expected {VERSION}, the version of the record that this becalm reads",
            file.display(),
            value["version"]
        )));
    }
    serde_json::from_str(&text).map_err(|e| refuse(&e, &place(&value)))
}

/// The part of a record that is no such part, with a colon behind it; nothing when it is none of its parts.
fn place(value: &Value) -> String {
    fn first<T: serde::de::DeserializeOwned>(value: &Value, name: &str) -> Option<String> {
        let rows = value[name].as_array()?;
        let wrong = |row: &Value| T::deserialize(row).is_err();
        let at = rows.iter().position(wrong)?;
        Some(format!("{name}[{at}]: "))
    }
    let environment = value
        .get("environment")
        .filter(|e| Environment::deserialize(*e).is_err())
        .map(|_| "environment: ".to_owned());
    environment
        .or_else(|| first::<Judged>(value, "verdicts"))
        .or_else(|| first::<Figure>(value, "figures"))
        .or_else(|| first::<NotRun>(value, "not_run"))
        .unwrap_or_default()
}
