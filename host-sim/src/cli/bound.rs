//! `becalm bound`: how good any seat could be on a floor.

use super::words::{labelled, number, wrap};
use super::{Failure, Outcome, options, ride, terminal};
use clap::Args;
use host_sim::bound::{self, Bound, BoundSpec, SolverStatus};
use host_sim::output::MADE_BY;
use host_sim::ride::RideSpec;
use host_sim::scenario::Scenario;
use serde::Serialize;
use std::path::PathBuf;
use std::time::Instant;

const AFTER: &str = "\
The bound is what an ideal seat would feel that knows the whole floor in advance
and uses its whole travel, with no limit of force, no delay, no noise and any
occupant. No real seat reaches it, and no law can beat it. It begins as a ride
does, at rest at mid travel, and is read by the same meter over the same time;
the skipped start is free to be used.

Two motions are found: the one of least Wk-weighted r.m.s. acceleration, which
gives r.m.s. and SEAT value, and the one of least peak acceleration, which gives
the peak. Neither has both. The step from knot to knot is 10 ms (5 ms for the
peak); SEAT values are good to 0.002, or 2 % at very short travel, peaks to 2 %.
A SEAT value below 0.001 is not told from 0; where the seat can stand still in
space, it is 0. Records longer than 120 s are solved in overlapping windows.

In the JSON, `seconds` is the time that the search took, `ridden_s` the length
of the record; `solver_status` is solved, almost_solved (about four figures) or
still (the seat can stand still in space).

Examples:
  becalm bound --floor hauler --level 2.5
  becalm bound --floor field.csv:accel=az,unit=g --travel 0.03 --json";

/// How good any seat could be on a floor: least vibration for the travel
#[derive(Args, Debug)]
#[command(after_help = AFTER, allow_negative_numbers = true)]
pub(super) struct BoundArgs {
    /// Floor by name (see `becalm floors`) or a recording FILE.csv; options
    /// may follow a colon. As in `becalm ride` [default: hauler]
    #[arg(long, value_name = "NAME|FILE.csv")]
    floor: Option<String>,
    /// Factor on the floor's signal, 0 to 100 [default: 1]
    #[arg(long, value_name = "X", value_parser = options::level)]
    level: Option<f64>,
    /// Driving speed on roads, 1 to 60 m/s [default: 10]
    #[arg(long, value_name = "M/S", value_parser = options::speed)]
    speed: Option<f64>,
    /// Travel to either side, 0.0001 to 10 m [default: that of the rig]
    #[arg(long, value_name = "M", value_parser = options::travel)]
    travel: Option<f64>,
    /// Length, 0.1 to 1000000 s [default: that of a recording, 6 s from the
    /// start of an event, else 60]
    #[arg(long, value_name = "S", value_parser = options::seconds)]
    seconds: Option<f64>,
    /// Start left out of the figures, s [default: as in `becalm ride`]
    #[arg(long, value_name = "S", value_parser = options::skip)]
    skip: Option<f64>,
    /// Seed of the floor, a whole number of 0 or more [default: 1]
    #[arg(long, value_name = "N")]
    seed: Option<u64>,
    /// Rig file in TOML [default: the rig that ships with becalm]
    #[arg(long, value_name = "FILE")]
    rig: Option<PathBuf>,
    /// Scenario file in TOML; the options given here go before its fields
    #[arg(long, value_name = "FILE")]
    scenario: Option<PathBuf>,
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
    floor: &'a str,
    level: f64,
    seed: u64,
    ridden_s: f64,
    skipped_s: f64,
    seat_value: Option<f64>,
    weighted_rms_mps2: f64,
    peak_mps2: f64,
    floor_weighted_rms_mps2: f64,
    floor_peak_mps2: f64,
    travel_limit_m: f64,
    travel_peak_m: f64,
    solver_status: &'a str,
    windows: usize,
    seconds: f64,
}

/// Runs the command.
pub(super) fn run(args: &BoundArgs) -> Result<Outcome, Failure> {
    let given = Scenario {
        floor: args.floor.clone(),
        level: args.level,
        speed_mps: args.speed,
        seed: args.seed,
        seconds: args.seconds,
        skip_s: args.skip,
        rig: args.rig.clone(),
        ..Scenario::default()
    };
    let (ride, rig) = ride::settle(given, args.scenario.as_deref())?;
    let travel_m = args.travel.unwrap_or(rig.seat.travel_m);
    let rate_hz = 1.0 / rig.timing.step_s;
    let spec = BoundSpec::new(
        ride.floor.clone(),
        rate_hz,
        ride.seconds,
        ride.skip_s,
        travel_m,
    );
    let bar = terminal::progress(
        !args.quiet && !args.json,
        ride.seconds.ceil() as u64,
        "s solved",
    );
    let clock = Instant::now();
    let bound = bound::run(&spec, terminal::interrupted, |done| {
        bar.set_position(done as u64);
    });
    bar.finish_and_clear();
    let bound = bound?;
    let seconds = clock.elapsed().as_secs_f64();
    if args.json {
        terminal::print_json(&Record {
            made_by: MADE_BY,
            floor: &ride.floor.name,
            level: ride.floor.level,
            seed: ride.floor.seed,
            ridden_s: ride.seconds,
            skipped_s: ride.skip_s,
            seat_value: bound.seat_value,
            weighted_rms_mps2: bound.weighted_rms_mps2,
            peak_mps2: bound.peak_mps2,
            floor_weighted_rms_mps2: bound.floor_weighted_rms_mps2,
            floor_peak_mps2: bound.floor_peak_mps2,
            travel_limit_m: bound.travel_limit_m,
            travel_peak_m: bound.travel_peak_m,
            solver_status: bound.status.name(),
            windows: bound.windows,
            seconds,
        })?;
    } else if !args.quiet {
        terminal::print(&table(&ride, &bound, seconds))?;
    }
    Ok(Outcome::Holds)
}

fn table(ride: &RideSpec, bound: &Bound, seconds: f64) -> String {
    let floor = &ride.floor;
    let mut text = wrap(
        &format!(
            "Bound on {}, level {}, seed {}: {:.1} s, the first {:.1} s left out",
            floor.name, floor.level, floor.seed, ride.seconds, ride.skip_s
        ),
        "",
        80,
    );
    text += &format!(
        "Travel {} mm to either side; the whole floor is known in advance\n\n",
        number(1000.0 * bound.travel_limit_m)
    );
    let mut row = |label: &str, floor: String, bound: String| {
        text += format!("{label:<35}{floor:>15}{bound:>15}").trim_end();
        text.push('\n');
    };
    row("", "floor".to_owned(), "bound".to_owned());
    row(
        "  weighted r.m.s. (Wk), m/s2",
        number(bound.floor_weighted_rms_mps2),
        number(bound.weighted_rms_mps2),
    );
    row(
        "  SEAT value, r.m.s.",
        String::new(),
        bound.seat_value.map_or_else(|| "-".to_owned(), number),
    );
    row(
        "  peak, unweighted, m/s2",
        number(bound.floor_peak_mps2),
        number(bound.peak_mps2),
    );
    let found = match bound.status {
        SolverStatus::Still => {
            "the floor moves no further than the travel: the seat can stand still in space."
        }
        SolverStatus::Solved => "solved to full accuracy.",
        SolverStatus::AlmostSolved => "solved to reduced accuracy, about four figures.",
    };
    text.push('\n');
    text += &labelled("Search: ", found, 80);
    text += &labelled(
        "Note: ",
        "an ideal seat without limit of force, delay or noise. R.m.s. and peak are the least of two \
         different motions. No real seat reaches either.",
        80,
    );
    text += &format!("The search took {} s.\n", number(seconds));
    text
}
