//! What a step of the law costs on an emulated core: instructions, stack, memory.

use super::workload::Stretch;
use super::{BoardKind, Emulator, EmulatorError};
use crate::image::{ImageError, ImageFigures, Measured};
use firmware::Mode;
use serde::Serialize;
use std::path::Path;

/// Why a core cannot be measured.
#[derive(Debug, thiserror::Error)]
pub enum TimingError {
    /// The emulator.
    #[error(transparent)]
    Emulator(#[from] EmulatorError),
    /// An image.
    #[error(transparent)]
    Image(#[from] ImageError),
    /// Interrupted.
    #[error("interrupted")]
    Interrupted,
}

/// Clock and cycles an instruction by which time is reckoned: common practice for such parts, no source.
const fn assumption(board: BoardKind) -> (f64, f64) {
    match board {
        BoardKind::M4f => (100.0e6, 1.5),
        BoardKind::M7 => (200.0e6, 1.0),
        BoardKind::M3 => (72.0e6, 1.5),
    }
}

/// What the law costs on one core.
#[derive(Clone, Debug, Serialize)]
pub struct CoreTiming {
    /// Name of the core.
    pub name: &'static str,
    /// Arithmetic of the law there.
    pub arithmetic: &'static str,
    /// Steps measured.
    pub steps: usize,
    /// Fewest instructions of a step.
    pub instructions_min: u32,
    /// The middle.
    pub instructions_median: u32,
    /// The most.
    pub instructions_max: u32,
    /// Steps in the active mode.
    pub active_steps: usize,
    /// Fewest instructions of one.
    pub active_min: u32,
    /// The middle.
    pub active_median: u32,
    /// The most.
    pub active_max: u32,
    /// Stack of a step on the running core, bytes.
    pub stack_bytes_measured: u32,
    /// Stack of a step as the image shows it, bytes; none when it has no bound.
    pub stack_bytes_static: Option<u32>,
    /// Calls that cannot be followed.
    pub stack_unknown: Vec<String>,
    /// Static RAM without the flight recorder, bytes.
    pub ram_bytes: u32,
    /// Flash, bytes.
    pub flash_bytes: u32,
    /// Instructions of the flight recorder in a period, mean.
    pub recorder_instructions_mean: f64,
    /// The most.
    pub recorder_instructions_max: u32,
    /// Static RAM of the flight recorder, bytes.
    pub recorder_bytes: u32,
    /// Whether no panic can be reached.
    pub panic_free: bool,
    /// What is linked and must not be.
    pub forbidden: Vec<String>,
    /// Clock by which time is reckoned, Hz.
    pub assumed_clock_hz: f64,
    /// Cycles an instruction by which time is reckoned.
    pub assumed_cycles_per_instruction: f64,
    /// Share of a period that step and recorder take, at most.
    pub share_of_period: f64,
    /// Lower edge and count of classes of instructions.
    pub histogram: Vec<(u32, usize)>,
}

/// Measures one core over the workload's `stretches`. `done` hears of every stretch that is through and may stop the work
/// by returning false.
///
/// # Errors
/// An image or emulator that cannot be used; an interruption.
pub fn measure(
    board: BoardKind,
    images: &Path,
    stretches: &[Stretch],
    step_s: f64,
    mut done: impl FnMut() -> bool,
) -> Result<(CoreTiming, Measured), TimingError> {
    let port = board.image(images, "port");
    let image = ImageFigures::of(&port, &board.image(images, "bench"))?;
    let mut all = Vec::new();
    let mut active = Vec::new();
    let mut stack = 0;
    let (mut recorder_sum, mut recorder_max) = (0_u64, 0);
    for stretch in stretches {
        let batch = Emulator::batch(board, images, &stretch.frames)?;
        stack = batch.stack_bytes.max(stack);
        for (drive, cost) in batch.steps {
            all.push(cost);
            if drive.mode == Mode::Active.code() {
                active.push(cost);
            }
        }
        let beside = Emulator::batch_of("recorder", board, images, &stretch.frames);
        for (_, cost) in beside?.steps {
            recorder_sum += u64::from(cost);
            recorder_max = cost.max(recorder_max);
        }
        if !done() {
            return Err(TimingError::Interrupted);
        }
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
