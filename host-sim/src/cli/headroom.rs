//! `becalm headroom`: the law between the passive seat and what is possible.

use super::words::{number, wrap};
use super::{Failure, Outcome, options, terminal};
use clap::Args;
use host_sim::body::BodyKind;
use host_sim::bound::headroom::{self, HeadroomRow, HeadroomSpec};
use host_sim::floor::spectra::SPECTRA;
use host_sim::floor::{self, FloorSpec};
use host_sim::output::MADE_BY;
use host_sim::ride::{Arithmetic, RideSpec};
use serde::Serialize;
use std::path::PathBuf;

const AFTER: &str = "\
SEAT values of weighted r.m.s. acceleration, each the mean over the seeds:
  passive  the passive seat of the rig
  law      the ride, with all limits, delays and noise of the machine
  linear   the best causal linear law for the floor's own spectrum (a
           linear-quadratic law that knows the floor's past exactly, without
           limit of force, delay or noise), its penalty on travel set so that
           on this very record its largest travel equals the limit. Invented
           floors only; elsewhere a dash
  bound    the clairvoyant bound, see `becalm bound`
  share    of the possible: (passive - law) / (passive - bound)
Linear law and bound are ideal seats: they stand for no machine. Where travel
runs short the law may beat the linear one, as it is not linear.

Examples:
  becalm headroom
  becalm headroom --floor hauler --floor loader --levels 1,2,3 --seeds 5 --json";

/// Passive seat, law, best causal linear law and bound over floors and levels
#[derive(Args, Debug)]
#[command(after_help = AFTER, allow_negative_numbers = true)]
pub(super) struct HeadroomArgs {
    /// Floor as in `becalm ride`; may be given several times [default: the six
    /// invented machine floors]
    #[arg(long, value_name = "NAME|FILE.csv")]
    floor: Vec<String>,
    /// Factors on the floors' signals, 0 to 100, separated by commas
    #[arg(
        long,
        value_name = "X,..",
        default_value = "1,1.5,2.5",
        value_delimiter = ',',
        value_parser = options::level
    )]
    levels: Vec<f64>,
    /// Number of seeds, from 1 on
    #[arg(
        long,
        value_name = "N",
        default_value = "2",
        value_parser = clap::value_parser!(u64).range(1..=1000)
    )]
    seeds: u64,
    /// Driving speed on roads, 1 to 60 m/s
    #[arg(long, value_name = "M/S", default_value = "10", value_parser = options::speed)]
    speed: f64,
    /// Length of a ride, 0.1 to 1000000 s
    #[arg(long, value_name = "S", default_value = "60", value_parser = options::seconds)]
    seconds: f64,
    /// Start left out of the figures, s [default: 5, or half of a ride shorter
    /// than 10 s]
    #[arg(long, value_name = "S", value_parser = options::skip)]
    skip: Option<f64>,
    /// Mass of the occupant, 20 to 200 kg, or 0 for nobody
    #[arg(long, value_name = "KG", default_value = "80", value_parser = options::occupant)]
    occupant: f64,
    /// Seated body: rigid, one-mass or two-mass
    #[arg(long, value_name = "NAME", default_value = "two-mass", value_parser = options::body)]
    body: BodyKind,
    /// Rig file in TOML [default: the rig that ships with becalm]
    #[arg(long, value_name = "FILE")]
    rig: Option<PathBuf>,
    /// Arithmetic of the law: f32, f64 or fixed
    #[arg(long, value_name = "NAME", default_value = "f32", value_parser = options::arithmetic)]
    arithmetic: Arithmetic,
    /// Print one JSON object and nothing else
    #[arg(long)]
    json: bool,
    /// No progress bar and no table
    #[arg(long, short)]
    quiet: bool,
}

#[derive(Serialize)]
struct Record<'a> {
    made_by: &'a str,
    rig: &'a str,
    travel_limit_m: f64,
    seeds: &'a [u64],
    seconds: f64,
    skipped_s: f64,
    occupant_kg: f64,
    body: &'a str,
    arithmetic: &'a str,
    rows: &'a [HeadroomRow],
}

/// Runs the command.
pub(super) fn run(args: &HeadroomArgs) -> Result<Outcome, Failure> {
    let rig = options::rig(args.rig.as_deref())?;
    let floors = if args.floor.is_empty() {
        SPECTRA.iter().map(|s| s.name.to_owned()).collect()
    } else {
        args.floor.clone()
    };
    let ride = RideSpec {
        seconds: args.seconds,
        skip_s: args.skip.unwrap_or(5.0_f64.min(0.5 * args.seconds)),
        occupant_kg: args.occupant,
        body: args.body,
        arithmetic: args.arithmetic,
        ..RideSpec::on(FloorSpec {
            speed_mps: args.speed,
            ..FloorSpec::default()
        })
    };
    for name in &floors {
        let spec = FloorSpec {
            name: name.clone(),
            ..ride.floor.clone()
        };
        floor::build(&spec, 1.0 / rig.timing.step_s)?;
    }
    let spec = HeadroomSpec {
        floors,
        levels: args.levels.clone(),
        seeds: (1..=args.seeds).collect(),
        ride,
        travel_m: rig.seat.travel_m,
    };
    let count = spec.floors.len() * spec.levels.len() * spec.seeds.len();
    let bar = terminal::progress(!args.quiet && !args.json, count as u64, "rides");
    let rows = headroom::run(&rig, &spec, terminal::interrupted, |done| {
        bar.set_position(done as u64);
    });
    bar.finish_and_clear();
    let rows = rows?;
    let record = Record {
        made_by: MADE_BY,
        rig: &rig.name,
        travel_limit_m: spec.travel_m,
        seeds: &spec.seeds,
        seconds: spec.ride.seconds,
        skipped_s: spec.ride.skip_s,
        occupant_kg: spec.ride.occupant_kg,
        body: spec.ride.body.name(),
        arithmetic: spec.ride.arithmetic.name(),
        rows: &rows,
    };
    if args.json {
        terminal::print_json(&record)?;
    } else if !args.quiet {
        terminal::print(&table(&record))?;
    }
    Ok(Outcome::Holds)
}

fn table(record: &Record<'_>) -> String {
    let seeds = match record.seeds.len() {
        1 => "seed 1".to_owned(),
        n => format!("mean over seeds 1 to {n}"),
    };
    let mut text = wrap(
        &format!(
            "SEAT values, {} s, the first {} s left out, {seeds}; travel {} mm to either side; {} kg, \
             {} body, law in {}",
            record.seconds,
            record.skipped_s,
            number(1000.0 * record.travel_limit_m),
            record.occupant_kg,
            record.body,
            record.arithmetic
        ),
        "",
        80,
    );
    let width = record
        .rows
        .iter()
        .map(|row| row.floor.chars().count())
        .fold(8, usize::max)
        .min(26);
    text += &format!(
        "\n{:width$}{:>7}{:>10}{:>9}{:>9}{:>9}{:>9}\n",
        "floor", "level", "passive", "law", "linear", "bound", "share"
    );
    let cell = |value: Option<f64>| value.map_or_else(|| "-".to_owned(), figure);
    let mut last = "";
    for row in record.rows {
        if !last.is_empty() && last != row.floor {
            text.push('\n');
        }
        last = &row.floor;
        let share = row
            .share_of_possible
            .map_or_else(|| "-".to_owned(), |s| format!("{:.0} %", 100.0 * s));
        let name: String = row.floor.chars().take(width).collect();
        text += &format!(
            "{name:width$}{:>7}{:>10}{:>9}{:>9}{:>9}{share:>9}\n",
            row.level,
            cell(row.passive),
            cell(row.ours),
            cell(row.causal_linear),
            cell(row.bound),
        );
    }
    text += "\nLinear law and bound are ideal seats; no real seat reaches the bound.\n";
    text
}

/// A SEAT value; what cannot be told from nothing is 0.
fn figure(value: f64) -> String {
    if value < 0.0005 {
        "0".to_owned()
    } else {
        format!("{value:.3}")
    }
}
