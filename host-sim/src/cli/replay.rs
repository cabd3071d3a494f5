//! `becalm replay`: recorded frames through the law again, on the host or in another core.

use super::words::wrap;
use super::{Failure, Outcome, options, replay_flight, terminal};
use clap::Args;
use firmware::{Cycle, DriveFrame, Parameters, SensorFrame};
use host_sim::cores::{self, CoreError, CoreKind, Emulator, FrameFile, Shadow};
use host_sim::design;
use host_sim::flight::FlightFile;
use host_sim::ride::Arithmetic;
use serde::Serialize;
use shared_math::{Q24, Scalar};
use std::path::{Path, PathBuf};

/// Run recorded sensor frames through the law again and compare every answer, bit for bit
#[derive(Args, Debug)]
#[command(after_help = "\
The file holds raw sensor frames and the answers that the law gave, see
`becalm ride --record FILE`. The answers of the core must be the same bits.
The digest is the CRC-32 of all answers.

Or it is a recording of a flight recorder, see `becalm readout` and `becalm
ride --recorder FILE`: then the law goes on from the recorded state at the
beginning of every block, on the host. Modes and faults are told by time from
the first fault, and --trace writes what the law saw and did in each period.

Exit code 1: an answer differs; the message names the first step, stage and
value that do, or the first block. Exit code 2: the file is cut short, damaged,
of another version or of other parameters, or the core cannot be used.

Examples:
  becalm ride --floor hauler --level 2.5 --record ride.frames
  becalm replay ride.frames
  becalm replay ride.frames --core m4f
  becalm replay fault.recording --trace fault.csv")]
pub(super) struct ReplayArgs {
    /// File of recorded frames
    #[arg(value_name = "FILE")]
    pub(super) file: PathBuf,
    /// Core that answers: host, m4f, m7, m3 or serial:PATH [default: host]
    #[arg(long, value_name = "CORE", value_parser = options::core)]
    pub(super) core: Option<CoreKind>,
    /// Rig that it was recorded with [default: the one that ships with becalm]
    #[arg(long, value_name = "FILE")]
    pub(super) rig: Option<PathBuf>,
    /// Write the periods of a flight recorder's file as rows to this CSV file
    #[arg(long, value_name = "FILE")]
    pub(super) trace: Option<PathBuf>,
    /// Print one JSON object and nothing else
    #[arg(long)]
    pub(super) json: bool,
    /// No progress bar and no text
    #[arg(long, short)]
    pub(super) quiet: bool,
}

#[derive(Serialize)]
struct Replayed {
    file: String,
    core: String,
    arithmetic: &'static str,
    steps: usize,
    digest: String,
    identical: bool,
    #[serde(skip_serializing_if = "Option::is_none")]
    difference: Option<Found>,
}

/// The first difference.
#[derive(Serialize)]
struct Found {
    step: usize,
    stage: &'static str,
    name: &'static str,
    #[serde(skip)]
    text: String,
}

/// Runs the command.
pub(super) fn run(args: &ReplayArgs) -> Result<Outcome, Failure> {
    if FlightFile::is_one(&args.file) {
        return replay_flight::run(args);
    }
    if args.trace.is_some() {
        let path = args.file.display();
        return Err(format!(
            "{path}: --trace: expected a flight recorder's file, which begins with {}",
            FlightFile::OPENING
        )
        .into());
    }
    let rig = options::rig(args.rig.as_deref())?;
    let parameters = design::parameters(&rig)?;
    let file = FrameFile::read(&args.file)?;
    file.check(&parameters, &args.file)?;
    let steps = match file.arithmetic {
        Arithmetic::F32 => answers::<f32>(&file, &parameters)?,
        Arithmetic::F64 => answers::<f64>(&file, &parameters)?,
        Arithmetic::Fixed => answers::<Q24>(&file, &parameters)?,
    };
    let kind = args.core.clone().unwrap_or_default();
    let images = cores::images();
    let recorded = || recorded_difference(&file, &steps);
    let (name, difference) = match &kind {
        CoreKind::Host => ("host".to_owned(), recorded()),
        CoreKind::Board(board) if board.arithmetic() == file.arithmetic => {
            let frames: Vec<SensorFrame> = steps.iter().map(|s| s.0).collect();
            let batch = Emulator::batch(*board, &images, &frames).map_err(CoreError::from)?;
            let same = steps.iter().zip(&batch.steps).all(|(a, b)| a.1 == b.0);
            // Step by step only to find where it began.
            let found = if same {
                None
            } else {
                step_by_step(args, &images, &parameters, &file, &steps)?.1
            };
            (board.name().to_owned(), found.or_else(recorded))
        }
        _ => {
            let (name, found) = step_by_step(args, &images, &parameters, &file, &steps)?;
            (name, found.or_else(recorded))
        }
    };
    let replayed = Replayed {
        file: args.file.display().to_string(),
        core: name,
        arithmetic: file.arithmetic.name(),
        steps: steps.len(),
        digest: format!("{:08x}", file.digest()),
        identical: difference.is_none(),
        difference,
    };
    if args.json {
        terminal::print_json(&replayed)?;
    } else if !args.quiet && replayed.identical {
        terminal::print(&wrap(
            &format!(
                "{} steps in {} ({}): every answer is bit-identical. Digest {}.",
                replayed.steps, replayed.core, replayed.arithmetic, replayed.digest
            ),
            "",
            80,
        ))?;
    }
    Ok(match replayed.difference {
        None => Outcome::Holds,
        Some(found) => Outcome::Broken(found.text),
    })
}

/// Drives the core over the link; its name and the first difference.
fn step_by_step(
    args: &ReplayArgs,
    images: &Path,
    parameters: &Parameters,
    file: &FrameFile,
    steps: &[(SensorFrame, DriveFrame)],
) -> Result<(String, Option<Found>), Failure> {
    let kind = args.core.clone().unwrap_or_default();
    let Some(core) = cores::connect(&kind, images, parameters)? else {
        return Ok(("host".to_owned(), None));
    };
    core.must_run(file.arithmetic)?;
    let bar = terminal::progress(
        !args.quiet && !args.json,
        steps.len() as u64,
        "steps replayed",
    );
    let mut shadow = Shadow::new(core, *parameters);
    let found = shadow.replay(steps, |done| {
        bar.set_position(done as u64);
        !terminal::interrupted()
    })?;
    bar.finish_and_clear();
    if terminal::interrupted() {
        return Err("interrupted".into());
    }
    let found = found.map(|d| Found {
        step: d.step,
        stage: d.stage,
        name: d.name,
        text: d.to_string(),
    });
    Ok((shadow.name().to_owned(), found))
}

/// What the host's law answers to the frames.
fn answers<S: Scalar>(
    file: &FrameFile,
    parameters: &Parameters,
) -> Result<Vec<(SensorFrame, DriveFrame)>, Failure> {
    let mut cycle = Cycle::<S>::new(parameters)?;
    let step = |(frame, _): &(SensorFrame, DriveFrame)| (*frame, cycle.step(frame));
    Ok(file.steps.iter().map(step).collect())
}

/// The first answer of the host that is not the recorded one.
fn recorded_difference(file: &FrameFile, steps: &[(SensorFrame, DriveFrame)]) -> Option<Found> {
    let step = file.steps.iter().zip(steps).position(|(a, b)| a.1 != b.1)?;
    let (recorded, now) = (file.steps.get(step)?.1, steps.get(step)?.1);
    let text = format!(
        "the host's law differs from the recording first at step {step}: recorded {recorded:?}, now {now:?}"
    );
    Some(Found {
        step,
        stage: "answer",
        name: "recorded",
        text,
    })
}
