//! `becalm ride`: one ride, the law beside the passive seat.

use super::record::{ACCEPTED_CONTACT_MPS, Recorder, RideRecord};
use super::{Failure, Outcome, fault_list, options, table, terminal};
use clap::Args;
use firmware::Phase;
use host_sim::body::BodyKind;
use host_sim::bound::{self, BoundFigures, BoundSpec};
use host_sim::cores::{self, CoreKind, FrameFile, Shadow};
use host_sim::design;
use host_sim::fault::Fault;
use host_sim::flight::{FlightFile, FlightRecorder};
use host_sim::floor::{self, FloorError};
use host_sim::output::{ResultFile, ResultFolder};
use host_sim::ride::{self, Arithmetic, RideError, RideSpec, Sample};
use host_sim::rig::Rig;
use host_sim::scenario::{Scenario, recording_end};
use host_sim::trace::{HEADER, Seat};
use std::fs::File;
use std::io::Write as _;
use std::path::{Path, PathBuf};

const AFTER: &str = "\
Both seats ride on the same floor: the seat under the law, and a good passive
seat (its own spring and damper, see section `passive` of the rig; not the
active seat switched off). The start, in which the operator is lifted and the
filters settle, is left out of all figures.

Files: report.html (figures and plots, to be opened in a browser), ride.html
(the ride played, seat beside seat), trace.csv (one row for each control period)
and summary.json go to a folder, all at once when the ride is done. Results of
an earlier ride are replaced; files that becalm did not make never are. With
--json no file is written unless --out or --trace asks; with --passive there is
no page.

A fault (--fault) is one thing that breaks on the way: NAME or
NAME:key=value,... with the keys onset (s), duration (s), size and every (s).
`becalm ride --list-faults` shows all names, with what they can be told. Faults
given here take the place of those of the scenario. The passive seat is spared
them, but the same people sit on it.

Exit code 1: the law met a stop harder than 0.10 m/s, or latched a fault in a
ride in which nothing was broken on purpose.

Examples:
  becalm ride --floor loader --level 2.5
  becalm ride --floor road-e --speed 8 --occupant 110 --body rigid
  becalm ride --floor edge:flank=0.08
  becalm ride --floor field.csv:accel=az,unit=g
  becalm ride --level 2.5 --fault travel-stuck:onset=20
  becalm ride --fault travel-dead:onset=20 --recorder fault.recording
  becalm ride --scenario my_scenario.toml --seed 7 --json";

/// Ride on a floor: what the operator feels, with the law and without
#[derive(Args, Debug, Default)]
#[command(after_help = AFTER, allow_negative_numbers = true)]
pub(super) struct RideArgs {
    /// Floor by name (see `becalm floors`) or a recording FILE.csv; options
    /// may follow a colon. Single events (edge, bump, shock) come at 12 s, or
    /// at 60 % of a ride not longer than that, unless `at=` says when [default: hauler]
    #[arg(long, value_name = "NAME|FILE.csv")]
    floor: Option<String>,
    /// Factor on the floor's signal, 0 to 100 [default: 1]
    #[arg(long, value_name = "X", value_parser = options::level)]
    level: Option<f64>,
    /// Driving speed on roads, 1 to 60 m/s [default: 10]
    #[arg(long, value_name = "M/S", value_parser = options::speed)]
    speed: Option<f64>,
    /// Mass of the occupant, 20 to 200 kg, or 0 for nobody [default: 80]
    #[arg(long, value_name = "KG", value_parser = options::occupant)]
    occupant: Option<f64>,
    /// Seated body: rigid, one-mass or two-mass [default: two-mass]
    #[arg(long, value_name = "NAME", value_parser = options::body)]
    body: Option<BodyKind>,
    /// Length of the ride, 0.1 to 1000000 s [default: that of a recording,
    /// 6 s from the start of an event, else 60]
    #[arg(long, value_name = "S", value_parser = options::seconds)]
    seconds: Option<f64>,
    /// Start left out of the figures, s [default: 5, or half of a ride
    /// shorter than 10 s; with an event, all until 1 s before it]
    #[arg(long, value_name = "S", value_parser = options::skip)]
    skip: Option<f64>,
    /// Seed of floor, sensors and machine, a whole number of 0 or more
    /// [default: 1]
    #[arg(long, value_name = "N")]
    seed: Option<u64>,
    /// Rig file in TOML [default: the invented machine that ships with becalm;
    /// `becalm rig show` prints it]
    #[arg(long, value_name = "FILE")]
    rig: Option<PathBuf>,
    /// Scenario file in TOML; the options given here go before its fields
    #[arg(long, value_name = "FILE")]
    scenario: Option<PathBuf>,
    /// Arithmetic of the law: f32, f64 or fixed [default: f32]
    #[arg(long, value_name = "NAME", value_parser = options::arithmetic)]
    arithmetic: Option<Arithmetic>,
    /// Break something on the way; may be given several times
    #[arg(long = "fault", value_name = "NAME[:KEY=VALUE,...]", value_parser = options::fault)]
    faults: Vec<Fault>,
    /// List what can be broken, and ride nothing; with --json as one JSON object
    #[arg(long)]
    list_faults: bool,
    /// Where the law runs: host, an emulated board (m4f, m7, m3) in lockstep
    /// with the plant, or a board behind serial:PATH [default: host]
    #[arg(long, value_name = "CORE", value_parser = options::core)]
    core: Option<CoreKind>,
    /// Record every sensor frame and answer, for `becalm replay`
    #[arg(long, value_name = "FILE")]
    record: Option<PathBuf>,
    /// Let a flight recorder run beside the law and write what it froze around the
    /// first fault, for `becalm replay`; with arithmetic f32 or fixed
    #[arg(long, value_name = "FILE", conflicts_with_all = ["core", "passive"])]
    recorder: Option<PathBuf>,
    /// Find the bound also of a ride longer than 120 s (see `becalm bound`); it
    /// takes about 2 s of computing for each minute of ride
    #[arg(long, conflicts_with_all = ["no_bound", "passive"])]
    bound: bool,
    /// Leave the bound out
    #[arg(long)]
    no_bound: bool,
    /// Show the passive seat alone: the table, the trace and the JSON leave
    /// out everything of the law; no report is written and no limit applies
    #[arg(long)]
    passive: bool,
    /// Print one JSON object and nothing else; write no files unless --out or
    /// --trace asks
    #[arg(long)]
    json: bool,
    /// Also write the trace to this file
    #[arg(long, value_name = "FILE")]
    trace: Option<PathBuf>,
    /// Folder for the results [default: becalm-out/FLOOR-xLEVEL-SEED]
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// No progress bar and no table
    #[arg(long, short)]
    quiet: bool,
}

/// Rides up to this length get their bound without being asked, s.
const BOUND_UP_TO_S: f64 = 120.0;

/// Files of a ride's folder, the record last.
const FILES: [&str; 4] = ["report.html", "ride.html", "trace.csv", "summary.json"];

/// Runs the command.
pub(super) fn run(args: RideArgs) -> Result<Outcome, Failure> {
    if args.list_faults {
        return fault_list::list(args.json);
    }
    let (mut spec, rig) = prepare(&args)?;
    frames_suffice(&args, &spec)?;
    let seat = if args.passive {
        Seat::Passive
    } else {
        Seat::Law
    };
    let input = recording_end(&spec.floor.name).map(|end| PathBuf::from(&spec.floor.name[..end]));
    let folder = match (&args.out, args.json) {
        (None, true) => None,
        (Some(path), _) => Some(path.clone()),
        (None, false) => Some(default_folder(&spec)),
    };
    let folder = folder
        .map(|path| ResultFolder::claim(&path, &FILES, input.as_deref()))
        .transpose()?;
    let file = args
        .trace
        .as_ref()
        .map(|path| ResultFile::claim(path, HEADER, "--trace", input.as_deref()))
        .transpose()?;

    let mut core = lockstep(&args, &mut spec, &rig)?;
    let mut recording = args
        .record
        .as_ref()
        .map(|path| Recording::claim(path, &spec, &rig, input.as_deref()))
        .transpose()?;

    let mut flight = args
        .recorder
        .as_ref()
        .map(|path| Flight::claim(path, input.as_deref()))
        .transpose()?;

    let mut recorder = Recorder::new(&rig, &spec, seat, folder, file)?;
    let bar = terminal::progress(
        !args.quiet && !args.json,
        spec.seconds.ceil() as u64,
        "s ridden",
    );
    let mut second = 0;
    let look = |sample: &Sample| {
        if let Some(recording) = &mut recording {
            recording.frames.steps.push((sample.frame, sample.drive));
        }
        if sample.time_s as u64 > second {
            second = sample.time_s as u64;
            bar.set_position(second);
        }
        recorder.push(sample) && !terminal::interrupted()
    };
    let summary = match (&mut core, &mut flight) {
        (None, None) => ride::run(&rig, &spec, look),
        (None, Some(flight)) => ride::run_recorded(&rig, &spec, &mut flight.recorder, look),
        (Some(core), _) => ride::run_in_core(&rig, &spec, core, look),
    };
    bar.finish_and_clear();
    recorder.check()?;
    if let Err(RideError::Parity(difference)) = &summary {
        return Ok(Outcome::Broken(difference.to_string()));
    }
    let mut summary = summary?;
    if args.bound || (spec.seconds <= BOUND_UP_TO_S && !args.no_bound && !args.passive) {
        summary.set_bound(find_bound(&args, &spec, &rig)?);
    }
    if let Some(recording) = recording {
        recording.publish()?;
    }
    if let Some(flight) = flight {
        flight.publish(&rig)?;
    }
    let record = RideRecord::new(summary, recorder.law(), args.passive);
    let written = recorder.finish(&record)?;

    if args.json {
        terminal::print(&record.json()?)?;
    } else if !args.quiet {
        let mut text = table::ride(&record, &rig, &spec);
        for place in &written {
            text += &format!("Written: {place}\n");
        }
        terminal::print(&text)?;
    }
    Ok(outcome(&record))
}

/// How good any seat could have been on the floor of this ride.
fn find_bound(args: &RideArgs, spec: &RideSpec, rig: &Rig) -> Result<BoundFigures, Failure> {
    let bound = BoundSpec::new(
        spec.floor.clone(),
        1.0 / rig.timing.step_s,
        spec.seconds,
        spec.skip_s,
        rig.seat.travel_m,
    );
    let bar = terminal::progress(
        !args.quiet && !args.json,
        spec.seconds.ceil() as u64,
        "s bounded",
    );
    let found = bound::run(&bound, terminal::interrupted, |done| {
        bar.set_position(done as u64);
    });
    bar.finish_and_clear();
    Ok(found?.figures())
}

/// Another core, and a replay, see the frames alone.
fn frames_suffice(args: &RideArgs, spec: &RideSpec) -> Result<(), Failure> {
    let elsewhere = args.core.as_ref().is_some_and(|c| *c != CoreKind::Host);
    let option = match (elsewhere, &args.record) {
        (true, _) => "--core",
        (false, Some(_)) => "--record",
        (false, None) => return Ok(()),
    };
    match spec.faults.iter().find(|f| !f.kind.leaves_the_law_alone()) {
        None => Ok(()),
        Some(fault) => Err(format!(
            "{option} with the fault {fault}: expected none that acts on the law itself: \
             memory-flip, skipped and watchdog cannot be seen in its frames"
        )
        .into()),
    }
}

/// The core that the law runs in, when that is not this process. The ride takes the core's arithmetic unless
/// another is asked for.
fn lockstep(args: &RideArgs, spec: &mut RideSpec, rig: &Rig) -> Result<Option<Shadow>, Failure> {
    let Some(kind) = args.core.as_ref().filter(|kind| **kind != CoreKind::Host) else {
        return Ok(None);
    };
    let parameters = design::parameters(rig)?;
    let Some(core) = cores::connect(kind, &cores::images(), &parameters)? else {
        return Ok(None);
    };
    match args.arithmetic {
        Some(asked) => core.must_run(asked)?,
        None => spec.arithmetic = core.arithmetic,
    }
    Ok(Some(Shadow::new(core, parameters)))
}

/// Frames and answers on their way to a file.
struct Recording {
    place: ResultFile,
    file: File,
    frames: FrameFile,
}

impl Recording {
    fn claim(
        path: &Path,
        spec: &RideSpec,
        rig: &Rig,
        input: Option<&Path>,
    ) -> Result<Self, Failure> {
        let (place, file) = ResultFile::claim(path, FrameFile::OPENING, "--record", input)?;
        let frames = FrameFile::new(spec.arithmetic, &design::parameters(rig)?);
        Ok(Self {
            place,
            file,
            frames,
        })
    }

    fn publish(mut self) -> Result<(), Failure> {
        let written = self.file.write_all(&self.frames.to_bytes());
        written.map_err(|e| self.place.error(e))?;
        Ok(self.place.publish()?)
    }
}

/// A flight recorder and the file for what it froze.
struct Flight {
    place: ResultFile,
    file: File,
    recorder: Box<FlightRecorder>,
}

impl Flight {
    fn claim(path: &Path, input: Option<&Path>) -> Result<Self, Failure> {
        let (place, file) = ResultFile::claim(path, FlightFile::OPENING, "--recorder", input)?;
        Ok(Self {
            place,
            file,
            recorder: Box::default(),
        })
    }

    fn publish(mut self, rig: &Rig) -> Result<(), Failure> {
        let state = self.recorder.state();
        let why = match state.phase {
            Phase::Frozen => None,
            Phase::Closing => Some("the first fault came too close to the end: make it longer"),
            _ => Some("no fault came: expected one that the law notices, see --list-faults"),
        };
        if let Some(why) = why {
            return Err(format!("--recorder: the ride froze no recording: {why}").into());
        }
        let mut image = vec![0; state.bytes as usize];
        self.recorder.read(0, &mut image);
        let parameters = design::parameters(rig)?;
        let file = FlightFile::from_recorder(image, &parameters, self.place.path())?;
        let written = self.file.write_all(&file.to_bytes());
        written.map_err(|e| self.place.error(e))?;
        Ok(self.place.publish()?)
    }
}

fn outcome(record: &RideRecord) -> Outcome {
    let Some(law) = record.law() else {
        return Outcome::Holds;
    };
    let travel = &record.summary().travel;
    if let Some(fault) = &law.latched_fault
        && record.summary().faults.is_empty()
    {
        return Outcome::Broken(format!("the firmware latched a fault: {fault}"));
    }
    if travel.contact_speed_max_mps > ACCEPTED_CONTACT_MPS {
        return Outcome::Broken(format!(
            "the seat met a stop at {:.2} m/s under the law; {ACCEPTED_CONTACT_MPS:.2} m/s is accepted",
            travel.contact_speed_max_mps
        ));
    }
    Outcome::Holds
}

/// From the options, the scenario and the defaults to the ride.
fn prepare(args: &RideArgs) -> Result<(RideSpec, Rig), Failure> {
    let given = Scenario {
        floor: args.floor.clone(),
        level: args.level,
        speed_mps: args.speed,
        seed: args.seed,
        recording: None,
        occupant_kg: args.occupant,
        body: args.body,
        seconds: args.seconds,
        skip_s: args.skip,
        rig: args.rig.clone(),
        arithmetic: args.arithmetic,
        changes: None,
        coil_c: None,
        faults: (!args.faults.is_empty()).then(|| args.faults.clone()),
    };
    settle(given, args.scenario.as_deref())
}

/// The ride that the given options and a scenario file ask for, with its rig.
pub(super) fn settle(given: Scenario, file: Option<&Path>) -> Result<(RideSpec, Rig), Failure> {
    let base = match file {
        Some(path) => Scenario::read(path)?,
        None => Scenario::default(),
    };
    let mut scenario = given.over(base);
    let rig = options::rig(scenario.rig.as_deref())?;
    place_event(&mut scenario)?;
    let floor = scenario.floor_spec();
    let floor_s = floor::build(&floor, 1.0 / rig.timing.step_s)?.duration_s();
    Ok((scenario.into_ride(floor_s), rig))
}

/// The figures of a ride with a single event are its own, and a ride too short for the usual
/// start has its event earlier.
fn place_event(scenario: &mut Scenario) -> Result<(), FloorError> {
    let Some(mut at_s) = floor::event_start_s(&scenario.floor_spec())? else {
        return Ok(());
    };
    if let (Some(seconds), Some(name)) = (scenario.seconds, &scenario.floor)
        && at_s >= seconds
        && !name.contains("at=")
    {
        at_s = 0.6 * seconds;
        let joint = if name.contains(':') { ',' } else { ':' };
        scenario.floor = Some(format!("{name}{joint}at={at_s}"));
    }
    let seconds = *scenario.seconds.get_or_insert(at_s + 6.0);
    if at_s < seconds {
        scenario.skip_s.get_or_insert((at_s - 1.0).max(0.0));
    }
    Ok(())
}

/// `becalm-out/FLOOR-xLEVEL-SEED`, with what a file name cannot hold replaced.
fn default_folder(spec: &RideSpec) -> PathBuf {
    let name = match recording_end(&spec.floor.name) {
        Some(end) => Path::new(&spec.floor.name[..end])
            .file_stem()
            .unwrap_or_default()
            .to_string_lossy()
            .into_owned(),
        None => spec.floor.name.clone(),
    };
    let plain: String = name
        .chars()
        .map(|c| {
            if c.is_alphanumeric() || "._-=".contains(c) {
                c
            } else {
                '-'
            }
        })
        .collect();
    Path::new("becalm-out").join(format!("{plain}-x{}-{}", spec.floor.level, spec.floor.seed))
}
