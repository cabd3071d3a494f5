//! `becalm dossier figure`: one figure of a dossier, measured again.

use super::words::labelled;
use super::{Failure, Outcome, options, terminal};
use clap::Args;
use host_sim::dossier::record::{self, NotRun};
use host_sim::dossier::{Bench, Better, DossierError, Figure, Judged, Over, Plan, Stage, Verdict};
use host_sim::dossier::{run, words};
use host_sim::{limits, parallel};
use serde::Serialize;
use std::path::PathBuf;

/// Measure one figure of a dossier again, and hold it against its limits
#[derive(Args, Debug)]
#[command(after_help = "\
Runs the part of the dossier that the figure belongs to, as a full dossier does
or with --quick as a quick one, and takes nothing from what is kept. The same
program gives the same digits.

Exit code 1: a limit that the figure is held against is broken.

Examples:
  becalm dossier figure events.seat-peak.edge
  becalm dossier figure rides.seat-value.hauler.2.5 --quick")]
pub(super) struct FigureArgs {
    /// The figure, as `becalm limits ID` and the dossier name it
    #[arg(value_name = "FIGURE")]
    id: String,
    /// As much as a quick dossier runs
    #[arg(long)]
    quick: bool,
    /// Rig file in TOML [default: the rig that ships with becalm]
    #[arg(long, value_name = "FILE")]
    rig: Option<PathBuf>,
    /// Threads [default: as many as there are processors]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=256))]
    threads: Option<u16>,
    /// Print one JSON object and nothing else
    #[arg(long)]
    json: bool,
    /// No progress bar
    #[arg(long, short)]
    quiet: bool,
}

#[derive(Serialize)]
struct Record {
    figure: Figure,
    verdicts: Vec<Judged>,
}

/// Runs the command.
pub(super) fn run(args: &FigureArgs) -> Result<Outcome, Failure> {
    let name = args.id.split('.').next().unwrap_or_default();
    let stage = Stage::ALL.into_iter().find(|s| s.name() == name);
    let Some(stage) = stage else {
        let known = Stage::ALL.map(Stage::name).join(", ");
        return Err(format!(
            "{}: no figure is called so: expected STAGE.NAME, the stage one of {known}",
            args.id
        )
        .into());
    };
    let rig = options::rig(args.rig.as_deref())?;
    let register = limits::of_rig(&limits::register(), &rig)?;
    let plan = if args.quick {
        Plan::quick()
    } else {
        Plan::full()
    };
    let bench = Bench {
        rig: &rig,
        rig_path: args.rig.as_ref().map(|path| path.display().to_string()),
        threads: args.threads.map_or_else(parallel::processors, usize::from),
        stop: terminal::interrupted,
    };
    let bar = terminal::progress(!args.quiet && !args.json, 100, "%");
    let outcome = run::stage(stage, &bench, &plan, None, &|share| {
        bar.set_position((100.0 * share.clamp(0.0, 1.0)) as u64);
    });
    bar.finish_and_clear();
    if terminal::interrupted() {
        return Err("interrupted".into());
    }
    let data = match outcome.map_err(|e: DossierError| format!("stage {name}: {e}"))? {
        run::Outcome::Ran(data) => data,
        run::Outcome::NotRun(why) => return Err(format!("{}: stage {name}: {why}", args.id).into()),
    };
    let figures = record::figures(stage, &data);
    let Some(figure) = figures.iter().find(|f| f.id == args.id) else {
        let known: Vec<&str> = figures.iter().map(|f| f.id.as_str()).collect();
        return Err(format!(
            "{}: not measured by a {} dossier: expected one of {}",
            args.id,
            plan.name,
            known.join(", ")
        )
        .into());
    };
    // The figure alone: what else a limit needs is not asked here.
    let none: [NotRun; 0] = [];
    let verdicts: Vec<Judged> = (register.limits.iter())
        .filter(|l| l.figure.contains(&figure.id))
        .map(|l| {
            let alone = limits::Limit {
                figure: vec![figure.id.clone()],
                ..l.clone()
            };
            record::judge(&alone, std::slice::from_ref(figure), &none)
        })
        .collect();
    let broken: Vec<&str> = (verdicts.iter())
        .filter(|v| v.verdict == Verdict::Broken)
        .map(|v| v.limit.as_str())
        .collect();
    let outcome = if broken.is_empty() {
        Outcome::Holds
    } else {
        Outcome::Broken(broken.join(", "))
    };
    if args.json {
        terminal::print_json(&Record {
            figure: figure.clone(),
            verdicts,
        })?;
    } else {
        terminal::print(&text(figure, &verdicts))?;
    }
    Ok(outcome)
}

fn text(figure: &Figure, verdicts: &[Judged]) -> String {
    let unit = |unit: &str| match unit {
        "1" | "share" | "count" => String::new(),
        other => format!(" {other}"),
    };
    let value = |value: Option<f64>| value.map_or_else(|| "no bound".to_owned(), words);
    let over = match figure.over {
        Over::Mean => format!("the mean over {} seeds", figure.seeds.len()),
        Over::Worst if figure.seeds.len() > 1 => {
            format!("the worst over {} seeds", figure.seeds.len())
        }
        _ => "one value".to_owned(),
    };
    let better = match figure.better {
        Better::Lower => "lower",
        Better::Higher => "higher",
    };
    let mut text = format!(
        "{}  {}{}\n",
        figure.id,
        value(figure.value),
        unit(&figure.unit)
    );
    let row = |label: &str, value: &str| labelled(&format!("  {label:<10}"), value, 80);
    text += &row("over", &format!("{over}; {better} is better"));
    if figure.seeds.len() > 1 {
        let seeds: Vec<String> = figure.seeds.iter().map(|s| words(*s)).collect();
        text += &row("by seed", &seeds.join(", "));
    }
    for v in verdicts {
        let wanted = format!(
            "{}: {} {}{}: {}, margin {}{}",
            v.limit,
            v.sense,
            words(v.value),
            unit(&v.unit),
            v.verdict.words(),
            value(v.margin),
            unit(&v.unit)
        );
        text += &row("limit", &wanted);
    }
    text + &row("its worst", &figure.command)
}
