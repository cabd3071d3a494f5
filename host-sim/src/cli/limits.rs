//! `becalm limits`: the register of limits.

use super::words::labelled;
use super::{Failure, Outcome, options, terminal};
use clap::Args;
use host_sim::dossier::record::{Judged, judge};
use host_sim::dossier::{Dossier, Verdict, verify, words};
use host_sim::limits::{self, Limit, Register, page};
use host_sim::output::MADE_BY;
use serde::Serialize;
use std::path::{Path, PathBuf};

/// What is committed of the default rig: figures of a quick dossier.
const BASELINE: &str = include_str!("../../../baseline/dossier.json");

const AFTER: &str = "\
Every limit stands once, in host-sim/limits.toml. Parameters of the default rig,
checks of the host, tests and documents take their numbers from there. A build
fails when a limit is enforced by nothing or demonstrated by nothing.

A rig may name a limit (`current_max_a = \"@peak-current\"`) or hold a number of
its own, which then is the limit for that rig: --rig shows them so.

What was measured is that of the committed baseline, a quick dossier of the
default rig, unless --measured names another dossier. The worst figure counts.

Examples:
  becalm limits
  becalm limits peak-current
  becalm limits --measured becalm-out/dossier
  becalm limits --rig my_rig.toml --json";

/// The register of limits: value, source, what enforces and demonstrates it
#[derive(Args, Debug)]
#[command(after_help = AFTER)]
pub(super) struct LimitsArgs {
    /// Only limits whose id begins so, with all that is known of them
    id: Option<String>,
    /// Rig file in TOML [default: the rig that ships with becalm]
    #[arg(long, value_name = "FILE")]
    rig: Option<PathBuf>,
    /// Dossier whose figures are held against the limits [default: the
    /// committed baseline, for the default rig]
    #[arg(long, value_name = "DOSSIER", conflicts_with = "markdown")]
    measured: Option<PathBuf>,
    /// Print one JSON object and nothing else
    #[arg(long, conflicts_with = "markdown")]
    json: bool,
    /// Print the page of the documentation
    #[arg(long)]
    markdown: bool,
}

#[derive(Serialize)]
struct Record<'r> {
    made_by: &'r str,
    rig: &'r str,
    measured_by: Option<&'r str>,
    limits: Vec<Row<'r>>,
}

#[derive(Serialize)]
struct Row<'r> {
    id: &'r str,
    protects: &'r str,
    value: f64,
    unit: &'r str,
    sense: &'static str,
    source: &'r str,
    rig: Option<&'r str>,
    enforced: Vec<String>,
    demonstrated: &'r [String],
    judged: &'r [String],
    missed: Option<&'r str>,
    figure: &'r [String],
    asserts: Option<&'r str>,
    command: &'r str,
    measured: Option<f64>,
    margin: Option<f64>,
    verdict: Option<Verdict>,
}

impl<'r> Row<'r> {
    fn of(l: &'r Limit, measured: Option<&Measured>) -> Self {
        let judged = measured.map(|m| m.of(l));
        Self {
            id: &l.id,
            protects: &l.protects,
            value: l.value,
            unit: &l.unit,
            sense: l.sense.words(),
            source: &l.source,
            rig: l.rig.as_deref(),
            enforced: l
                .enforced
                .iter()
                .map(|i| format!("{}: {}", i.file, i.name))
                .collect(),
            demonstrated: &l.demonstrated,
            judged: &l.judged,
            missed: l.missed.as_deref(),
            figure: &l.figure,
            asserts: l.asserts.as_deref(),
            command: &l.command,
            measured: judged.as_ref().and_then(|j| j.measured),
            margin: judged.as_ref().and_then(|j| j.margin),
            verdict: judged.map(|j| j.verdict),
        }
    }
}

/// The dossier whose figures are held against the limits.
struct Measured {
    by: String,
    dossier: Dossier,
}

impl Measured {
    fn read(path: &Path) -> Result<Self, Failure> {
        let dossier = verify::read(path)?;
        let by = format!("{} dossier {}", dossier.plan, path.display());
        Ok(Self { by, dossier })
    }

    fn baseline() -> Result<Self, Failure> {
        let dossier: Dossier = serde_json::from_str(BASELINE)
            .map_err(|e| format!("baseline/dossier.json of this build: {e}"))?;
        let by = format!("{} dossier of the committed baseline", dossier.plan);
        Ok(Self { by, dossier })
    }

    /// Held against the limit as it is now.
    fn of(&self, limit: &Limit) -> Judged {
        judge(limit, &self.dossier.figures, &self.dossier.not_run)
    }
}

/// Runs the command.
pub(super) fn run(args: &LimitsArgs) -> Result<Outcome, Failure> {
    let rig = options::rig(args.rig.as_deref())?;
    let mut register = limits::of_rig(&limits::register(), &rig)?;
    if let Some(id) = &args.id {
        register.limits.retain(|l| l.id.starts_with(id.as_str()));
        if register.limits.is_empty() {
            return Err(format!(
                "{id}: no limit begins so: expected an id that `becalm limits` lists"
            )
            .into());
        }
    }
    if args.markdown {
        terminal::print(&page::markdown(&register))?;
        return Ok(Outcome::Holds);
    }
    let measured = match (&args.measured, &args.rig) {
        (Some(path), _) => Some(Measured::read(path)?),
        (None, None) => Some(Measured::baseline()?),
        (None, Some(_)) => None,
    };
    let measured = measured.as_ref();
    if args.json {
        let limits = (register.limits.iter())
            .map(|l| Row::of(l, measured))
            .collect();
        terminal::print_json(&Record {
            made_by: MADE_BY,
            rig: &rig.name,
            measured_by: measured.map(|m| m.by.as_str()),
            limits,
        })?;
    } else if args.id.is_some() {
        terminal::print(&whole(&register, measured))?;
    } else {
        terminal::print(&table(&register, measured))?;
    }
    Ok(Outcome::Holds)
}

fn table(register: &Register, measured: Option<&Measured>) -> String {
    let column = |measured: &str| format!("{measured:>11}");
    let mut text = format!("{:<28}{:>22}", "limit", "wanted");
    if measured.is_some() {
        text += &column("measured");
    }
    text += "  protects\n";
    for l in &register.limits {
        let mut label = format!("{:<28}{:>22}", l.id, l.wanted());
        if let Some(measured) = measured {
            let judged = measured.of(l);
            label += &column(&match (judged.measured, judged.verdict) {
                (Some(value), _) => words(value),
                (None, Verdict::ByTests) => "by tests".to_owned(),
                (None, Verdict::Broken) => "no bound".to_owned(),
                (None, _) => "-".to_owned(),
            });
        }
        text += &labelled(&format!("{label}  "), &l.protects, 100);
    }
    if let Some(measured) = measured {
        text += &labelled(
            "\nMeasured: ",
            &format!("{}; - where it measures nothing.", measured.by),
            80,
        );
    }
    text + &format!(
        "\n{} limits; `becalm limits ID` tells source, what enforces and what demonstrates one.\n",
        register.limits.len()
    )
}

/// What was measured of a limit, what is left to it, and by whom.
fn found(l: &Limit, measured: &Measured) -> String {
    let judged = measured.of(l);
    let why = judged.why.unwrap_or_default();
    match (judged.measured, judged.margin) {
        _ if judged.verdict == Verdict::ByTests => "nothing: shown by tests alone".to_owned(),
        (Some(value), Some(margin)) => format!(
            "{}, margin {}, {} ({})",
            l.with_unit(&words(value)),
            l.with_unit(&words(margin)),
            judged.verdict.words(),
            measured.by
        ),
        _ => format!("{}: {why} ({})", judged.verdict.words(), measured.by),
    }
}

fn whole(register: &Register, measured: Option<&Measured>) -> String {
    let mut text = String::new();
    for l in &register.limits {
        text += &format!("{}\n", l.id);
        let enforced: Vec<String> = l
            .enforced
            .iter()
            .map(|i| format!("{}: {}", i.file, i.name))
            .collect();
        for (label, value) in [
            ("protects", l.protects.clone()),
            ("limit", l.wanted()),
            ("source", l.source.clone()),
            ("rig", l.rig.clone().unwrap_or_else(|| "-".to_owned())),
            ("enforced", enforced.join("; ")),
            ("missed", l.missed.clone().unwrap_or_default()),
            ("judged by", l.judged.join(", ")),
            ("demonstrated", l.demonstrated.join(", ")),
            (
                if l.asserts.is_some() {
                    "asserts"
                } else {
                    "figure"
                },
                l.asserts.clone().unwrap_or_else(|| l.figure.join(", ")),
            ),
            (
                "measured",
                measured.map_or_else(|| "-".to_owned(), |m| found(l, m)),
            ),
            ("command", l.command.clone()),
        ] {
            if !value.is_empty() {
                text += &labelled(&format!("  {label:<14}"), &value, 90);
            }
        }
    }
    text
}
