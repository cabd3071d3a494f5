//! `becalm dossier`: the evidence room.

use super::{Failure, Outcome, dossier_figure, dossier_verify, options, terminal};
use clap::{Args, Subcommand};
use host_sim::dossier::folder::{self, Baseline};
use host_sim::dossier::record::Environment;
use host_sim::dossier::watched::watched;
use host_sim::dossier::{
    Bench, Cache, Dossier, DossierError, Judged, Plan, Stage, Verdict, run, words,
};
use host_sim::{limits, parallel, units};
use std::path::{Path, PathBuf};
use std::time::Instant;

const AFTER: &str = "\
Runs everything that a claim rests on, or takes it from what an interrupted run
has left: rides, events, estimates, stepped sine, headroom, the proof of the
travel, margins, modes, hunt, fault campaign, flipped bits, and on emulated
cores time, memory and the same bits. Every limit of the register (`becalm
limits`) is held against what was measured: holds with its margin, broken, or
not demonstrated. Those that are shown by tests alone, which the dossier does
not run, say so.

Files: dossier.html (the whole, one file, with two rides to watch: the roughest
and the worst one with a fault), dossier.json (its form is
host-sim/schemas/dossier-1.json), junit.xml for CI systems, the raw data behind
every figure, and SHA256SUMS. What was not run is listed with its reason: the
cores without emulator or images.

A quick dossier leaves out the cores, and of the rest rides a little: levels 1
and 2.5 from three seeds and by 80 kg alone, events and stepped sine from two or
three seeds, nobody who sits down on the way, the margins without random
machines, a tenth of the hunt, the faults at one onset and by one occupant with
half an hour of healthy riding, a few flipped bits, the headroom at level 2.5.
It proves the travel and explores the modes whole.

Finished stages are kept beside the folder (FOLDER.cache), for this program to
the byte, this plan and this rig; after an interruption the same command takes
them up.

`becalm dossier figure FIGURE` measures one figure of it again, and is the
command that stands beside each.

Exit code 1: a limit is broken or, in a full dossier, not demonstrated.

Examples:
  becalm dossier
  becalm dossier --quick --out becalm-out/quick
  becalm dossier --quick --rebase
  becalm dossier verify becalm-out/dossier";

/// The committed baseline.
const BASELINE: &str = "baseline/dossier.json";
/// Parts of a stage in the progress bar.
const PARTS: f64 = 100.0;

/// Evidence for every limit: run all, judge all, write one folder
#[derive(Args, Debug)]
#[command(after_help = AFTER, args_conflicts_with_subcommands = true)]
pub(super) struct DossierArgs {
    #[command(subcommand)]
    command: Option<DossierCommand>,
    /// A little of everything: at most three minutes on two processors
    #[arg(long)]
    quick: bool,
    /// Put the record in place of the committed baseline as well
    #[arg(long, value_name = "FILE", num_args = 0..=1, default_missing_value = BASELINE)]
    rebase: Option<PathBuf>,
    /// Rig file in TOML [default: the rig that ships with becalm]
    #[arg(long, value_name = "FILE")]
    rig: Option<PathBuf>,
    /// Folder for the results [default: becalm-out/dossier]
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Keep and take no finished stages
    #[arg(long)]
    no_cache: bool,
    /// Threads [default: as many as there are processors]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=256))]
    threads: Option<u16>,
    /// Print the record as one JSON object and nothing else
    #[arg(long)]
    json: bool,
    /// No progress bar and no table
    #[arg(long, short)]
    quiet: bool,
}

#[derive(Subcommand, Debug)]
enum DossierCommand {
    Figure(dossier_figure::FigureArgs),
    Verify(dossier_verify::VerifyArgs),
}

/// Runs the command.
pub(super) fn run(args: &DossierArgs) -> Result<Outcome, Failure> {
    match &args.command {
        Some(DossierCommand::Figure(args)) => return dossier_figure::run(args),
        Some(DossierCommand::Verify(args)) => return dossier_verify::run(args),
        None => {}
    }
    let rig = options::rig(args.rig.as_deref())?;
    let register = limits::of_rig(&limits::register(), &rig)?;
    let plan = if args.quick {
        Plan::quick()
    } else {
        Plan::full()
    };
    let rig_path = args.rig.as_ref().map(|path| path.display().to_string());
    let bench = Bench {
        rig: &rig,
        rig_path: rig_path.clone(),
        threads: args.threads.map_or_else(parallel::processors, usize::from),
        stop: terminal::interrupted,
    };
    let out = args
        .out
        .clone()
        .unwrap_or_else(|| Path::new("becalm-out").join("dossier"));
    let kept = PathBuf::from(format!("{}.cache", out.display()));
    let cache = if args.no_cache {
        None
    } else {
        Some(Cache::open(&kept, &plan, &rig)?)
    };
    // Before anything is run: what cannot be written is refused at once.
    let place = folder::claim(&out)?;
    let baseline = args.rebase.as_deref().map(Baseline::claim).transpose()?;
    let wanted = !args.quiet && !args.json;
    let bar = terminal::progress_of_stages(wanted, (PARTS * Stage::ALL.len() as f64) as u64);
    let mut stages = Vec::new();
    for (n, stage) in Stage::ALL.into_iter().enumerate() {
        let done =
            |share: f64| bar.set_position((PARTS * (n as f64 + share.clamp(0.0, 1.0))) as u64);
        bar.set_message(format!(
            "{} of {}: {}",
            n + 1,
            Stage::ALL.len(),
            stage.words()
        ));
        done(0.0);
        let begun = Instant::now();
        let outcome = run::stage(stage, &bench, &plan, cache.as_ref(), &done);
        if terminal::interrupted() {
            return Err(interrupted(cache.is_some(), &kept));
        }
        let outcome = outcome.map_err(|e: DossierError| format!("stage {}: {e}", stage.name()))?;
        if wanted && bar.is_hidden() {
            let how = match &outcome {
                run::Outcome::Ran(_) => format!("{:.1} s", begun.elapsed().as_secs_f64()),
                run::Outcome::NotRun(why) => format!("not run: {why}"),
            };
            terminal::note(&format!("{}: {how}", stage.name()));
        }
        stages.push((stage, outcome));
    }
    let rides = watched(&bench, &plan, &stages);
    if terminal::interrupted() {
        return Err(interrupted(cache.is_some(), &kept));
    }
    let rides = rides?;
    bar.finish_and_clear();
    let environment = Environment::of(&rig, rig_path.as_deref(), &plan)?;
    let dossier = Dossier::new(&plan.name, environment, &register, &stages);
    let mut written = folder::write(place, &dossier, &stages, &rides)?;
    if let (Some(baseline), Some(path)) = (baseline, &args.rebase) {
        baseline.write(&dossier)?;
        written += &format!("Written: {}\n", path.display());
        if dossier.environment.git.contains("changes") {
            written += "  of a tree with changes: the record names the commit before them\n";
        }
    }
    if args.json {
        terminal::print_json(&dossier)?;
    } else if !args.quiet {
        terminal::print(&(table(&dossier) + &written))?;
    }
    Ok(if dossier.holds() {
        Outcome::Holds
    } else {
        Outcome::Broken(said(&dossier))
    })
}

fn interrupted(kept: bool, folder: &Path) -> Failure {
    if kept {
        format!(
            "interrupted; finished stages are in {}: the same command takes them up",
            folder.display()
        )
        .into()
    } else {
        "interrupted; nothing was written".into()
    }
}

fn said(dossier: &Dossier) -> String {
    let named = |verdict| {
        let those = dossier
            .verdicts
            .iter()
            .filter(move |v| v.verdict == verdict);
        those
            .map(|v| v.limit.as_str())
            .collect::<Vec<_>>()
            .join(", ")
    };
    let (broken, open) = (named(Verdict::Broken), named(Verdict::NotDemonstrated));
    match (broken.is_empty(), open.is_empty()) {
        (false, true) => broken,
        (true, _) => format!("not demonstrated: {open}"),
        (false, false) => format!("{broken}; not demonstrated: {open}"),
    }
}

/// Every limit, in order of the register within each verdict; what is broken stands last, above the sums.
fn table(dossier: &Dossier) -> String {
    let longest = |of: fn(&Judged) -> usize| dossier.verdicts.iter().map(of).max().unwrap_or(0);
    let label = longest(|v| v.limit.len());
    let mut text = format!(
        "{:<label$}{:>24}{:>14}{:>12}  verdict\n",
        "limit", "wanted", "measured", "margin"
    );
    let mut rows: Vec<&Judged> = dossier.verdicts.iter().collect();
    rows.sort_by_key(|v| match v.verdict {
        Verdict::ByTests => 0,
        Verdict::Holds => 1,
        Verdict::NotDemonstrated => 2,
        Verdict::Broken => 3,
    });
    for v in rows {
        let wanted = format!("{} {}", v.sense, units::beside(words(v.value), &v.unit));
        let cell = |value: Option<f64>| value.map_or_else(|| "-".to_owned(), words);
        let measured = if v.measured.is_none() && v.verdict == Verdict::Broken {
            "no bound".to_owned()
        } else {
            cell(v.measured)
        };
        text += &format!(
            "{:<label$}{:>24}{measured:>14}{:>12}  {}\n",
            v.limit,
            wanted.trim_end(),
            cell(v.margin),
            v.verdict.words()
        );
    }
    for n in &dossier.not_run {
        text += &format!("\nNOT RUN {}: {}", n.what, n.why);
    }
    text + &format!(
        "\n\n{} limits: {} hold, {} broken, {} not demonstrated, {} demonstrated by tests and not measured\n",
        dossier.verdicts.len(),
        dossier.count(Verdict::Holds),
        dossier.count(Verdict::Broken),
        dossier.count(Verdict::NotDemonstrated),
        dossier.count(Verdict::ByTests)
    )
}
