//! `becalm timing`: what the law costs on each core.

use super::{Failure, Outcome, options, terminal};
use clap::Args;
use host_sim::cores::timing::{self, CoreTiming};
use host_sim::cores::{self, BoardKind, workload};
use host_sim::image::Budgets;
use serde::Serialize;
use std::path::PathBuf;

/// Measure what a step costs on each core: instructions, stack, memory
#[derive(Args, Debug)]
#[command(after_help = "\
The ports are built with `firmware/boards/lane build` and run in an emulator.
What is counted are instructions under emulation, exact to 3, not cycles on
silicon; the share of a period rests on the clock and the cycles an instruction
that stand beside it. The workload covers all modes, saturations, faults and
frames of any bits, at least 100000 steps on each core. The flight recorder is
measured after each of them.

Every figure is held against firmware/boards/budgets.toml. Exit code 1: a budget
is exceeded, or something is linked that must not be. --reset writes new
budgets from what was measured; that shows in review. The instructions of m4f
and m7 stay at the design's limit.")]
pub(super) struct TimingArgs {
    /// Only this core: m4f, m7 or m3 [default: all]
    #[arg(long, value_name = "CORE", value_parser = board)]
    core: Option<BoardKind>,
    /// The budgets
    #[arg(
        long,
        value_name = "FILE",
        default_value = "firmware/boards/budgets.toml"
    )]
    budgets: PathBuf,
    /// Write the budgets anew from what is measured
    #[arg(long)]
    reset: bool,
    /// Print one JSON object and nothing else
    #[arg(long)]
    json: bool,
}

fn board(text: &str) -> Result<BoardKind, String> {
    let mut all = BoardKind::ALL.into_iter();
    all.find(|b| b.name() == text)
        .ok_or_else(|| "expected m4f, m7 or m3".to_owned())
}

#[derive(Serialize)]
struct Timing {
    cores: Vec<CoreTiming>,
}

/// Runs the command.
pub(super) fn run(args: &TimingArgs) -> Result<Outcome, Failure> {
    let rig = options::rig(None)?;
    let images = cores::images();
    let budgets = Budgets::read(&args.budgets)?;
    let boards = args.core.map_or(BoardKind::ALL.to_vec(), |b| vec![b]);
    let (mut cores, mut measured) = (Vec::new(), Vec::new());
    for board in boards {
        let stretches = workload::workload(&rig, board.arithmetic())?;
        let bar = terminal::progress(!args.json, stretches.len() as u64, board.name());
        let (core, figures) =
            timing::measure(board, &images, &stretches, rig.timing.step_s, || {
                bar.inc(1);
                !terminal::interrupted()
            })?;
        bar.finish_and_clear();
        cores.push(core);
        measured.push(figures);
    }
    if args.reset {
        let text = budgets.reset(&measured)?;
        std::fs::write(&args.budgets, text)
            .map_err(|e| format!("{}: {e}", args.budgets.display()))?;
    }
    let mut broken: Vec<String> = Vec::new();
    if !args.reset {
        let all = measured.iter().flat_map(|m| budgets.check(m));
        broken.extend(all.map(|e| e.to_string()));
    }
    for core in &cores {
        let linked = core.forbidden.iter();
        broken.extend(linked.map(|f| format!("{}: {f} is linked", core.name)));
        if !core.panic_free {
            broken.push(format!("{}: a panic can be reached", core.name));
        }
    }
    if args.json {
        terminal::print_json(&Timing { cores })?;
    } else {
        let text: String = cores.iter().map(text).collect();
        terminal::print(&(text + NOTE))?;
    }
    Ok(if broken.is_empty() {
        Outcome::Holds
    } else {
        Outcome::Broken(broken.join("; "))
    })
}

const NOTE: &str = "\
Instructions under emulation, exact to 3; not cycles on silicon.
";

fn text(c: &CoreTiming) -> String {
    let mut text = format!("{} ({})\n", c.name, c.arithmetic);
    let mut line = |what: &str, value: String| text += &format!("  {what:<46}{value:>24}\n");
    line("steps", c.steps.to_string());
    let three = |a: u32, b: u32, c: u32| format!("{a} / {b} / {c}");
    line(
        "instructions a step, least / median / most",
        three(
            c.instructions_min,
            c.instructions_median,
            c.instructions_max,
        ),
    );
    line(
        "  in the active mode",
        three(c.active_min, c.active_median, c.active_max),
    );
    line(
        "  most over least there",
        format!(
            "{:.3}",
            f64::from(c.active_max) / f64::from(c.active_min.max(1))
        ),
    );
    line(
        "stack, measured / static worst case, bytes",
        match c.stack_bytes_static {
            Some(bound) => format!("{} / {bound}", c.stack_bytes_measured),
            None => format!("{} / no bound", c.stack_bytes_measured),
        },
    );
    for unknown in &c.stack_unknown {
        line("  no bound for", unknown.clone());
    }
    line(
        "static RAM without recorder, bytes",
        c.ram_bytes.to_string(),
    );
    line(
        "flight recorder, instructions, mean / most",
        format!(
            "{:.0} / {}",
            c.recorder_instructions_mean, c.recorder_instructions_max
        ),
    );
    line("flight recorder, RAM, bytes", c.recorder_bytes.to_string());
    line("flash of law and runtime, bytes", c.flash_bytes.to_string());
    let forbidden = if c.forbidden.is_empty() {
        "nothing".to_owned()
    } else {
        c.forbidden.join(", ")
    };
    line("linked that must not be", forbidden);
    line(
        "no panic can be reached",
        if c.panic_free {
            "proved by linking"
        } else {
            "NOT PROVED"
        }
        .to_owned(),
    );
    let assumed = format!(
        "at {:.0} MHz, {:.1} cycles an instruction",
        c.assumed_clock_hz / 1.0e6,
        c.assumed_cycles_per_instruction
    );
    line(
        "share of the period, step and recorder, at most",
        format!("{:.1} %", 100.0 * c.share_of_period),
    );
    text += &format!("    ({assumed}: assumed)\n");
    let most = c.histogram.iter().map(|h| h.1).max().unwrap_or(1).max(1);
    for (from, count) in &c.histogram {
        let bar = "#".repeat((count * 40).div_ceil(most));
        text += &format!("  {from:>8}  {count:>8}  {bar}\n");
    }
    text.push('\n');
    text
}
