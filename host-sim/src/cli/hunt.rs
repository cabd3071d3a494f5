//! `becalm hunt`: the search for the worst floor and the worst machine.

use super::words::number;
use super::{Failure, Outcome, options, terminal};
use clap::Args;
use host_sim::hunt::floor::Bounds;
use host_sim::hunt::search::{self, Find, Plan};
use host_sim::hunt::{Aim, Broken, Figures, Limits, keep};
use host_sim::rig::Rig;
use host_sim::{design, ride};
use serde::Serialize;
use std::path::{Path, PathBuf};

const AFTER: &str = "\
An evolution strategy drives up one figure after the other over floors of
bounded acceleration and jerk, on machines within the rig's own errors: occupant,
body, force constant, preload, sensor errors, winding temperature. The floor
ends at rest and where it began. The bounds below are those of the certificate;
under them nothing worse than it claims may be found.

--keep writes what was found as NAME-AIM.csv and NAME-AIM.toml, to be ridden with
`becalm ride --scenario`, and rides it once more to check that it is the same.
The same seed gives the same finds, whatever the number of threads.

Exit code 1: a limit is broken.

Examples:
  becalm hunt
  becalm hunt --without-arrest --evaluations 500
  becalm hunt --seed 7 --evaluations 20000 --keep seven --out found";

/// Search for the worst floor: try to break every limit
#[derive(Args, Debug)]
#[command(after_help = AFTER)]
pub(super) struct HuntArgs {
    /// Largest acceleration of the floor, 0.1 to 60 m/s2
    #[arg(long, value_name = "M/S2", default_value = "15", value_parser = options::hunt_accel)]
    floor_accel: f64,
    /// Largest jerk of the floor, 10 to 100000 m/s3
    #[arg(long, value_name = "M/S3", default_value = "750", value_parser = options::hunt_jerk)]
    floor_jerk: f64,
    /// Length of the searched part, 0.5 to 10 s
    #[arg(long, value_name = "S", default_value = "2", value_parser = options::hunt_seconds)]
    searched: f64,
    /// Lightest occupant, 20 to 200 kg
    #[arg(long, value_name = "KG", default_value = "40", value_parser = options::hunt_occupant)]
    lightest: f64,
    /// Heaviest occupant, 20 to 200 kg
    #[arg(long, value_name = "KG", default_value = "130", value_parser = options::hunt_occupant)]
    heaviest: f64,
    /// Limit: speed at a stop, m/s
    #[arg(long, value_name = "M/S", default_value = "0.10", value_parser = options::hunt_limit)]
    touch: f64,
    /// Limit: seat acceleration, m/s2 [default: only looked at]
    #[arg(long, value_name = "M/S2", value_parser = options::hunt_limit)]
    seat_accel: Option<f64>,
    /// Limit: motor force, N [default: what the rated current gives]
    #[arg(long, value_name = "N", value_parser = options::hunt_limit)]
    force: Option<f64>,
    /// Limit: error of the estimated travel, m [default: only looked at]
    #[arg(long, value_name = "M", value_parser = options::hunt_limit)]
    travel_error: Option<f64>,
    /// Limit: error of the estimated travel rate, m/s [default: only looked at]
    #[arg(long, value_name = "M/S", value_parser = options::hunt_limit)]
    rate_error: Option<f64>,
    /// Give the law an arrest that never acts
    #[arg(long)]
    without_arrest: bool,
    /// Rides to spend, about, 100 to 10000000
    #[arg(long, value_name = "N", default_value = "8000", value_parser = clap::value_parser!(u32).range(100..=10_000_000))]
    evaluations: u32,
    /// Seed of the search, a whole number of 0 or more
    #[arg(long, value_name = "N", default_value = "1")]
    seed: u64,
    /// Threads [default: as many as there are processors]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=256))]
    threads: Option<u16>,
    /// Rig file in TOML [default: the rig that ships with becalm]
    #[arg(long, value_name = "FILE")]
    rig: Option<PathBuf>,
    /// Keep what was found as files of this name
    #[arg(long, value_name = "NAME", value_parser = options::file_stem)]
    keep: Option<String>,
    /// Folder for the files of --keep [default: the current one]
    #[arg(long, value_name = "DIR", requires = "keep")]
    out: Option<PathBuf>,
    /// Print one JSON object and nothing else
    #[arg(long)]
    json: bool,
    /// No progress bar and no table
    #[arg(long, short)]
    quiet: bool,
}

#[derive(Serialize)]
struct Record {
    worst: Worst,
    evaluations: usize,
    broken: Vec<Broken>,
    limits: Limits,
    seed: u64,
    arrest: bool,
    finds: Vec<FindRecord>,
}

#[derive(Serialize)]
struct Worst {
    contact_speed_mps: f64,
    seat_peak_mps2: f64,
    floor_file: Option<String>,
}

#[derive(Serialize)]
struct FindRecord {
    aim: Aim,
    machine: host_sim::hunt::machine::Machine,
    figures: Figures,
    floor_file: Option<String>,
    scenario_file: Option<String>,
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
    if args.lightest > args.heaviest {
        return Err(format!(
            "--lightest {} --heaviest {}: expected the lightest first",
            args.lightest, args.heaviest
        )
        .into());
    }
    let mut rig = options::rig(args.rig.as_deref())?;
    if args.without_arrest {
        disarm(&mut rig);
    }
    let parameters = design::parameters(&rig)?;
    let force = rig.actuator.current_max_a
        * rig.actuator.force_constant_npa
        * (1.0 + rig.actuator.force_constant_error);
    let limits = Limits {
        contact_speed_mps: args.touch,
        seat_peak_mps2: args.seat_accel,
        // The current loop overshoots by nothing; a hundredth for the step that is sampled.
        force_peak_n: Some(args.force.unwrap_or(1.01 * force)),
        travel_error_m: args.travel_error,
        travel_rate_error_mps: args.rate_error,
        floor_accel_error_mps2: None,
    };
    let plan = Plan {
        bounds: Bounds {
            accel_mps2: args.floor_accel,
            jerk_mps3: args.floor_jerk,
            searched_s: args.searched,
            start_s: 10.0,
        },
        occupants_kg: (args.lightest, args.heaviest),
        coil_max_c: f64::from(rig.firmware.limit.derate_from_c),
        aims: Aim::ALL.to_vec(),
        evaluations: args.evaluations as usize,
        seed: args.seed,
        threads: args.threads.map_or_else(
            || std::thread::available_parallelism().map_or(1, Into::into),
            usize::from,
        ),
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
    let all = Figures {
        contact_speed_mps: most(|f| f.contact_speed_mps),
        travel_peak_m: most(|f| f.travel_peak_m),
        seat_peak_mps2: most(|f| f.seat_peak_mps2),
        force_peak_n: most(|f| f.force_peak_n),
        travel_error_m: most(|f| f.travel_error_m),
        travel_rate_error_mps: most(|f| f.travel_rate_error_mps),
        floor_accel_error_mps2: most(|f| f.floor_accel_error_mps2),
        latched: finds.iter().any(|f| f.figures.latched),
    };
    let worst = finds.iter().max_by(|a, b| {
        a.figures
            .contact_speed_mps
            .total_cmp(&b.figures.contact_speed_mps)
    });
    let record = Record {
        worst: Worst {
            contact_speed_mps: all.contact_speed_mps,
            seat_peak_mps2: all.seat_peak_mps2,
            floor_file: worst.and_then(|find| find.floor_file.clone()),
        },
        evaluations: hunt.evaluations,
        broken: limits.broken(&all),
        limits,
        seed: args.seed,
        arrest: !args.without_arrest,
        finds,
    };
    if args.json {
        terminal::print_json(&record)?;
    } else if !args.quiet {
        terminal::print(&table(args, &record))?;
    }
    let said: Vec<String> = record
        .broken
        .iter()
        .map(|b| {
            format!(
                "{} {}, allowed {}",
                b.limit,
                number(b.found),
                number(b.allowed)
            )
        })
        .collect();
    Ok(if said.is_empty() {
        Outcome::Holds
    } else {
        Outcome::Broken(said.join("; "))
    })
}

/// Writes a find and rides it from its files.
fn write(args: &HuntArgs, rig: &Rig, name: &str, find: &Find) -> Result<(String, String), Failure> {
    let folder = args.out.as_deref().unwrap_or(Path::new("."));
    let put = |file: &str, text: &str| -> Result<PathBuf, Failure> {
        let path = folder.join(file);
        std::fs::create_dir_all(folder)
            .and_then(|()| std::fs::write(&path, text))
            .map_err(|error| format!("{} cannot be written: {error}", path.display()))?;
        Ok(path)
    };
    let aim = match find.aim {
        Aim::Contact => "contact",
        Aim::Seat => "seat",
        Aim::Force => "force",
        Aim::Estimate => "estimate",
    };
    let stem = format!("{name}-{aim}");
    let remark = format!(
        "Found by `becalm hunt --seed {}`: contact at {:.4} m/s, travel {:.1} mm, seat {:.2} m/s2.",
        args.seed,
        find.figures.contact_speed_mps,
        1000.0 * find.figures.travel_peak_m,
        find.figures.seat_peak_mps2
    );
    let rig_file = if args.without_arrest || args.rig.is_some() {
        let file = format!("{name}-rig.toml");
        put(&file, &toml::to_string(rig)?)?;
        Some(file)
    } else {
        None
    };
    let csv = format!("{stem}.csv");
    let floor = put(&csv, &find.knots.csv(&remark))?;
    let text = keep::scenario(find, &csv, rig_file.as_deref(), &remark);
    let scenario = put(&format!("{stem}.toml"), &text)?;
    let again = ride::run(rig, &keep::ride(find, &floor), |_| !terminal::interrupted())?;
    let (found, ridden) = (
        find.figures.contact_speed_mps,
        again.travel.contact_speed_max_mps,
    );
    if found != ridden {
        return Err(format!(
            "{}: the ride of the kept floor meets the stop at {ridden} m/s, the search at {found} m/s",
            floor.display()
        )
        .into());
    }
    Ok((floor.display().to_string(), scenario.display().to_string()))
}

fn table(args: &HuntArgs, record: &Record) -> String {
    let mut text = format!(
        "Worst floors within {} m/s2 and {} m/s3, occupants of {} to {} kg{}\n\n",
        number(args.floor_accel),
        number(args.floor_jerk),
        args.lightest,
        args.heaviest,
        if args.without_arrest {
            ", without arrest"
        } else {
            ""
        }
    );
    text += "aim        contact  travel    seat   force   travel error   rate error  occupant\n";
    text += "               m/s      mm    m/s2       N             mm         mm/s        kg\n";
    for find in &record.finds {
        let f = &find.figures;
        let aim = format!("{:?}", find.aim).to_lowercase();
        text += &format!(
            "{aim:<10}{:>8.3}{:>8.1}{:>8.2}{:>8.0}{:>15.2}{:>13.1}{:>10}\n",
            f.contact_speed_mps,
            1000.0 * f.travel_peak_m,
            f.seat_peak_mps2,
            f.force_peak_n,
            1000.0 * f.travel_error_m,
            1000.0 * f.travel_rate_error_mps,
            find.machine.occupant_kg
        );
    }
    text += &format!("\n{} rides, seed {}.\n", record.evaluations, record.seed);
    for find in &record.finds {
        if let Some(file) = &find.scenario_file {
            text += &format!("Written: {file}\n");
        }
    }
    text
}
