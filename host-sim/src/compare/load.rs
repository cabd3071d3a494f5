//! A dossier, or the summary of a ride, as something to compare.

use crate::dossier::{Better, Dossier, DossierError, Figure, Judged, Over, Verdict, verify};
use crate::limits::constant::STOP_TOUCH_SPEED;
use serde::Serialize;
use serde_json::Value;
use std::path::{Path, PathBuf};

/// Why two things cannot be compared.
#[derive(Debug, thiserror::Error)]
pub enum CompareError {
    /// A dossier that is none.
    #[error(transparent)]
    Dossier(#[from] DossierError),
    /// A file that is neither.
    #[error("{}: {found}: expected a dossier (a folder or its dossier.json) or the summary.json of a ride", path.display())]
    Neither {
        /// The file.
        path: PathBuf,
        /// What was found.
        found: String,
    },
    /// A dossier and a ride.
    #[error("{}: {what}: expected two dossiers of the same plan, or two rides", path.display())]
    Unlike {
        /// The second of the two.
        path: PathBuf,
        /// What differs.
        what: String,
    },
    /// Two rides that are not the same.
    #[error("{}: different rides: {what}: expected the same floor, level, seed, occupant, body, length, start left out and faults", path.display())]
    OtherRide {
        /// The second of the two.
        path: PathBuf,
        /// What differs.
        what: String,
    },
}

/// The rig of a dossier.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct RigOf {
    /// Its name.
    pub name: String,
    /// SHA-256 of it.
    pub sha256: String,
}

/// One side of a comparison.
#[derive(Clone, Debug, PartialEq)]
pub struct Subject {
    /// The file or folder.
    pub path: PathBuf,
    /// What it is: the plan of a dossier, or `ride`.
    pub kind: String,
    /// Its figures.
    pub figures: Vec<Figure>,
    /// Its verdicts: limit, verdict, and the row of the dossier where there is one.
    pub verdicts: Vec<Judged>,
    /// What it was made from, or what was ridden.
    pub about: String,
    /// The rig of a dossier; the summary of a ride does not tell.
    pub rig: Option<RigOf>,
    /// What a ride consists of, name and value; empty for a dossier.
    pub ride: Vec<(&'static str, String)>,
}

impl Subject {
    /// Reads a dossier or a ride's summary.
    ///
    /// # Errors
    /// A file that is neither.
    pub fn read(path: &Path) -> Result<Self, CompareError> {
        let neither = |found: String| CompareError::Neither {
            path: path.to_owned(),
            found,
        };
        let file = match path.is_dir() {
            false => path.to_owned(),
            true => ["dossier.json", "summary.json"]
                .map(|name| path.join(name))
                .into_iter()
                .find(|file| file.is_file())
                .ok_or_else(|| {
                    neither("a folder with neither dossier.json nor summary.json".to_owned())
                })?,
        };
        let text =
            std::fs::read_to_string(&file).map_err(|e| neither(format!("cannot be read: {e}")))?;
        let value: Value = serde_json::from_str(&text)
            .map_err(|e| neither(format!("line {}, column {}: {e}", e.line(), e.column())))?;
        if value.get("verdicts").is_some() {
            return Ok(Self::of(path, verify::read(&file)?));
        }
        if value["seat"].is_object() && value["travel"].is_object() {
            return Ok(Self::ride(path, &value));
        }
        Err(neither("JSON of something else".to_owned()))
    }

    /// A dossier.
    #[must_use]
    pub fn of(path: &Path, dossier: Dossier) -> Self {
        let e = &dossier.environment;
        Self {
            path: path.to_owned(),
            kind: dossier.plan,
            about: format!("becalm {}, commit {}, {}", e.becalm, e.git, e.rig),
            rig: Some(RigOf {
                name: e.rig.clone(),
                sha256: e.rig_sha256.clone(),
            }),
            figures: dossier.figures,
            verdicts: dossier.verdicts,
            ride: Vec::new(),
        }
    }

    /// How two rides differ in what was ridden; none for the same ride, and for dossiers.
    #[must_use]
    pub fn rides_otherwise(&self, other: &Self) -> Option<String> {
        let differ: Vec<String> = self
            .ride
            .iter()
            .zip(&other.ride)
            .filter(|(a, b)| a != b)
            .map(|((name, a), (_, b))| format!("{name} {a} against {b}"))
            .collect();
        (!differ.is_empty()).then(|| differ.join(", "))
    }

    fn ride(path: &Path, summary: &Value) -> Self {
        let mut figures = Vec::new();
        for part in ["seat", "travel", "actuator", "estimate", "assumptions"] {
            leaves(&mut figures, part, &summary[part]);
        }
        for name in ["seat_value", "seat_value_vdv", "share_of_possible"] {
            leaves(&mut figures, name, &summary[name]);
        }
        let contact = summary["travel"]["contact_speed_max_mps"].as_f64();
        Self {
            path: path.to_owned(),
            kind: "ride".to_owned(),
            about: format!(
                "{} at level {}, {} kg, seed {}, {} s",
                summary["floor"]["name"].as_str().unwrap_or("?"),
                summary["floor"]["level"],
                summary["occupant_kg"],
                summary["seed"],
                summary["seconds"]
            ),
            figures,
            verdicts: vec![stops(contact)],
            rig: None,
            ride: ridden(summary),
        }
    }
}

/// What a ride consists of.
fn ridden(summary: &Value) -> Vec<(&'static str, String)> {
    let plain = |value: &Value| {
        value
            .as_str()
            .map_or_else(|| value.to_string(), str::to_owned)
    };
    let faults = summary["faults"].as_array().map_or(&[][..], Vec::as_slice);
    let faults: Vec<String> = faults.iter().map(|f| plain(&f["fault"])).collect();
    vec![
        ("floor", plain(&summary["floor"]["name"])),
        ("level", plain(&summary["floor"]["level"])),
        ("seed", plain(&summary["seed"])),
        ("occupant_kg", plain(&summary["occupant_kg"])),
        ("body", plain(&summary["body"])),
        ("seconds", plain(&summary["seconds"])),
        ("skipped_s", plain(&summary["skipped_s"])),
        (
            "faults",
            if faults.is_empty() {
                "none".to_owned()
            } else {
                faults.join(" ")
            },
        ),
    ]
}

/// The one limit that every ride is held against.
fn stops(contact: Option<f64>) -> Judged {
    let holds = contact.is_some_and(|c| c <= STOP_TOUCH_SPEED);
    Judged {
        limit: "stop-touch-speed".to_owned(),
        protects: "occupant: speed at which an end stop is met".to_owned(),
        value: STOP_TOUCH_SPEED,
        unit: "m/s".to_owned(),
        sense: "at most".to_owned(),
        source: String::new(),
        measured: contact,
        margin: contact.map(|c| STOP_TOUCH_SPEED - c),
        verdict: if holds {
            Verdict::Holds
        } else {
            Verdict::Broken
        },
        figure: "travel.contact_speed_max_mps".to_owned(),
        evidence: "summary.json".to_owned(),
        command: String::new(),
        why: None,
        enforced: Vec::new(),
        demonstrated: Vec::new(),
        judged: Vec::new(),
    }
}

/// Names of figures that are better when they are larger.
const HIGHER: [&str; 2] = ["share_of_possible", "set_margin_mps"];
/// What is assumed, not measured.
const ASSUMED: &str = "assumed";

/// Every number below a part of a summary as a figure.
fn leaves(figures: &mut Vec<Figure>, name: &str, value: &Value) {
    match value {
        Value::Object(fields) => {
            for (field, value) in fields.iter().filter(|(field, _)| *field != ASSUMED) {
                leaves(figures, &format!("{name}.{field}"), value);
            }
        }
        Value::Number(number) => {
            let last = name
                .trim_end_matches(".seen")
                .rsplit('.')
                .next()
                .unwrap_or(name);
            // Errors may be of either sign.
            let value = number
                .as_f64()
                .map(|v| if last.contains("error") { v.abs() } else { v });
            figures.push(Figure {
                id: name.to_owned(),
                value,
                unit: unit(last).to_owned(),
                better: if HIGHER.contains(&last) {
                    Better::Higher
                } else {
                    Better::Lower
                },
                over: Over::Nothing,
                seeds: Vec::new(),
                evidence: "summary.json".to_owned(),
                command: String::new(),
            });
        }
        _ => {}
    }
}

/// The unit that a name of a summary's field ends in.
fn unit(name: &str) -> &'static str {
    const UNITS: [(&str, &str); 12] = [
        ("_mps175", "m/s1.75"),
        ("_mps3", "m/s3"),
        ("_mps2", "m/s2"),
        ("_mps", "m/s"),
        ("_mpa", "MPa"),
        ("_kg", "kg"),
        ("_m", "m"),
        ("_n", "N"),
        ("_w", "W"),
        ("_c", "degC"),
        ("_fraction", "share"),
        ("contacts", "count"),
    ];
    UNITS
        .iter()
        .find(|(ending, _)| name.ends_with(ending))
        .map_or("1", |(_, unit)| unit)
}
