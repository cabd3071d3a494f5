//! `becalm margins`: stability margins of the closed loop.

use super::words::{labelled, number, wrap};
use super::{Failure, Outcome, margins_map, options, terminal};
use clap::Args;
use host_sim::body::BodyKind;
use host_sim::margins::breaking::{self, Breaking};
use host_sim::margins::export;
use host_sim::margins::limits::{Limits, NAMES, Worst, at_least, inside};
use host_sim::margins::loops::Break;
use host_sim::margins::map;
use host_sim::margins::point::{Bench, Doing, Point};
use host_sim::margins::study::{self, Found, RATES_MPS, Study, StudySpec};
use host_sim::margins::vary::VALUES;
use host_sim::output::{MADE_BY, ResultFile, ResultFolder};
use serde::Serialize;
use std::io::Write;
use std::path::{Path, PathBuf};

const AFTER: &str = "\
The law's own stages run in dual numbers about each operating point and are
joined with the plant, discretised exactly: current loop, delay, sensors. The
grid: 40 to 130 kg, each body, seat at mid travel and 80 % off it, force
constant 5 % off either way, friction from none to sliding at 0.01 m/s, floors
of which none, one or several constraints of the look-ahead make the law follow.

up, down   factor on the loop gain, dB     phase  degrees
disk       1 / max |S - 1/2|               delay  ms
Each with the loop broken at one place, the others closed. The floor is given:
no loop goes through its accelerometer.

Braking at the end of travel is looked at as frozen instants. Its gains change
within less than a period of what crosses there, so its margins are shown, not
judged. Its poles are.

Exit code 1: a margin of the grid is below its limit, or a pole of the grid or
of a random machine is not inside the unit circle.

With --out: margins.svg (disk margin over mass and delay) and margins.json.
--export writes the linear loop of one point; docs/margins.md has the format.

Examples:
  becalm margins
  becalm margins --rig my_rig.toml --json
  becalm margins --export loop.json --occupant 110 --doing following-late";

/// Stability margins: gain, phase, delay and disk margin, poles, worst case
#[derive(Args, Debug)]
#[command(after_help = AFTER)]
pub(super) struct MarginsArgs {
    /// Rig file in TOML [default: the rig that ships with becalm]
    #[arg(long, value_name = "FILE")]
    rig: Option<PathBuf>,
    /// Number of random machines, each value up to 10 % off, 0 to 100000
    #[arg(long, value_name = "N", default_value = "1000", value_parser = clap::value_parser!(u32).range(0..=100_000))]
    draws: u32,
    /// Seed of the random machines, a whole number of 0 or more
    #[arg(long, value_name = "N", default_value = "1")]
    seed: u64,
    /// Write the linear loop of one point to FILE, and nothing else is computed
    #[arg(long, value_name = "FILE")]
    export: Option<PathBuf>,
    /// Occupant of that point, 20 to 200 kg
    #[arg(long, value_name = "KG", default_value = "80", value_parser = options::occupant, requires = "export")]
    occupant: f64,
    /// Body of that point: rigid, one-mass or two-mass
    #[arg(long, value_name = "NAME", default_value = "two-mass", value_parser = options::body, requires = "export")]
    body: BodyKind,
    /// What the law does there: isolating, following-late, -mid, -early, -rough,
    /// -nearest or -several, or braking:SHARE of the travel, 0 to 0.95
    #[arg(long, value_name = "NAME", default_value = "isolating", value_parser = doing, requires = "export")]
    doing: Doing,
    /// Print one JSON object and nothing else
    #[arg(long)]
    json: bool,
    /// Folder for margins.svg and margins.json
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// No progress bar and no table
    #[arg(long, short)]
    quiet: bool,
}

fn doing(text: &str) -> Result<Doing, String> {
    let share = text.strip_prefix("braking:").and_then(|s| s.parse().ok());
    if let Some(share) = share.filter(|s| (0.0..=0.95).contains(s)) {
        return Ok(Doing::Braking(share));
    }
    Doing::ISOLATING
        .into_iter()
        .find(|d| d.name() == text)
        .ok_or_else(|| {
            "expected isolating, following-late, following-mid, following-early, following-rough, \
             following-nearest, following-several or braking:SHARE, SHARE from 0 to 0.95"
                .to_owned()
        })
}

#[derive(Serialize)]
struct Record<'a> {
    made_by: &'a str,
    rig: &'a str,
    seed: u64,
    draws: usize,
    limits: Limits,
    holds: bool,
    broken: &'a [String],
    worst: &'a Worst,
    worst_braking: &'a Worst,
    worst_drawn: &'a Worst,
    worst_drawn_braking: &'a Worst,
    supply_and_coil_make_no_difference: bool,
    largest_pole_of_the_law_alone: f64,
    breaking: &'a [Breaking],
    places: [&'static str; 4],
    points: &'a [Found],
}

const FILES: [&str; 2] = ["margins.svg", "margins.json"];
/// The map: masses, kg, and extra delays, s.
const MAP_MASSES: usize = 10;
const MAP_DELAYS: usize = 17;
const MAP_DELAY_MAX_S: f64 = 0.008;

/// How many bytes of an exported file say that it is one.
const EXPORT_OPENING: usize = 36;

/// Runs the command.
pub(super) fn run(args: &MarginsArgs) -> Result<Outcome, Failure> {
    let rig = options::rig(args.rig.as_deref())?;
    let bench = Bench::new(&rig)?;
    if let Some(path) = &args.export {
        return write_export(args, &bench, path);
    }
    let folder = args
        .out
        .as_ref()
        .map(|path| ResultFolder::claim(path, &FILES, None))
        .transpose()?;
    let look = || !terminal::interrupted();
    let spec = StudySpec {
        draws: args.draws as usize,
        seed: args.seed,
        ..StudySpec::default()
    };
    let limits = Limits::default();
    let wanted = !args.quiet && !args.json;
    let bar = terminal::progress(wanted, study::count(&bench, &spec) as u64, "machines");
    let study = study::run(&bench, &spec, look, |done| bar.set_position(done as u64));
    bar.finish_and_clear();
    let study = study?;
    let broken = study.broken(&limits);
    let bar = terminal::progress(wanted, 2 * VALUES.len() as u64, "values");
    let table = breaking::table(&bench, &study.points, &limits, look, |done| {
        bar.set_position(done as u64);
    });
    bar.finish_and_clear();
    let table = table?;
    let worsts = [
        study.worst(false),
        study.worst(true),
        study.worst_drawn(false),
        study.worst_drawn(true),
    ];
    let record = Record {
        made_by: MADE_BY,
        rig: &rig.name,
        seed: args.seed,
        draws: spec.draws,
        limits,
        holds: broken.is_empty(),
        broken: &broken,
        worst: &worsts[0],
        worst_braking: &worsts[1],
        worst_drawn: &worsts[2],
        worst_drawn_braking: &worsts[3],
        supply_and_coil_make_no_difference: study.electrics_alike,
        largest_pole_of_the_law_alone: study.law_alone,
        breaking: &table,
        places: Break::ALL.map(Break::name),
        points: &study.points,
    };
    let mut written = String::new();
    if let Some(folder) = folder {
        let even = |from: f64, to: f64, count: usize| -> Vec<f64> {
            (0..count)
                .map(|i| from + (to - from) * i as f64 / (count - 1) as f64)
                .collect()
        };
        let bar = terminal::progress(wanted, MAP_MASSES as u64, "rows of the map");
        let map = map::run(
            &bench,
            &even(40.0, 130.0, MAP_MASSES),
            &even(0.0, MAP_DELAY_MAX_S, MAP_DELAYS),
            look,
            |done| bar.set_position(done as u64),
        );
        bar.finish_and_clear();
        folder.write("margins.svg", &margins_map::svg(&map?, &limits)?)?;
        folder.write_json("margins.json", &record)?;
        written = format!("\n{}", folder.written());
        folder.publish()?;
    }
    if args.json {
        terminal::print_json(&record)?;
    } else if !args.quiet {
        terminal::print(&(text(&record, &study) + &written))?;
    }
    Ok(if broken.is_empty() {
        Outcome::Holds
    } else {
        Outcome::Broken(broken.join("; "))
    })
}

fn write_export(args: &MarginsArgs, bench: &Bench, path: &Path) -> Result<Outcome, Failure> {
    if args.occupant == 0.0 {
        return Err("--occupant 0: expected 20 to 200 kg: an empty seat is not driven".into());
    }
    let point = Point {
        doing: args.doing,
        ..Point::plain(&bench.rig, args.occupant, args.body)
    };
    let export = export::export(bench, &point)?;
    let text = format!("{}\n", serde_json::to_string_pretty(&export)?);
    let opening = text.get(..EXPORT_OPENING).unwrap_or(&text);
    let (result, mut file) = ResultFile::claim(path, opening, "--export", None)?;
    file.write_all(text.as_bytes())
        .map_err(|error| result.error(error))?;
    result.publish()?;
    if args.json {
        terminal::print_json(&export)?;
    } else if !args.quiet {
        terminal::print(&format!("{}\nWritten: {}\n", point.words(), path.display()))?;
    }
    Ok(Outcome::Holds)
}

/// A margin in four or so characters; what nothing breaks is a dash.
fn margin(x: f64) -> String {
    if x.is_finite() {
        number(x)
    } else {
        "-".to_owned()
    }
}

fn row(name: &str, worst: &Worst) -> String {
    format!(
        "  {name:<30}{:>8}{:>8}{:>8}{:>8}{:>8}\n",
        margin(worst.gain_margin_up_db),
        margin(worst.gain_margin_down_db),
        margin(worst.phase_margin_deg),
        margin(worst.disk_margin),
        margin(1.0e3 * worst.delay_margin_s)
    )
}

fn text(record: &Record<'_>, study: &Study) -> String {
    let limits = &record.limits;
    let mut text = format!(
        "Margins of the closed loop, worst of {} operating points\nRig: {}\n\n",
        record.points.len(),
        record.rig
    );
    text += "                                      up    down   phase    disk   delay\n";
    text += "                                      dB      dB     deg              ms\n";
    text += &format!(
        "  {:<30}{:>8}{:>8}{:>8}{:>8}{:>8}\n",
        "wanted, at least",
        number(limits.gain_margin_db),
        number(limits.gain_margin_db),
        number(limits.phase_margin_deg),
        number(limits.disk_margin),
        number(1.0e3 * limits.delay_margin_s)
    );
    for (brakes, title) in [
        (false, "Isolating and following"),
        (
            true,
            "Braking at the end of travel, frozen instants, not judged",
        ),
    ] {
        text += &format!("\n{title}\n");
        for place in Break::ALL {
            if place != Break::FloorAccel {
                text += &row(place.name(), &study.worst_at(place, brakes));
            }
        }
        if record.draws > 0 {
            text += &row("random machines, any place", &study.worst_drawn(brakes));
        }
    }
    text += "\nWorst, isolating and following\n";
    let w = &record.worst.place;
    for (label, place) in [
        ("  up      ", &w.gain_margin_up_db),
        ("  down    ", &w.gain_margin_down_db),
        ("  phase   ", &w.phase_margin_deg),
        ("  disk    ", &w.disk_margin),
        ("  delay   ", &w.delay_margin_s),
    ] {
        text += &labelled(label, place, 80);
    }
    text += "\nPoles\n";
    for (name, found) in [("grid", &study.points), ("random machines", &study.draws)] {
        let most = found.iter().fold(0.0, |m, f| f64::max(m, f.largest_pole));
        if !found.is_empty() {
            let inside = if most < 1.0 {
                "all inside the unit circle"
            } else {
                "OUTSIDE"
            };
            text += &format!(
                "  {name:<17}{inside}, the largest 1 - {}\n",
                number(1.0 - most)
            );
        }
    }
    text += &wrap(
        &format!(
            "Where friction holds the seat the loop is open: the law alone has its largest pole at \
             {:.6}, an integral that grows until the seat breaks away. Friction is reckoned from \
             {} m/s of sliding rate. {}",
            record.largest_pole_of_the_law_alone,
            RATES_MPS[0],
            if record.supply_and_coil_make_no_difference {
                "Supply (lowest to chopper) and coil (-20 degrees Celsius to where derating begins) \
                 make no difference: no limit of current is near."
            } else {
                "Supply or coil temperature limit the current at some point: it is not linear there."
            }
        ),
        "  ",
        80,
    );
    let mut broken: Vec<bool> = limits
        .rows(record.worst)
        .iter()
        .map(|(_, value, limit)| !at_least(*value, *limit))
        .collect();
    broken.push(study.points.iter().any(|f| !inside(f.largest_pole)));
    text += &breaking_table(record.breaking, &broken);
    text
}

/// Values named for each limit.
const SHOWN: usize = 3;

fn breaking_table(rows: &[Breaking], worst: &[bool]) -> String {
    let far = breaking::farthest();
    let mut text = format!(
        "\nWhat breaks a limit first: one value at a time, up to {} times\n",
        number(far)
    );
    for (limit, &broken) in NAMES.into_iter().zip(worst) {
        let mut label = format!("  {limit}");
        let mut mine = rows.iter().filter(|row| row.limit == limit).peekable();
        if broken || mine.peek().is_none() {
            let words = if broken { "broken as it is" } else { "by none" };
            text += &format!("{label:<20}{words}\n");
        }
        for row in mine.take(SHOWN) {
            let change = format!("{:+.0} %", 100.0 * (row.factor - 1.0));
            text += &format!("{label:<20}{change:>7}  {}\n", row.value);
            label.clear();
        }
    }
    text
}
