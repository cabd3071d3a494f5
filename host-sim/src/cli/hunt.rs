//! `becalm hunt`: the search for the worst floor and the worst machine.

use super::hunt_files::write;
use super::hunt_table::table;
use super::words::number;
use super::{Failure, Outcome, options, terminal};
use clap::Args;
use host_sim::body::BodyKind;
use host_sim::hunt::floor::Bounds;
use host_sim::hunt::machine::Machine;
use host_sim::hunt::search::{self, Plan};
use host_sim::hunt::{Aim, Broken, Figures, Limits};
use host_sim::proof::claim::Claim;
use host_sim::rig::Rig;
use host_sim::{design, parallel, ride};
use serde::Serialize;
use std::path::PathBuf;

const AFTER: &str = "\
An evolution strategy drives up one figure after the other over floors of
bounded acceleration and jerk, on machines within the rig's own errors:
occupant, body, force constant, preload, sensor errors, winding temperature.
The figures are contact speed, seat acceleration, force, and everything that
the proof of the travel takes for granted: how far the seat goes astray, how
well travel and rate are foreseen, how near it comes to the edge of the
proven set. Floor, occupants and touch speed are those of the proof unless
given. The floor ends at rest and where it began.

A find that passes an assumption is outside the certificate: what is proved
does not cover that ride. Rigid loads (--body rigid) are such: the proof
counts on a seated body, and on these floors a rigid load goes astray farther
than assumed.

--keep writes what was found as NAME-AIM.csv and NAME-AIM.toml, to be ridden
with `becalm ride --scenario`, and rides it once more to check that it is the
same. The same seed gives the same finds, whatever the number of threads.

Exit code 1: within the bounds of the proof a stop was met faster than
--touch, an assumption was passed or a fault latched; or a limit that was
given is broken.

Examples:
  becalm hunt
  becalm hunt --without-arrest --evaluations 500
  becalm hunt --body rigid --aim contact
  becalm hunt --seed 7 --evaluations 40000 --keep seven --out found";

/// Search for the worst floor: try to break every limit
#[derive(Args, Debug)]
#[command(after_help = AFTER)]
pub(super) struct HuntArgs {
    /// Largest acceleration of the floor, 0.1 to 60 m/s2 [default: the rig's proof]
    #[arg(long, value_name = "M/S2", value_parser = options::hunt_accel)]
    floor_accel: Option<f64>,
    /// Largest jerk of the floor, 10 to 100000 m/s3 [default: the rig's proof]
    #[arg(long, value_name = "M/S3", value_parser = options::hunt_jerk)]
    floor_jerk: Option<f64>,
    /// Length of the searched part, 0.5 to 10 s
    #[arg(long, value_name = "S", default_value = "2", value_parser = options::hunt_seconds)]
    searched: f64,
    /// Lightest occupant, 20 to 200 kg [default: the rig's proof]
    #[arg(long, value_name = "KG", value_parser = options::hunt_occupant)]
    lightest: Option<f64>,
    /// Heaviest occupant, 20 to 200 kg [default: the rig's proof]
    #[arg(long, value_name = "KG", value_parser = options::hunt_occupant)]
    heaviest: Option<f64>,
    /// Body: rigid, one-mass or two-mass; may be given more than once [default: one-mass and two-mass]
    #[arg(long, value_name = "BODY", value_parser = options::body)]
    body: Vec<BodyKind>,
    /// What to drive up; may be given more than once [default: all]
    #[arg(long, value_name = "AIM", value_parser = options::aim)]
    aim: Vec<Aim>,
    /// Limit: speed at a stop, m/s [default: the rig's proof]
    #[arg(long, value_name = "M/S", value_parser = options::hunt_limit)]
    touch: Option<f64>,
    /// Limit: seat acceleration, m/s2 [default: only looked at]
    #[arg(long, value_name = "M/S2", value_parser = options::hunt_limit)]
    seat_accel: Option<f64>,
    /// Limit: motor force, N [default: what the rated current gives]
    #[arg(long, value_name = "N", value_parser = options::hunt_limit)]
    force: Option<f64>,
    /// Give the law an arrest that never acts
    #[arg(long)]
    pub(super) without_arrest: bool,
    /// Rides to spend, about, 100 to 10000000
    #[arg(long, value_name = "N", default_value = "9000", value_parser = clap::value_parser!(u32).range(100..=10_000_000))]
    evaluations: u32,
    /// Seed of the search, a whole number of 0 or more
    #[arg(long, value_name = "N", default_value = "1")]
    pub(super) seed: u64,
    /// Threads [default: as many as there are processors]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=256))]
    threads: Option<u16>,
    /// Rig file in TOML [default: the rig that ships with becalm]
    #[arg(long, value_name = "FILE")]
    pub(super) rig: Option<PathBuf>,
    /// Keep what was found as files of this name
    #[arg(long, value_name = "NAME", value_parser = options::file_stem)]
    keep: Option<String>,
    /// Folder for the files of --keep [default: the current one]
    #[arg(long, value_name = "DIR", requires = "keep")]
    pub(super) out: Option<PathBuf>,
    /// Print one JSON object and nothing else
    #[arg(long)]
    json: bool,
    /// No progress bar and no table
    #[arg(long, short)]
    quiet: bool,
}

/// All that a hunt says.
#[derive(Serialize)]
pub(super) struct Record {
    worst: Worst,
    pub(super) evaluations: usize,
    pub(super) broken: Vec<Broken>,
    pub(super) limits: Limits,
    pub(super) claim: Claim,
    pub(super) bounds: FloorBounds,
    /// Floor and occupants were within the bounds of the claim.
    pub(super) within_claim: bool,
    pub(super) seed: u64,
    pub(super) arrest: bool,
    pub(super) finds: Vec<FindRecord>,
}

#[derive(Serialize)]
struct Worst {
    contact_speed_mps: f64,
    seat_peak_mps2: f64,
    floor_file: Option<String>,
}

/// What was searched.
#[derive(Serialize)]
pub(super) struct FloorBounds {
    pub(super) floor_accel_mps2: f64,
    pub(super) floor_jerk_mps3: f64,
    pub(super) occupant_min_kg: f64,
    pub(super) occupant_max_kg: f64,
}

#[derive(Serialize)]
pub(super) struct FindRecord {
    pub(super) aim: Aim,
    pub(super) machine: Machine,
    pub(super) figures: Figures,
    floor_file: Option<String>,
    pub(super) scenario_file: Option<String>,
}

/// An arrest that never acts, from the parameters that the firmware allows: at rest a metre beyond the stops it
/// permits 10 m/s there, and what it would then ask for is beyond its own largest clamp.
fn disarm(rig: &mut Rig) {
    let arrest = &mut rig.firmware.arrest;
    arrest.rest_m = 1.0;
    arrest.braking_mps2 = 50.0;
    arrest.accel_max_mps2 = 60.0;
    arrest.floor_accel_max_mps2 = 100.0;
}

/// Runs the command.
pub(super) fn run(args: &HuntArgs) -> Result<Outcome, Failure> {
    let mut rig = options::rig(args.rig.as_deref())?;
    // What is claimed is claimed for the rig as it was given.
    let claim = Claim::of(&rig);
    let bounds = FloorBounds {
        floor_accel_mps2: args.floor_accel.unwrap_or(claim.floor_accel_mps2),
        floor_jerk_mps3: args.floor_jerk.unwrap_or(claim.floor_jerk_mps3),
        occupant_min_kg: args.lightest.unwrap_or(claim.occupant_min_kg),
        occupant_max_kg: args.heaviest.unwrap_or(claim.occupant_max_kg),
    };
    let (lightest, heaviest) = (bounds.occupant_min_kg, bounds.occupant_max_kg);
    if lightest > heaviest {
        return Err(format!(
            "lightest occupant {lightest} kg, heaviest {heaviest} kg: expected the lightest first; \
             give --lightest and --heaviest"
        )
        .into());
    }
    if args.without_arrest {
        disarm(&mut rig);
    }
    let parameters = design::parameters(&rig)?;
    let force = rig.actuator.current_max_a
        * rig.actuator.force_constant_npa
        * (1.0 + rig.actuator.force_constant_error);
    let limits = Limits {
        contact_speed_mps: args.touch.unwrap_or(claim.touch_mps),
        seat_peak_mps2: args.seat_accel,
        // The current loop overshoots by nothing; a hundredth for the step that is sampled.
        force_peak_n: Some(args.force.unwrap_or(1.01 * force)),
    };
    let plan = Plan {
        bounds: Bounds {
            accel_mps2: bounds.floor_accel_mps2,
            jerk_mps3: bounds.floor_jerk_mps3,
            searched_s: args.searched,
            start_s: 10.0,
        },
        occupants_kg: (lightest, heaviest),
        bodies: given_or(&args.body, &BodyKind::SEATED),
        coil_max_c: f64::from(rig.firmware.limit.derate_from_c),
        aims: given_or(&args.aim, &Aim::ALL),
        evaluations: args.evaluations as usize,
        seed: args.seed,
        threads: args.threads.map_or_else(parallel::processors, usize::from),
    };
    let bar = terminal::progress(!args.quiet && !args.json, args.evaluations.into(), "rides");
    let hunt = search::run(&rig, &parameters, &plan, |done| {
        bar.set_position(done as u64);
        !terminal::interrupted()
    });
    bar.finish_and_clear();
    if terminal::interrupted() {
        return Err(ride::RideError::Interrupted.into());
    }
    let hunt = hunt?;

    let mut finds = Vec::new();
    for find in &hunt.finds {
        let files = match &args.keep {
            Some(name) => Some(write(args, &rig, name, find)?),
            None => None,
        };
        let (floor_file, scenario_file) = files.unzip();
        finds.push(FindRecord {
            aim: find.aim,
            machine: find.machine,
            figures: find.figures,
            floor_file,
            scenario_file,
        });
    }
    let most =
        |pick: fn(&Figures) -> f64| finds.iter().map(|f| pick(&f.figures)).fold(0.0, f64::max);
    let worst = finds.iter().max_by(|a, b| {
        let score = |find: &FindRecord| Aim::Contact.score(&find.figures);
        score(a).total_cmp(&score(b))
    });
    let record = Record {
        worst: Worst {
            contact_speed_mps: most(|f| f.contact_speed_mps),
            seat_peak_mps2: most(|f| f.seat_peak_mps2),
            floor_file: worst.and_then(|find| find.floor_file.clone()),
        },
        evaluations: hunt.evaluations,
        broken: broken(&limits, &finds),
        limits,
        within_claim: bounds.floor_accel_mps2 <= claim.floor_accel_mps2
            && bounds.floor_jerk_mps3 <= claim.floor_jerk_mps3
            && bounds.occupant_min_kg >= claim.occupant_min_kg
            && bounds.occupant_max_kg <= claim.occupant_max_kg,
        bounds,
        claim,
        seed: args.seed,
        arrest: !args.without_arrest,
        finds,
    };
    if args.json {
        terminal::print_json(&record)?;
    } else if !args.quiet {
        terminal::print(&table(&record))?;
    }
    let counts = |b: &&Broken| {
        record.within_claim
            || match b.limit {
                "contact_speed_mps" => args.touch.is_some(),
                "seat_peak_mps2" | "force_peak_n" => true,
                _ => false,
            }
    };
    let said: Vec<String> = record.broken.iter().filter(counts).map(words).collect();
    Ok(if said.is_empty() {
        Outcome::Holds
    } else {
        Outcome::Broken(said.join("; "))
    })
}

fn given_or<T: Copy>(given: &[T], otherwise: &[T]) -> Vec<T> {
    if given.is_empty() { otherwise } else { given }.to_vec()
}

/// The limits that any find exceeds, each with the worst of them.
fn broken(limits: &Limits, finds: &[FindRecord]) -> Vec<Broken> {
    let mut all: Vec<Broken> = Vec::new();
    for b in finds.iter().flat_map(|find| limits.broken(&find.figures)) {
        match all.iter_mut().find(|known| known.limit == b.limit) {
            // Farther from what is allowed is worse, on either side of it.
            Some(known) if (b.found - b.allowed).abs() > (known.found - known.allowed).abs() => {
                *known = b;
            }
            Some(_) => {}
            None => all.push(b),
        }
    }
    all
}

/// One broken limit in words.
pub(super) fn words(b: &Broken) -> String {
    let (found, allowed) = (number(b.found), number(b.allowed));
    if b.outside_certificate {
        format!(
            "{} {found}, assumed {allowed}: outside the certificate",
            b.limit
        )
    } else {
        format!("{} {found}, allowed {allowed}", b.limit)
    }
}
