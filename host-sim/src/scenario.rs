//! Scenarios: what is ridden, from a TOML file.
//!
//! Every field may be left out. A scenario may build on another one by
//! `include`; its own fields then go before those of the included one. Paths
//! are relative to the file that they stand in.

use crate::body::BodyKind;
use crate::fault::catalogue::by_name;
use crate::fault::{Fault, FaultError, Given};
use crate::floor::{FloorSpec, RecordingOptions};
use crate::ride::{Arithmetic, OccupantChange, RideSpec};
use crate::toml_file::{self, Place, TomlError, place_of};
use serde::Deserialize;
use std::path::{Path, PathBuf};
use toml::Spanned;

/// Why a scenario cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum ScenarioError {
    /// The file.
    #[error(transparent)]
    File(#[from] TomlError),
    /// A file that the scenario names cannot be read.
    #[error(
        "{place}: {field}: '{}' cannot be read: {source}: expected a path relative to this file",
        path.display()
    )]
    MissingFile {
        /// Where it is named.
        place: Place,
        /// `table.field`.
        field: &'static str,
        /// The file that is missing.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// A fault that there is not, or a number that it cannot take.
    #[error("{place}: fault.{field}{}", match error {
        FaultError::Value { value, expected, .. } => format!(" = {value}: expected {expected}"),
        error => format!(": {error}"),
    })]
    Fault {
        /// Where.
        place: Place,
        /// Which field.
        field: &'static str,
        /// What is wrong.
        error: FaultError,
    },
    /// Scenarios that include each other.
    #[error("{place}: include: goes in a circle: {chain}: expected includes that come to an end")]
    Cycle {
        /// Where the circle closes.
        place: Place,
        /// The files on the circle.
        chain: String,
    },
}

/// What a scenario settles. `None`: left to the command line or the default.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Scenario {
    /// Floor, see [`FloorSpec::name`].
    pub floor: Option<String>,
    /// Factor on the floor.
    pub level: Option<f64>,
    /// Speed on roads, m/s.
    pub speed_mps: Option<f64>,
    /// Seed.
    pub seed: Option<u64>,
    /// How to read a recording.
    pub recording: Option<RecordingOptions>,
    /// Occupant, kg; 0 for nobody.
    pub occupant_kg: Option<f64>,
    /// Seated body.
    pub body: Option<BodyKind>,
    /// Length, s.
    pub seconds: Option<f64>,
    /// Start left out of the figures, s.
    pub skip_s: Option<f64>,
    /// Rig file.
    pub rig: Option<PathBuf>,
    /// Arithmetic of the law.
    pub arithmetic: Option<Arithmetic>,
    /// Occupants later in the ride.
    pub changes: Option<Vec<OccupantChange>>,
    /// Winding temperature at the start, degrees Celsius.
    pub coil_c: Option<f64>,
    /// What breaks on the way.
    pub faults: Option<Vec<Fault>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Document {
    include: Option<Spanned<PathBuf>>,
    occupant_kg: Option<Spanned<f64>>,
    body: Option<BodyKind>,
    seconds: Option<Spanned<f64>>,
    skip_s: Option<Spanned<f64>>,
    rig: Option<Spanned<PathBuf>>,
    arithmetic: Option<Arithmetic>,
    #[serde(default)]
    floor: FloorTable,
    changes: Option<Vec<ChangeTable>>,
    coil_c: Option<Spanned<f64>>,
    fault: Option<Vec<FaultTable>>,
}

#[derive(Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct FloorTable {
    name: Option<Spanned<String>>,
    level: Option<Spanned<f64>>,
    speed_mps: Option<Spanned<f64>>,
    seed: Option<u64>,
    recording: Option<RecordingOptions>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FaultTable {
    kind: Spanned<String>,
    onset_s: Option<Spanned<f64>>,
    duration_s: Option<Spanned<f64>>,
    size: Option<Spanned<f64>>,
    every_s: Option<Spanned<f64>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ChangeTable {
    at_s: Spanned<f64>,
    occupant_kg: Spanned<f64>,
}

/// Range of a number and what to say about it.
type Range = (&'static str, fn(f64) -> bool, &'static str);
const OCCUPANT: fn(f64) -> bool = |x| x == 0.0 || (20.0..=200.0).contains(&x);
const OCCUPANT_WORDS: &str = "0 for nobody, or 20 to 200 kg";

/// A file's text, with its name for messages.
struct Source<'a> {
    path: &'a Path,
    text: &'a str,
}

impl Source<'_> {
    fn place<T>(&self, value: &Spanned<T>) -> Place {
        place_of(self.path, self.text, &value.span())
    }

    fn number(
        &self,
        value: Option<Spanned<f64>>,
        (field, holds, expected): Range,
    ) -> Result<Option<f64>, ScenarioError> {
        let Some(value) = value else { return Ok(None) };
        if holds(*value.get_ref()) {
            return Ok(Some(value.into_inner()));
        }
        Err(TomlError::Value {
            place: self.place(&value),
            field: field.to_owned(),
            value: value.into_inner(),
            expected: expected.to_owned(),
        }
        .into())
    }

    /// A path made relative to this file; it must exist.
    fn file(
        &self,
        path: &Path,
        place: impl FnOnce() -> Place,
        field: &'static str,
    ) -> Result<PathBuf, ScenarioError> {
        let path = self.path.parent().unwrap_or(Path::new("")).join(path);
        match path.metadata() {
            Ok(_) => Ok(path),
            Err(source) => Err(ScenarioError::MissingFile {
                place: place(),
                field,
                path,
                source,
            }),
        }
    }

    fn changes(&self, tables: Vec<ChangeTable>) -> Result<Vec<OccupantChange>, ScenarioError> {
        let mut changes: Vec<OccupantChange> = Vec::new();
        for table in tables {
            let place = self.place(&table.at_s);
            let at_s = *table.at_s.get_ref();
            let last = changes.last().map_or(0.0, |c| c.at_s);
            if !(last..=1.0e6).contains(&at_s) {
                return Err(TomlError::Value {
                    place,
                    field: "changes.at_s".to_owned(),
                    value: at_s,
                    expected: "times from 0 to 1000000 s, in order".to_owned(),
                }
                .into());
            }
            let range = ("changes.occupant_kg", OCCUPANT, OCCUPANT_WORDS);
            let occupant_kg = self.number(Some(table.occupant_kg), range)?;
            changes.push(OccupantChange {
                at_s,
                occupant_kg: occupant_kg.unwrap_or_default(),
            });
        }
        Ok(changes)
    }
}

impl FaultTable {
    fn settle(&self, source: &Source<'_>) -> Result<Fault, ScenarioError> {
        let name = self.kind.get_ref();
        let entry = by_name(name).ok_or_else(|| ScenarioError::Fault {
            place: source.place(&self.kind),
            field: "kind",
            error: FaultError::Unknown(name.clone()),
        })?;
        let number = |field: &Option<Spanned<f64>>| field.as_ref().map(|x| *x.get_ref());
        let given = Given {
            onset_s: number(&self.onset_s),
            duration_s: number(&self.duration_s),
            size: number(&self.size),
            every_s: number(&self.every_s),
        };
        Fault::with(entry, &given).map_err(|error| {
            let (field, value) = match &error {
                FaultError::Value { key: "onset", .. } => ("onset_s", &self.onset_s),
                FaultError::Value {
                    key: "duration", ..
                } => ("duration_s", &self.duration_s),
                FaultError::Value { key: "size", .. } => ("size", &self.size),
                FaultError::Value { key: "every", .. } => ("every_s", &self.every_s),
                _ => ("kind", &None),
            };
            let place = value
                .as_ref()
                .map_or_else(|| source.place(&self.kind), |value| source.place(value));
            ScenarioError::Fault {
                place,
                field,
                error,
            }
        })
    }
}

impl Scenario {
    /// Reads a scenario with all that it includes.
    ///
    /// # Errors
    /// [`ScenarioError`], with file, line, column, field and what was expected.
    pub fn read(path: &Path) -> Result<Self, ScenarioError> {
        Self::read_below(path, &mut Vec::new())
    }

    /// `above` are the files that lead here, outermost first.
    fn read_below(path: &Path, above: &mut Vec<PathBuf>) -> Result<Self, ScenarioError> {
        let text = toml_file::read(path, "a scenario in TOML")?;
        let document: Document = toml_file::parse(&text, path)?;
        let source = Source { path, text: &text };
        above.push(path.canonicalize().unwrap_or_else(|_| path.to_owned()));
        let base = match &document.include {
            None => Self::default(),
            Some(include) => {
                let place = || source.place(include);
                let target = source.file(include.get_ref(), place, "include")?;
                let known = target.canonicalize().unwrap_or_else(|_| target.clone());
                if let Some(first) = above.iter().position(|file| *file == known) {
                    let names: Vec<String> = above[first..]
                        .iter()
                        .chain([&known])
                        .map(|file| file.file_name().unwrap_or_default().display().to_string())
                        .collect();
                    return Err(ScenarioError::Cycle {
                        place: source.place(include),
                        chain: names.join(" includes "),
                    });
                }
                Self::read_below(&target, above)?
            }
        };
        above.pop();
        Ok(document.settle(&source)?.over(base))
    }

    /// This scenario's fields; where it has none, those of `base`.
    #[must_use]
    pub fn over(self, base: Self) -> Self {
        Self {
            floor: self.floor.or(base.floor),
            level: self.level.or(base.level),
            speed_mps: self.speed_mps.or(base.speed_mps),
            seed: self.seed.or(base.seed),
            recording: self.recording.or(base.recording),
            occupant_kg: self.occupant_kg.or(base.occupant_kg),
            body: self.body.or(base.body),
            seconds: self.seconds.or(base.seconds),
            skip_s: self.skip_s.or(base.skip_s),
            rig: self.rig.or(base.rig),
            arithmetic: self.arithmetic.or(base.arithmetic),
            changes: self.changes.or(base.changes),
            coil_c: self.coil_c.or(base.coil_c),
            faults: self.faults.or(base.faults),
        }
    }

    /// The ride: defaults where nothing is settled (hauler at level 1, 80 kg,
    /// two-mass body, 60 s of which the first 5 s are left out, single precision).
    /// Without a length of its own it lasts as long as `floor_s`, if that is given.
    #[must_use]
    pub fn into_ride(self, floor_s: Option<f64>) -> RideSpec {
        let usual = RideSpec::on(FloorSpec::named("hauler"));
        let seconds = self.seconds.or(floor_s).unwrap_or(usual.seconds);
        RideSpec {
            floor: self.floor_spec(),
            occupant_kg: self.occupant_kg.unwrap_or(usual.occupant_kg),
            body: self.body.unwrap_or(usual.body),
            seconds,
            // A short ride keeps its second half.
            skip_s: self.skip_s.unwrap_or(usual.skip_s.min(0.5 * seconds)),
            arithmetic: self.arithmetic.unwrap_or_default(),
            changes: self.changes.unwrap_or_default(),
            coil_c: self.coil_c,
            faults: self.faults.unwrap_or_default(),
        }
    }

    /// The floor, with defaults where nothing is settled.
    #[must_use]
    pub fn floor_spec(&self) -> FloorSpec {
        let usual = FloorSpec::named("hauler");
        FloorSpec {
            name: self.floor.clone().unwrap_or(usual.name),
            level: self.level.unwrap_or(usual.level),
            speed_mps: self.speed_mps.unwrap_or(usual.speed_mps),
            seed: self.seed.unwrap_or(usual.seed),
            recording: self.recording.clone().unwrap_or(usual.recording),
        }
    }
}

impl Document {
    fn settle(self, source: &Source<'_>) -> Result<Scenario, ScenarioError> {
        let number = |value, range: Range| source.number(value, range);
        let floor = match self.floor.name {
            None => None,
            Some(name) => {
                let place = || source.place(&name);
                Some(match recording_end(name.get_ref()) {
                    None => name.into_inner(),
                    Some(end) => {
                        let (path, options) = name.get_ref().split_at(end);
                        let path = source.file(Path::new(path), place, "floor.name")?;
                        format!("{}{options}", path.display())
                    }
                })
            }
        };
        let rig = match self.rig {
            None => None,
            Some(rig) => Some(source.file(rig.get_ref(), || source.place(&rig), "rig")?),
        };
        Ok(Scenario {
            floor,
            level: number(
                self.floor.level,
                ("floor.level", |x| (0.0..=100.0).contains(&x), "0 to 100"),
            )?,
            speed_mps: number(
                self.floor.speed_mps,
                (
                    "floor.speed_mps",
                    |x| (1.0..=60.0).contains(&x),
                    "1 to 60 m/s",
                ),
            )?,
            seed: self.floor.seed,
            recording: self.floor.recording,
            occupant_kg: number(self.occupant_kg, ("occupant_kg", OCCUPANT, OCCUPANT_WORDS))?,
            body: self.body,
            seconds: number(
                self.seconds,
                (
                    "seconds",
                    |x| (0.1..=1.0e6).contains(&x),
                    "0.1 to 1000000 s",
                ),
            )?,
            skip_s: number(
                self.skip_s,
                (
                    "skip_s",
                    |x| (0.0..1.0e6).contains(&x),
                    "0 to just below the length of the ride",
                ),
            )?,
            rig,
            arithmetic: self.arithmetic,
            changes: self.changes.map(|c| source.changes(c)).transpose()?,
            coil_c: number(
                self.coil_c,
                (
                    "coil_c",
                    |x| (-60.0..=300.0).contains(&x),
                    "-60 to 300 degrees Celsius",
                ),
            )?,
            faults: self
                .fault
                .map(|tables| tables.iter().map(|t| t.settle(source)).collect())
                .transpose()?,
        })
    }
}

/// Where the path of a recording ends in a floor's name; `None` when it is not a recording.
#[must_use]
pub fn recording_end(name: &str) -> Option<usize> {
    let lower = name.to_ascii_lowercase();
    if lower.ends_with(".csv") {
        return Some(name.len());
    }
    lower.rfind(".csv:").map(|at| at + ".csv".len())
}
