//! `becalm timing`: what the law costs on each core.

use super::{Failure, Outcome, options, terminal};
use clap::Args;
use host_sim::cores::workload::{self, Stretch};
use host_sim::cores::{self, BoardKind, CoreError, Emulator};
use host_sim::image::{Budgets, ImageFigures, Measured};
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

/// Clock and cycles an instruction by which time is reckoned: common practice for such parts, no source.
const fn assumption(board: BoardKind) -> (f64, f64) {
    match board {
        BoardKind::M4f => (100.0e6, 1.5),
        BoardKind::M7 => (200.0e6, 1.0),
        BoardKind::M3 => (72.0e6, 1.5),
    }
}

#[derive(Serialize)]
struct Timing {
    cores: Vec<CoreTiming>,
}

#[derive(Serialize)]
struct CoreTiming {
    name: &'static str,
    arithmetic: &'static str,
    steps: usize,
    instructions_min: u32,
    instructions_median: u32,
    instructions_max: u32,
    active_steps: usize,
    active_min: u32,
    active_median: u32,
    active_max: u32,
    stack_bytes_measured: u32,
    stack_bytes_static: Option<u32>,
    stack_unknown: Vec<String>,
    ram_bytes: u32,
    flash_bytes: u32,
    recorder_instructions_mean: f64,
    recorder_instructions_max: u32,
    recorder_bytes: u32,
    panic_free: bool,
    forbidden: Vec<String>,
    assumed_clock_hz: f64,
    assumed_cycles_per_instruction: f64,
    share_of_period: f64,
    histogram: Vec<(u32, usize)>,
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
        let (core, figures) = measure(board, &images, &stretches, rig.timing.step_s, || {
            bar.inc(1);
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

fn measure(
    board: BoardKind,
    images: &std::path::Path,
    stretches: &[Stretch],
    step_s: f64,
    mut done: impl FnMut(),
) -> Result<(CoreTiming, Measured), Failure> {
    let port = board.image(images, "port");
    let image = ImageFigures::of(&port, &board.image(images, "bench"))?;
    let mut all = Vec::new();
    let mut active = Vec::new();
    let mut stack = 0;
    let (mut recorder_sum, mut recorder_max) = (0_u64, 0);
    for stretch in stretches {
        if terminal::interrupted() {
            return Err("interrupted".into());
        }
        let batch = Emulator::batch(board, images, &stretch.frames).map_err(CoreError::from)?;
        stack = batch.stack_bytes.max(stack);
        for (drive, cost) in batch.steps {
            all.push(cost);
            if drive.mode == firmware::Mode::Active.code() {
                active.push(cost);
            }
        }
        let beside = Emulator::batch_of("recorder", board, images, &stretch.frames);
        for (_, cost) in beside.map_err(CoreError::from)?.steps {
            recorder_sum += u64::from(cost);
            recorder_max = cost.max(recorder_max);
        }
        done();
    }
    all.sort_unstable();
    active.sort_unstable();
    let (first, middle, last) = spread(&all);
    let (active_min, active_median, active_max) = spread(&active);
    let (clock_hz, per_instruction) = assumption(board);
    let measured = Measured::new(board, (active_min, active_max), recorder_max, stack, &image);
    let timing = CoreTiming {
        name: board.name(),
        arithmetic: board.arithmetic().name(),
        steps: all.len(),
        instructions_min: first,
        instructions_median: middle,
        instructions_max: last,
        active_steps: active.len(),
        active_min,
        active_median,
        active_max,
        stack_bytes_measured: stack,
        stack_bytes_static: image.stack_bound(),
        stack_unknown: image
            .unknown_calls
            .iter()
            .map(ToString::to_string)
            .collect(),
        ram_bytes: image.ram_bytes,
        flash_bytes: image.flash_bytes,
        recorder_instructions_mean: recorder_sum as f64 / all.len().max(1) as f64,
        recorder_instructions_max: recorder_max,
        recorder_bytes: image.recorder_bytes,
        panic_free: image.panic_free,
        forbidden: image.forbidden.iter().map(ToString::to_string).collect(),
        assumed_clock_hz: clock_hz,
        assumed_cycles_per_instruction: per_instruction,
        share_of_period: f64::from(last + recorder_max) * per_instruction / clock_hz / step_s,
        histogram: histogram(&all),
    };
    Ok((timing, measured))
}

/// Smallest, middle and largest of a sorted list.
fn spread(sorted: &[u32]) -> (u32, u32, u32) {
    let at = |n: usize| sorted.get(n).copied().unwrap_or(0);
    (
        at(0),
        at(sorted.len() / 2),
        at(sorted.len().saturating_sub(1)),
    )
}

const BARS: u32 = 12;

/// Lower edge and count of equal classes between the smallest and the largest.
fn histogram(sorted: &[u32]) -> Vec<(u32, usize)> {
    let (low, _, high) = spread(sorted);
    let width = (high - low) / BARS + 1;
    (0..BARS)
        .map(|n| {
            let from = low + n * width;
            let count = sorted
                .iter()
                .filter(|&&x| (from..from + width).contains(&x));
            (from, count.count())
        })
        .collect()
}

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
