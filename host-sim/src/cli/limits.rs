//! `becalm limits`: the register of limits.

use super::words::labelled;
use super::{Failure, Outcome, options, terminal};
use clap::Args;
use host_sim::limits::{self, Limit, Register, page};
use host_sim::output::MADE_BY;
use serde::Serialize;
use std::path::PathBuf;

const AFTER: &str = "\
Every limit stands once, in host-sim/limits.toml. Parameters of the default rig,
checks of the host, tests and documents take their numbers from there. A build
fails when a limit is enforced by nothing or demonstrated by nothing.

A rig may name a limit (`current_max_a = \"@peak-current\"`) or hold a number of
its own, which then is the limit for that rig: --rig shows them so.

Examples:
  becalm limits
  becalm limits peak-current
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
    figure: &'r [String],
    asserts: Option<&'r str>,
    command: &'r str,
}

impl<'r> Row<'r> {
    fn of(l: &'r Limit) -> Self {
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
            figure: &l.figure,
            asserts: l.asserts.as_deref(),
            command: &l.command,
        }
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
    } else if args.json {
        let limits = register.limits.iter().map(Row::of).collect();
        terminal::print_json(&Record {
            made_by: MADE_BY,
            rig: &rig.name,
            limits,
        })?;
    } else if args.id.is_some() {
        terminal::print(&whole(&register))?;
    } else {
        terminal::print(&table(&register))?;
    }
    Ok(Outcome::Holds)
}

fn table(register: &Register) -> String {
    let mut text = format!("{:<28}{:>22}  {}\n", "limit", "", "protects");
    for l in &register.limits {
        let value = format!(
            "{} {} {}",
            l.sense.words(),
            l.value,
            if l.unit == "1" { "" } else { &l.unit }
        );
        text += &labelled(
            &format!("{:<28}{:>22}  ", l.id, value.trim_end()),
            &l.protects,
            100,
        );
    }
    text + &format!(
        "\n{} limits; `becalm limits ID` tells source, what enforces and what demonstrates one.\n",
        register.limits.len()
    )
}

fn whole(register: &Register) -> String {
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
            (
                "limit",
                format!("{} {} {}", l.sense.words(), l.value, l.unit),
            ),
            ("source", l.source.clone()),
            ("rig", l.rig.clone().unwrap_or_else(|| "-".to_owned())),
            ("enforced", enforced.join("; ")),
            ("demonstrated", l.demonstrated.join(", ")),
            (
                if l.asserts.is_some() {
                    "asserts"
                } else {
                    "figure"
                },
                l.asserts.clone().unwrap_or_else(|| l.figure.join(", ")),
            ),
            ("command", l.command.clone()),
        ] {
            text += &labelled(&format!("  {label:<14}"), &value, 90);
        }
    }
    text
}
