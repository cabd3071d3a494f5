//! The dossier itself, as it stands in `dossier.json`: verdicts, figures, what was not run, what it was made with.

use super::figure::{Better, Figure, is_worse};
use super::plan::Plan;
use super::run::{Outcome, Stage};
use super::{figures_commissioning, figures_rest, figures_rides};
use crate::limits::{Limit, Register};
use crate::rig::Rig;
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// Version of the record's form; the schema beside it has the same.
pub const VERSION: u32 = 1;

/// What a limit comes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// A measured figure does not keep it.
    Broken,
    /// A figure that it needs was not measured, and none breaks it.
    NotDemonstrated,
    /// Tests show it; the dossier measures nothing of it.
    ByTests,
    /// Every figure keeps it.
    Holds,
}

impl Verdict {
    /// In words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Broken => "broken",
            Self::NotDemonstrated => "not demonstrated",
            Self::ByTests => "demonstrated by tests",
            Self::Holds => "holds",
        }
    }
}

/// One limit and what was measured of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Judged {
    /// The limit's id.
    pub limit: String,
    /// Whom or what it protects.
    pub protects: String,
    /// The limit.
    pub value: f64,
    /// Its unit.
    pub unit: String,
    /// `at most` or `at least`.
    pub sense: String,
    /// Where the number comes from.
    pub source: String,
    /// The worst figure; null when none was measured, or it has no bound.
    pub measured: Option<f64>,
    /// What is left to the limit, in its unit; negative when it is broken.
    pub margin: Option<f64>,
    /// What it comes to.
    pub verdict: Verdict,
    /// The figure that decides.
    pub figure: String,
    /// File of the raw data.
    pub evidence: String,
    /// The command that reproduces it.
    pub command: String,
    /// Why it is missed or not demonstrated, what the tests assert, or what it means that there is no number.
    pub why: Option<String>,
    /// Where it is enforced.
    pub enforced: Vec<String>,
    /// Which tests demonstrate it; none of a limit that the register lists as missed.
    pub demonstrated: Vec<String>,
    /// Which tests show that a limit listed as missed is judged rightly.
    #[serde(default)]
    pub judged: Vec<String>,
}

/// What was not run, and why.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NotRun {
    /// The stage.
    pub what: String,
    /// Why.
    pub why: String,
    /// The limits that are not demonstrated for it.
    pub limits: Vec<String>,
}

/// What the dossier was made with.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Environment {
    /// Version of becalm.
    pub becalm: String,
    /// The compiler.
    pub compiler: String,
    /// What it compiled for.
    pub target: String,
    /// How.
    pub profile: String,
    /// The commit, as [`super::commit`] tells; `none` outside git.
    pub git: String,
    /// SHA-256 of the sources that the program is made from.
    pub sources: String,
    /// The rig's name.
    pub rig: String,
    /// SHA-256 of the rig.
    pub rig_sha256: String,
    /// The rig's file, as the command line took it; null for the default rig.
    pub rig_file: Option<String>,
    /// Operating system and processor that ran it.
    #[serde(default)]
    pub system: String,
    /// The emulator of the cores, by its own words; null where none was asked.
    #[serde(default)]
    pub emulator: Option<String>,
}

impl Environment {
    /// Of this program, a rig, and the emulator of the cores if the plan asks it.
    ///
    /// # Errors
    /// A rig that cannot be written.
    pub fn of(rig: &Rig, rig_file: Option<&str>, plan: &Plan) -> Result<Self, serde_json::Error> {
        Ok(Self {
            becalm: env!("CARGO_PKG_VERSION").to_owned(),
            compiler: env!("BECALM_COMPILER").to_owned(),
            target: env!("BECALM_TARGET").to_owned(),
            profile: env!("BECALM_PROFILE").to_owned(),
            git: super::commit::commit(),
            sources: env!("BECALM_SOURCES").to_owned(),
            rig: rig.name.clone(),
            rig_sha256: super::checksums::sha256(&serde_json::to_vec(rig)?),
            rig_file: rig_file.map(str::to_owned),
            system: format!("{} {}", std::env::consts::OS, std::env::consts::ARCH),
            emulator: if plan.cores {
                crate::cores::emulator_version()
            } else {
                None
            },
        })
    }
}

/// The dossier.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Dossier {
    /// [`VERSION`].
    pub version: u32,
    /// `becalm` and its version.
    pub made_by: String,
    /// Name of the plan: full or quick.
    pub plan: String,
    /// What it was made with.
    pub environment: Environment,
    /// Every limit of the register, in its order.
    pub verdicts: Vec<Judged>,
    /// Every measured figure, in order of the stages.
    pub figures: Vec<Figure>,
    /// What was not run.
    pub not_run: Vec<NotRun>,
}

/// The figures of a stage's raw data. They follow from it alone.
#[must_use]
pub fn figures(stage: Stage, data: &Value) -> Vec<Figure> {
    match stage {
        Stage::Rides => figures_rides::floors(data),
        Stage::Events => figures_rides::events(data),
        Stage::Seated => figures_rides::seated(data),
        Stage::Sweep => figures_rides::sine(data),
        Stage::Headroom => figures_rides::headroom(data),
        Stage::Commission => figures_commissioning::tests(data),
        Stage::Certificate => figures_rest::certificate(data),
        Stage::Margins => figures_rest::margins(data),
        Stage::Modes => figures_rest::modes(data),
        Stage::Hunt => figures_rest::hunt(data),
        Stage::Faults => figures_rest::faults(data),
        Stage::Bitflips => figures_rest::flips(data),
        Stage::Timing => figures_rest::timing(data),
        Stage::Parity => figures_rest::parity(data),
    }
}

impl Dossier {
    /// Puts the dossier together from what the stages came to.
    #[must_use]
    pub fn new(
        plan: &str,
        environment: Environment,
        register: &Register,
        stages: &[(Stage, Outcome)],
    ) -> Self {
        let mut all = Vec::new();
        let mut not_run = Vec::new();
        for (stage, outcome) in stages {
            match outcome {
                Outcome::Ran(data) => all.extend(figures(*stage, data)),
                Outcome::NotRun(why) => not_run.push(NotRun {
                    what: stage.name().to_owned(),
                    why: why.clone(),
                    limits: needs(register, *stage),
                }),
            }
        }
        let verdicts = register
            .limits
            .iter()
            .map(|limit| {
                let mut judged = judge(limit, &all, &not_run);
                // Also where the figure has no number.
                if !judged.evidence.is_empty() {
                    judged.command = reproduces(&judged.figure, plan, &environment);
                }
                judged
            })
            .collect();
        Self {
            version: VERSION,
            made_by: crate::output::MADE_BY.to_owned(),
            plan: plan.to_owned(),
            environment,
            verdicts,
            figures: all,
            not_run,
        }
    }

    /// How many limits came to a verdict.
    #[must_use]
    pub fn count(&self, verdict: Verdict) -> usize {
        self.verdicts
            .iter()
            .filter(|v| v.verdict == verdict)
            .count()
    }

    /// Whether nothing is broken and, in a full dossier, nothing was left undemonstrated.
    #[must_use]
    pub fn holds(&self) -> bool {
        let all = self.plan != "full" || self.count(Verdict::NotDemonstrated) == 0;
        all && self.count(Verdict::Broken) == 0
    }

    /// The figure of that name.
    #[must_use]
    pub fn figure(&self, id: &str) -> Option<&Figure> {
        self.figures.iter().find(|f| f.id == id)
    }
}

/// The command that measures a figure again.
fn reproduces(figure: &str, plan: &str, environment: &Environment) -> String {
    let plan = match plan {
        "full" => String::new(),
        other => format!(" --{other}"),
    };
    let rig = environment.rig_file.as_ref();
    let rig = rig.map_or_else(String::new, |path| format!(" --rig {path}"));
    format!("becalm dossier figure {figure}{plan}{rig}")
}

/// The limits that hold a figure of a stage against themselves.
fn needs(register: &Register, stage: Stage) -> Vec<String> {
    let of_stage = |figure: &String| figure.split('.').next() == Some(stage.name());
    let those = register
        .limits
        .iter()
        .filter(|l| l.figure.iter().any(of_stage));
    those.map(|l| l.id.clone()).collect()
}

/// What a limit comes to. The worst of its figures decides.
#[must_use]
pub fn judge(limit: &Limit, figures: &[Figure], not_run: &[NotRun]) -> Judged {
    let measured: Vec<&Figure> = limit
        .figure
        .iter()
        .filter_map(|id| figures.iter().find(|f| f.id == *id))
        .collect();
    let better = match limit.sense {
        crate::limits::Sense::AtMost => Better::Lower,
        crate::limits::Sense::AtLeast => Better::Higher,
    };
    // Without a number is worst of all.
    let worst = measured
        .iter()
        .copied()
        .reduce(|a, b| match (a.value, b.value) {
            (None, _) => a,
            (_, None) => b,
            (Some(x), Some(y)) => {
                if is_worse(better, y, x) {
                    b
                } else {
                    a
                }
            }
        });
    let missing = limit
        .figure
        .iter()
        .find(|id| !figures.iter().any(|f| f.id == **id));
    let (verdict, why) = match (worst, missing) {
        _ if limit.asserts.is_some() => (Verdict::ByTests, limit.asserts.clone()),
        (Some(figure), _)
            if !figure
                .value
                .is_some_and(|v| limit.sense.holds(v, limit.value)) =>
        {
            let none = figure.value.is_none();
            let none = none.then(|| "no number: it never came, or has no bound".to_owned());
            let parts: Vec<String> = none.into_iter().chain(limit.missed.clone()).collect();
            let why = parts.join("; ");
            (Verdict::Broken, (!why.is_empty()).then_some(why))
        }
        (_, Some(missing)) => {
            let stage = missing.split('.').next().unwrap_or_default();
            let why = not_run.iter().find(|n| n.what == stage).map_or_else(
                || format!("{missing} was not measured"),
                |n| format!("{missing} was not measured: {}", n.why),
            );
            (Verdict::NotDemonstrated, Some(why))
        }
        _ => {
            let missed = limit.missed.as_ref();
            let why = missed.map(|why| format!("listed as missed: {why}"));
            (Verdict::Holds, why)
        }
    };
    let value = worst.and_then(|f| f.value);
    Judged {
        limit: limit.id.clone(),
        protects: limit.protects.clone(),
        value: limit.value,
        unit: limit.unit.clone(),
        sense: limit.sense.words().to_owned(),
        source: limit.source.clone(),
        measured: value,
        margin: value.map(|v| limit.sense.margin(v, limit.value)),
        verdict,
        figure: worst.map_or_else(|| limit.figure.join(", "), |f| f.id.clone()),
        evidence: worst.map_or_else(String::new, |f| f.evidence.clone()),
        command: worst.map_or_else(|| limit.command.clone(), |f| f.command.clone()),
        why,
        enforced: limit
            .enforced
            .iter()
            .map(|i| format!("{}: {}", i.file, i.name))
            .collect(),
        demonstrated: limit.demonstrated.clone(),
        judged: limit.judged.clone(),
    }
}
