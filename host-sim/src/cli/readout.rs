//! `becalm readout`: a board's flight recorder, over the link into a file.

use super::{Failure, Outcome, options, terminal};
use clap::Args;
use firmware::{Faults, Phase, RecorderState};
use host_sim::cores::CoreKind;
use host_sim::design;
use host_sim::fault_words::fault_words;
use host_sim::flight::FlightFile;
use host_sim::link::{DEFAULT_BAUD, Patience, RemoteCore};
use host_sim::output::ResultFile;
use serde::Serialize;
use std::io::Write as _;
use std::path::PathBuf;

/// Read a board's flight recorder out over the serial link
#[derive(Args, Debug)]
#[command(after_help = "\
The recorder keeps the last seconds of raw frames around the first fault. Once
it is frozen it stays so until it is released. Without FILE only its state is
told. The board is neither stepped nor reset.

Exit code 2: no answer, no recorder, nothing frozen yet, or a board built from
another rig.

Examples:
  becalm readout --core serial:/dev/ttyACM0
  becalm readout --core serial:/dev/ttyACM0 fault.recording --release
  becalm replay fault.recording")]
pub(super) struct ReadoutArgs {
    /// File for the recording
    #[arg(value_name = "FILE")]
    file: Option<PathBuf>,
    /// The board: serial:PATH
    #[arg(long, value_name = "CORE", value_parser = serial)]
    core: PathBuf,
    /// Let the recording go when the file is written: the recorder records again
    #[arg(long, requires = "file")]
    release: bool,
    /// Rig that the board was built from [default: the one that ships with becalm]
    #[arg(long, value_name = "FILE")]
    rig: Option<PathBuf>,
    /// Print one JSON object and nothing else
    #[arg(long)]
    json: bool,
    /// No progress bar and no text
    #[arg(long, short)]
    quiet: bool,
}

fn serial(text: &str) -> Result<PathBuf, String> {
    match CoreKind::from_name(text) {
        Some(CoreKind::Serial(path)) => Ok(path),
        _ => Err(
            "expected serial:PATH: an emulated board begins anew and has recorded nothing".into(),
        ),
    }
}

#[derive(Serialize)]
struct Told {
    board: String,
    state: &'static str,
    frames: u32,
    room: u32,
    first_fault: Vec<&'static str>,
    bytes: u32,
    #[serde(skip_serializing_if = "Option::is_none")]
    file: Option<String>,
    released: bool,
}

/// Runs the command.
pub(super) fn run(args: &ReadoutArgs) -> Result<Outcome, Failure> {
    let rig = options::rig(args.rig.as_deref())?;
    let parameters = design::parameters(&rig)?;
    let mut board = RemoteCore::serial(&args.core, DEFAULT_BAUD, &parameters, Patience::default())?;
    let state = board.recorder()?;
    if let Some(path) = &args.file {
        frozen(&state)?;
        let (place, mut out) = ResultFile::claim(path, FlightFile::OPENING, "FILE", None)?;
        let bar = terminal::progress(!args.quiet && !args.json, state.bytes.into(), "bytes read");
        let image = board.recording(state.bytes, |done| {
            bar.set_position(done.into());
            !terminal::interrupted()
        })?;
        bar.finish_and_clear();
        if terminal::interrupted() {
            return Err("interrupted".into());
        }
        let file = FlightFile::from_recorder(image, &parameters, &args.core)?;
        let written = out
            .write_all(&file.to_bytes())
            .and_then(|()| out.sync_all());
        written.map_err(|e| place.error(e))?;
        place.publish()?;
        if args.release {
            board.release()?;
        }
    }
    let told = Told {
        board: board.hello().core.clone(),
        state: word(state.phase),
        frames: state.frames,
        room: state.room,
        first_fault: fault_words(Faults(state.faults)),
        bytes: state.bytes,
        file: args.file.as_ref().map(|path| path.display().to_string()),
        released: args.release,
    };
    if args.json {
        terminal::print_json(&told)?;
    } else if !args.quiet {
        terminal::print(&text(&told))?;
    }
    Ok(Outcome::Holds)
}

/// Whether there is something to read out.
fn frozen(state: &RecorderState) -> Result<(), Failure> {
    let why = match state.phase {
        Phase::Frozen => return Ok(()),
        Phase::Idle => "the board has no flight recorder, or has not begun it".to_owned(),
        Phase::Recording => format!(
            "no fault has come: the recorder records on ({} of {} frames)",
            state.frames, state.room
        ),
        Phase::Closing => {
            "the first fault has come, and what follows is still recorded: ask again in a moment"
                .to_owned()
        }
    };
    Err(format!("{why}; expected a frozen recording").into())
}

const fn word(phase: Phase) -> &'static str {
    match phase {
        Phase::Idle => "none",
        Phase::Recording => "recording",
        Phase::Closing => "closing",
        Phase::Frozen => "frozen",
    }
}

fn text(told: &Told) -> String {
    let mut text = format!(
        "{}: flight recorder: {}, {} of {} frames\n",
        told.board, told.state, told.frames, told.room
    );
    if !told.first_fault.is_empty() {
        text += &format!("First fault: {}\n", told.first_fault.join(", "));
    }
    if let Some(file) = &told.file {
        text += &format!("Written: {file}\n");
    }
    if told.released {
        text += "Released: it records again.\n";
    }
    text
}
