//! `becalm replay` of a flight recorder's file: the same bits from every block, and what happened around the fault.

use super::replay::ReplayArgs;
use super::{Failure, Outcome, options, terminal};
use firmware::{Faults, Mode, Parameters, Recorded};
use host_sim::cores::CoreKind;
use host_sim::design;
use host_sim::fault_words::fault_words;
use host_sim::flight::{Change, FlightFile, FlightReplay, HEADER, RowWriter};
use host_sim::output::ResultFile;
use host_sim::ride::Arithmetic;
use serde::Serialize;
use shared_math::Q24;
use std::fs::File;
use std::io::BufWriter;

/// Changes that are printed at most.
const SHOWN: usize = 60;

#[derive(Serialize)]
struct Told {
    file: String,
    arithmetic: &'static str,
    step_s: f32,
    blocks: usize,
    frames: usize,
    frames_given_up: u32,
    fault_frame: usize,
    first_fault: Vec<&'static str>,
    digest: String,
    identical: bool,
    differences: Vec<String>,
    changes: Vec<ToldChange>,
}

#[derive(Serialize)]
struct ToldChange {
    time_s: f64,
    mode: &'static str,
    faults: Vec<&'static str>,
}

impl ToldChange {
    fn new(change: &Change) -> Self {
        Self {
            time_s: change.time_s,
            mode: change.mode.map_or("unknown", Mode::name),
            faults: fault_words(change.faults),
        }
    }
}

/// Runs the command on such a file.
pub(super) fn run(args: &ReplayArgs) -> Result<Outcome, Failure> {
    if args.core.as_ref().is_some_and(|c| *c != CoreKind::Host) {
        let path = args.file.display();
        return Err(format!(
            "{path}: --core with a flight recorder's file: expected host: no other core can go on from a snapshot"
        )
        .into());
    }
    let rig = options::rig(args.rig.as_deref())?;
    let parameters = design::parameters(&rig)?;
    let file = FlightFile::read(&args.file)?;
    file.check(&parameters, &args.file)?;
    let replay = match file.arithmetic {
        Arithmetic::Fixed => replayed::<Q24>(args, &file, &parameters)?,
        _ => replayed::<f32>(args, &file, &parameters)?,
    };
    let told = Told {
        file: args.file.display().to_string(),
        arithmetic: file.arithmetic.name(),
        step_s: file.step_s,
        blocks: file.blocks.len(),
        frames: replay.frames,
        frames_given_up: file.given_up,
        fault_frame: file.fault_frame(),
        first_fault: fault_words(file.faults),
        digest: format!("{:08x}", replay.digest),
        identical: replay.differences.is_empty(),
        differences: replay.differences.iter().map(ToString::to_string).collect(),
        changes: replay.changes.iter().map(ToldChange::new).collect(),
    };
    if args.json {
        terminal::print_json(&told)?;
    } else if !args.quiet {
        terminal::print(&text(&told, file.faults))?;
    }
    Ok(match told.differences.first() {
        None => Outcome::Holds,
        Some(first) => Outcome::Broken(format!(
            "the law does not give the recorded bits in {} of {} blocks; first {first}",
            told.differences.len(),
            told.blocks
        )),
    })
}

/// The replay, with its rows where they are wanted.
fn replayed<S: Recorded>(
    args: &ReplayArgs,
    file: &FlightFile,
    parameters: &Parameters,
) -> Result<FlightReplay, Failure> {
    let Some(path) = &args.trace else {
        return Ok(FlightReplay::run::<S>(
            file,
            parameters,
            &args.file,
            |_| {},
        )?);
    };
    let claimed = ResultFile::claim(path, HEADER, "--trace", Some(&args.file))?;
    let (place, out): (ResultFile, File) = claimed;
    let mut rows = RowWriter::new(BufWriter::new(out)).map_err(|e| place.error(e))?;
    let mut written = Ok(());
    let replay = FlightReplay::run::<S>(file, parameters, &args.file, |period| {
        if written.is_ok() {
            written = rows.push(period);
        }
    })?;
    let finished = written.and_then(|()| rows.finish().map(drop));
    finished.map_err(|e| place.error(e))?;
    place.publish()?;
    Ok(replay)
}

fn text(told: &Told, faults: Faults) -> String {
    let step_s = f64::from(told.step_s);
    let fault_s = told.fault_frame as f64 * step_s;
    let mut text = format!(
        "{}: {} frames in {} blocks, {:.3} s, {}\n",
        told.file,
        told.frames,
        told.blocks,
        told.frames as f64 * step_s,
        told.arithmetic,
    );
    text += &format!(
        "First fault: {}; {fault_s:.3} s before it and {:.3} s after it are kept.\n\n",
        names(&fault_words(faults)),
        (told.frames - told.fault_frame) as f64 * step_s,
    );
    text += "   time s  mode      faults\n";
    for change in told.changes.iter().take(SHOWN) {
        text += &format!(
            "{:>9.3}  {:<8}  {}\n",
            change.time_s,
            change.mode,
            names(&change.faults)
        );
    }
    if told.changes.len() > SHOWN {
        let more = told.changes.len() - SHOWN;
        text += &format!("           and {more} changes more; --json has all\n");
    }
    if told.identical {
        text += &format!(
            "\nEvery answer is bit-identical, from every block on. Digest {}.\n",
            told.digest
        );
    }
    text
}

fn names(faults: &[&str]) -> String {
    if faults.is_empty() {
        "none".to_owned()
    } else {
        faults.join(", ")
    }
}
