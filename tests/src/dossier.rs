//! Shared by the checks of the dossier: one tiny dossier, made once a test binary, and a check of a JSON schema.

use host_sim::dossier::folder::{self, ride_page};
use host_sim::dossier::plan::{FaultsPlan, RidesPlan, SeatedPlan};
use host_sim::dossier::record::Environment;
use host_sim::dossier::{Bench, Dossier, Plan, Stage, run};
use host_sim::limits;
use host_sim::parallel::processors;
use host_sim::rig::Rig;
use serde_json::Value;
use std::sync::OnceLock;
use tempfile::TempDir;

/// A dossier and what it was made with.
pub struct Made {
    pub rig: Rig,
    pub dossier: Dossier,
    pub folder: TempDir,
    /// The page that plays one of its rides.
    pub ride: String,
}

impl Made {
    pub fn bench(&self) -> Bench<'_> {
        Bench {
            rig: &self.rig,
            rig_path: None,
            threads: processors(),
            stop: || false,
        }
    }

    /// A copy of the folder.
    pub fn copy(&self) -> TempDir {
        let copy = tempfile::tempdir().expect("a folder");
        for entry in std::fs::read_dir(self.folder.path()).expect("the folder") {
            let entry = entry.expect("an entry");
            std::fs::copy(entry.path(), copy.path().join(entry.file_name())).expect("a copy");
        }
        copy
    }
}

/// Seconds of work: two short rides, an edge, one fault on one floor, a hunt of a few rides.
pub fn plan() -> Plan {
    Plan {
        name: "tiny".to_owned(),
        rides: RidesPlan {
            floors: vec!["hauler".to_owned()],
            levels: vec![2.5],
            seeds: 2,
            seconds: 8.0,
            skip_s: 4.0,
            load_seeds: 0,
        },
        event_seeds: 1,
        seated: SeatedPlan {
            floors: vec!["ballast".to_owned()],
            occupants_kg: vec![80.0],
            seeds: 1,
            sits_down: false,
        },
        sweep_seeds: 0,
        commission_seeds: 2,
        margin_draws: None,
        certificate: false,
        modes: false,
        hunt: (400, 1),
        faults: FaultsPlan {
            run: true,
            only: vec!["travel-dead".to_owned()],
            floors: vec!["hauler".to_owned()],
            quick: true,
            hours: 0.02,
            seeds: 1,
        },
        bitflips: (1, 0),
        headroom: (0, Vec::new()),
        cores: false,
    }
}

/// The dossier, made once.
pub fn made() -> &'static Made {
    static MADE: OnceLock<Made> = OnceLock::new();
    MADE.get_or_init(|| {
        let rig = Rig::default_machine().expect("the default rig");
        let folder = tempfile::tempdir().expect("a folder");
        let bench = Bench {
            rig: &rig,
            rig_path: None,
            threads: processors(),
            stop: || false,
        };
        let plan = plan();
        let stages: Vec<_> = Stage::ALL
            .into_iter()
            .map(|stage| {
                (
                    stage,
                    run::stage(stage, &bench, &plan, None, &|_| ())
                        .unwrap_or_else(|e| panic!("{}: {e}", stage.name())),
                )
            })
            .collect();
        let environment = Environment::of(&rig, None, &plan).expect("an environment");
        let dossier = Dossier::new(&plan.name, environment, &limits::register(), &stages);
        let page = ride_page(&bench, &plan).expect("a page");
        let place = folder::claim(folder.path()).expect("a folder");
        folder::write(place, &dossier, &stages, &page).expect("the folder");
        Made {
            rig,
            dossier,
            folder,
            ride: page,
        }
    })
}

/// What of a value does not fit a schema: the words of JSON Schema 2020-12 that the dossier's schema uses, and no others.
pub fn fits_schema(value: &Value, schema: &Value, at: &str) -> Vec<String> {
    let mut wrong = Vec::new();
    let mut refuse = |what: String| wrong.push(format!("{at}: {what}"));
    let mut inner = Vec::new();
    for (word, wanted) in schema.as_object().expect("a schema") {
        match word.as_str() {
            "$schema" | "title" | "description" => {}
            "const" => {
                if value != wanted {
                    refuse(format!("{value} is not {wanted}"))
                }
            }
            "enum" => {
                if !wanted.as_array().expect("a list").contains(value) {
                    refuse(format!("{value} is none of {wanted}"))
                }
            }
            "type" => {
                let is = |name: &Value| match name.as_str().expect("a type") {
                    "object" => value.is_object(),
                    "array" => value.is_array(),
                    "string" => value.is_string(),
                    "number" => value.is_number(),
                    "null" => value.is_null(),
                    other => panic!("unknown type {other}"),
                };
                if !wanted
                    .as_array()
                    .map_or_else(|| is(wanted), |all| all.iter().any(is))
                {
                    refuse(format!("{value} is no {wanted}"))
                }
            }
            "pattern" => {
                let text = value.as_str().unwrap_or_default();
                let fits = match wanted.as_str().expect("a pattern") {
                    "^becalm " => text.starts_with("becalm "),
                    "^[0-9a-f]{64}$" => {
                        text.len() == 64
                            && text
                                .chars()
                                .all(|c| c.is_ascii_digit() || ('a'..='f').contains(&c))
                    }
                    "^[a-z0-9-]+$" => {
                        !text.is_empty()
                            && text
                                .chars()
                                .all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-')
                    }
                    "^[a-z]+\\." => text.split_once('.').is_some_and(|(stage, _)| {
                        !stage.is_empty() && stage.chars().all(|c| c.is_ascii_lowercase())
                    }),
                    other => panic!("unknown pattern {other}"),
                };
                if !fits {
                    refuse(format!("{value} does not fit {wanted}"))
                }
            }
            "minItems" => {
                if value.as_array().map_or(0, Vec::len)
                    < wanted.as_u64().expect("a number") as usize
                {
                    refuse("too few".to_owned())
                }
            }
            "required" => {
                for name in wanted.as_array().expect("a list") {
                    if value.get(name.as_str().expect("a name")).is_none() {
                        refuse(format!("{name} is missing"))
                    }
                }
            }
            "additionalProperties" => {
                for name in value.as_object().into_iter().flat_map(|o| o.keys()) {
                    if schema["properties"].get(name).is_none() {
                        refuse(format!("{name} is unknown"))
                    }
                }
            }
            "properties" => {
                for (name, schema) in wanted.as_object().expect("an object") {
                    if let Some(part) = value.get(name) {
                        inner.extend(fits_schema(part, schema, &format!("{at}.{name}")))
                    }
                }
            }
            "items" => {
                for (n, part) in value.as_array().into_iter().flatten().enumerate() {
                    inner.extend(fits_schema(part, wanted, &format!("{at}[{n}]")));
                }
            }
            other => panic!("unknown word {other}"),
        }
    }
    wrong.extend(inner);
    wrong
}
