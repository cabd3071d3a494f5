//! `becalm faults`: the fault campaign.

use super::faults_table::table;
use super::{Failure, Outcome, options, terminal};
use clap::Args;
use host_sim::campaign::keep::{DIGEST, Keeper, digest};
use host_sim::campaign::page::page;
use host_sim::campaign::plan::{self, Plan};
use host_sim::campaign::run::{self, CampaignError, Ridden};
use host_sim::campaign::summary::{BrokenLimit, Summary};
use host_sim::output::{MADE_BY, ResultFolder};
use host_sim::parallel;
use host_sim::rig::Rig;
use serde::Serialize;
use std::path::{Path, PathBuf};

const AFTER: &str = "\
Every kind of fault (`becalm ride --list-faults`) at its usual size is put into
rides on several floors and levels, under several occupants, from several
onsets on. Beside each stand the healthy ride, the passive seat, and a firmware
that does not react, which shows whether the fault is dangerous.

Targets: no contact above 0.25 m/s or what the passive seat does; seat
acceleration at most 1.2 times the larger of healthy and passive; a fault that
changes the ride noticed within 20 ms (100 ms where it grows slowly); no step of
more than 3 m/s2 at the reaction; 99 % of the dangerous cases covered; no false
alarm in the healthy rides.

Files: faults.html (report) and faults.json go to a folder when all is done.
Finished cases go to cases.jsonl there at once: after an interruption the same
command takes up where it stopped, unless program or rig have changed. With
--json no file is written unless --out asks.

What this shows of an invented machine in simulation is evidence for an
assessment by qualified people, and no assessment.

Exit code 1: a target is missed. Cases in which the motor cannot act any more
and no firmware could hold the limits are listed apart and do not count.

Examples:
  becalm faults
  becalm faults --quick --only travel
  becalm faults --only actuator --floor hauler --level 2.5 --hours 0
  becalm faults --json > faults.json";

/// Files of a campaign's folder, the record last.
const FILES: [&str; 2] = ["faults.html", "faults.json"];
/// Finished cases.
const CASES: &str = "cases.jsonl";
/// Hours of healthy riding where only some faults are asked for, h.
const FEW_HOURS: f64 = 0.5;

/// Fault campaign: every fault on many floors; what the firmware makes of it
#[derive(Args, Debug)]
#[command(after_help = AFTER)]
pub(super) struct FaultsArgs {
    /// Only faults whose name or class begins so; may be given more than once
    #[arg(long, value_name = "TEXT")]
    only: Vec<String>,
    /// Floor by name; may be given more than once [default: hauler, loader, ballast, edge]
    #[arg(long, value_name = "NAME")]
    floor: Vec<String>,
    /// Level of the floors; may be given more than once [default: 1 and 2.5]
    #[arg(long, value_name = "X", value_parser = options::level)]
    level: Vec<f64>,
    /// Occupant, 20 to 200 kg; may be given more than once [default: 40, 80, 130]
    #[arg(long, value_name = "KG", value_parser = options::hunt_occupant)]
    occupant: Vec<f64>,
    /// Onset, 0.2 to 100 s; may be given more than once [default: 0.8, 10, 11.37]
    #[arg(long, value_name = "S", value_parser = options::onset)]
    onset: Vec<f64>,
    /// Hours of healthy riding in search of false alarms, 0 to 1000 [default: 10;
    /// 0.5 with --only or --quick]
    #[arg(long, value_name = "H", value_parser = options::campaign_hours)]
    hours: Option<f64>,
    /// One occupant and one onset, unless given: 80 kg, 10 s
    #[arg(long)]
    quick: bool,
    /// Seed of floors, machines and sensors, a whole number of 0 or more
    #[arg(long, value_name = "N", default_value = "1")]
    seed: u64,
    /// Threads [default: as many as there are processors]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=256))]
    threads: Option<u16>,
    /// Rig file in TOML [default: the rig that ships with becalm]
    #[arg(long, value_name = "FILE")]
    rig: Option<PathBuf>,
    /// Folder for the results [default: becalm-out/faults]
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Print one JSON object and nothing else
    #[arg(long)]
    json: bool,
    /// No progress bar and no table
    #[arg(long, short)]
    quiet: bool,
}

/// The record.
#[derive(Serialize)]
struct Record<'a> {
    made_by: &'static str,
    #[serde(flatten)]
    summary: &'a Summary,
}

fn plan(args: &FaultsArgs) -> Result<Plan, Failure> {
    let whole = Plan::whole();
    let given = |given: &[f64], quick: f64, whole: Vec<f64>| match (given.is_empty(), args.quick) {
        (false, _) => given.to_vec(),
        (true, true) => vec![quick],
        (true, false) => whole,
    };
    let few = args.quick || !args.only.is_empty();
    Ok(Plan {
        faults: if args.only.is_empty() {
            whole.faults
        } else {
            plan::only(&args.only)?
        },
        floors: if args.floor.is_empty() {
            whole.floors
        } else {
            args.floor.clone()
        },
        levels: if args.level.is_empty() {
            whole.levels
        } else {
            args.level.clone()
        },
        occupants_kg: given(&args.occupant, 80.0, whole.occupants_kg),
        onsets_s: given(&args.onset, 10.0, whole.onsets_s),
        hours: args
            .hours
            .unwrap_or(if few { FEW_HOURS } else { whole.hours }),
        seed: args.seed,
        rig_option: args.rig.as_ref().map(|path| path.display().to_string()),
    })
}

/// The command, as far as it decides the figures.
fn typed(args: &FaultsArgs) -> String {
    let mut text = "becalm faults".to_owned();
    let mut add = |option: &str, values: Vec<String>| {
        for value in values {
            text += &format!(" --{option} {value}");
        }
    };
    let numbers = |values: &[f64]| values.iter().map(f64::to_string).collect();
    add("only", args.only.clone());
    add("floor", args.floor.clone());
    add("level", numbers(&args.level));
    add("occupant", numbers(&args.occupant));
    add("onset", numbers(&args.onset));
    add("hours", args.hours.iter().map(f64::to_string).collect());
    add(
        "seed",
        (args.seed != 1)
            .then(|| args.seed.to_string())
            .into_iter()
            .collect(),
    );
    add(
        "rig",
        args.rig.iter().map(|p| p.display().to_string()).collect(),
    );
    text + if args.quick { " --quick" } else { "" }
}

/// What decides the figures: this program, to the byte, and the rig.
fn key(rig: &Rig) -> Result<u64, Failure> {
    let program = std::fs::read(std::env::current_exe()?)?;
    Ok(digest(
        digest(DIGEST, &program),
        toml::to_string(rig)?.as_bytes(),
    ))
}

/// Runs the command.
pub(super) fn run(args: &FaultsArgs) -> Result<Outcome, Failure> {
    let rig = options::rig(args.rig.as_deref())?;
    let plan = plan(args)?;
    let (cases, healthy) = run::count(&plan)?;
    let path = match (&args.out, args.json) {
        (None, true) => None,
        (Some(path), _) => Some(path.clone()),
        (None, false) => Some(Path::new("becalm-out").join("faults")),
    };
    let folder = path
        .map(|path| ResultFolder::claim(&path, &FILES, None))
        .transpose()?;
    let keeper = match &folder {
        Some(folder) => Some(Keeper::open(&folder.path().join(CASES), key(&rig)?)?),
        None => None,
    };
    if let Some(known) = keeper
        .as_ref()
        .map(Keeper::count)
        .filter(|n| *n > 0 && !args.quiet)
    {
        terminal::note(&format!(
            "becalm: {known} finished cases and healthy rides are known already"
        ));
    }
    let bar = terminal::progress(!args.quiet && !args.json, (cases + healthy) as u64, "cases");
    let threads = args.threads.map_or_else(parallel::processors, usize::from);
    let ridden = run::run(&rig, &plan, threads, keeper.as_ref(), |done| {
        bar.set_position(done as u64);
        !terminal::interrupted()
    });
    bar.finish_and_clear();
    let ridden = match ridden {
        Err(CampaignError::Interrupted) => {
            return Err(match &folder {
                Some(folder) => format!(
                    "interrupted; what is finished is in {}: the same command takes it up",
                    folder.path().join(CASES).display()
                ),
                None => "interrupted; nothing was written".to_owned(),
            }
            .into());
        }
        other => other?,
    };
    if let Some(keeper) = keeper {
        keeper.sort()?;
    }
    let summary = Summary::of(&ridden);
    let record = Record {
        made_by: MADE_BY,
        summary: &summary,
    };
    let mut written = String::new();
    if let Some(folder) = folder {
        folder.write("faults.html", &page(&plan, &ridden, &summary, &typed(args)))?;
        folder.write_json("faults.json", &record)?;
        written = folder.written();
        folder.publish()?;
    }
    say(args, &plan, &ridden, &record, &written)?;
    let said: Vec<String> = summary
        .broken_limits
        .iter()
        .map(BrokenLimit::words)
        .collect();
    Ok(if said.is_empty() {
        Outcome::Holds
    } else {
        Outcome::Broken(said.join("; "))
    })
}

fn say(
    args: &FaultsArgs,
    plan: &Plan,
    ridden: &Ridden,
    record: &Record<'_>,
    written: &str,
) -> Result<(), Failure> {
    if args.json {
        terminal::print_json(record)
    } else if args.quiet {
        Ok(())
    } else {
        terminal::print(&(table(plan, ridden, record.summary) + written))
    }
}
