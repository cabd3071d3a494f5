//! `becalm sweep`: transmissibility by stepped sine.

use super::record::ACCEPTED_CONTACT_MPS;
use super::words::number;
use super::{Failure, Outcome, options, sweep_plot, terminal};
use clap::Args;
use host_sim::body::BodyKind;
use host_sim::output::{MADE_BY, ResultFolder};
use host_sim::ride::Arithmetic;
use host_sim::sweep::{self, SweepPoint, SweepSpec};
use serde::Serialize;
use std::path::PathBuf;

const AFTER: &str = "\
At each frequency both seats ride on a steady sine. After 15 s or 6 periods,
whichever is longer, the sine is fitted over at least 10 s and 8 whole periods.
`law` and `passive` are the amplitude of the seat over that of the floor at the
drive frequency; `all` is the r.m.s. ratio with everything else in it, such as
harmonics of friction and noise. At low frequency the floor's amplitude is held
at --amplitude, so there is less than --rms.

With --out: sweep.csv, sweep.svg (both axes logarithmic) and sweep.json.

Exit code 1: the law met a stop harder than 0.10 m/s, or latched a fault.

Examples:
  becalm sweep
  becalm sweep --from 1 --to 32 --points 6 --occupant 110 --out octaves";

/// Stepped sine: transmissibility of the law and of the passive seat
#[derive(Args, Debug)]
#[command(after_help = AFTER, allow_negative_numbers = true)]
pub(super) struct SweepArgs {
    /// First frequency, 0.05 to 125 Hz
    #[arg(long, value_name = "HZ", default_value = "0.1", value_parser = options::frequency)]
    from: f64,
    /// Last frequency, 0.05 to 125 Hz
    #[arg(long, value_name = "HZ", default_value = "32", value_parser = options::frequency)]
    to: f64,
    /// Number of frequencies, 2 to 500, at equal ratios [default: 26, about
    /// three an octave]
    #[arg(
        long,
        value_name = "N",
        default_value = "26",
        hide_default_value = true,
        value_parser = clap::value_parser!(u16).range(2..=500)
    )]
    points: u16,
    /// Floor acceleration, r.m.s., 0.01 to 40 m/s2
    #[arg(long, value_name = "M/S2", default_value = "1", value_parser = options::floor_rms)]
    rms: f64,
    /// Greatest amplitude of the floor, 0.0001 to 1 m
    #[arg(long, value_name = "M", default_value = "0.03", value_parser = options::amplitude)]
    amplitude: f64,
    /// Mass of the occupant, 20 to 200 kg, or 0 for nobody
    #[arg(long, value_name = "KG", default_value = "80", value_parser = options::occupant)]
    occupant: f64,
    /// Seated body: rigid, one-mass or two-mass
    #[arg(long, value_name = "NAME", default_value = "two-mass", value_parser = options::body)]
    body: BodyKind,
    /// Seed of sensors and machine, a whole number of 0 or more
    #[arg(long, value_name = "N", default_value = "1")]
    seed: u64,
    /// Rig file in TOML [default: the rig that ships with becalm]
    #[arg(long, value_name = "FILE")]
    rig: Option<PathBuf>,
    /// Arithmetic of the law: f32, f64 or fixed
    #[arg(long, value_name = "NAME", default_value = "f32", value_parser = options::arithmetic)]
    arithmetic: Arithmetic,
    /// Print one JSON object and nothing else
    #[arg(long)]
    json: bool,
    /// Folder for sweep.csv, sweep.svg and sweep.json
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// No progress bar and no table
    #[arg(long, short)]
    quiet: bool,
}

#[derive(Serialize)]
struct Record<'a> {
    made_by: &'a str,
    rms_mps2: f64,
    amplitude_max_m: f64,
    occupant_kg: f64,
    body: &'a str,
    arithmetic: &'a str,
    seed: u64,
    rig: &'a str,
    points: &'a [SweepPoint],
}

/// Files of a sweep's folder, the record last.
const FILES: [&str; 3] = ["sweep.csv", "sweep.svg", "sweep.json"];

/// Runs the command.
pub(super) fn run(args: &SweepArgs) -> Result<Outcome, Failure> {
    if args.from >= args.to {
        return Err(format!(
            "--from {} --to {}: expected a first frequency below the last",
            args.from, args.to
        )
        .into());
    }
    let rig = options::rig(args.rig.as_deref())?;
    let spec = SweepSpec {
        frequencies_hz: sweep::spaced(args.from, args.to, usize::from(args.points)),
        rms_mps2: args.rms,
        amplitude_max_m: args.amplitude,
        occupant_kg: args.occupant,
        body: args.body,
        arithmetic: args.arithmetic,
        seed: args.seed,
    };
    let folder = args
        .out
        .as_ref()
        .map(|path| ResultFolder::claim(path, &FILES, None))
        .transpose()?;
    let bar = terminal::progress(!args.quiet && !args.json, args.points.into(), "frequencies");
    let points = sweep::run(
        &rig,
        &spec,
        || !terminal::interrupted(),
        |done| bar.set_position(done as u64),
    );
    bar.finish_and_clear();
    let points = points?;
    let record = Record {
        made_by: MADE_BY,
        rms_mps2: spec.rms_mps2,
        amplitude_max_m: spec.amplitude_max_m,
        occupant_kg: spec.occupant_kg,
        body: spec.body.name(),
        arithmetic: spec.arithmetic.name(),
        seed: spec.seed,
        rig: &rig.name,
        points: &points,
    };
    let mut written = String::new();
    if let Some(folder) = folder {
        folder.write("sweep.csv", &csv(&points))?;
        folder.write("sweep.svg", &sweep_plot::svg(&points)?)?;
        folder.write_json("sweep.json", &record)?;
        written = folder.written();
        folder.publish()?;
    }
    if args.json {
        terminal::print_json(&record)?;
    } else if !args.quiet {
        terminal::print(&(table(&record) + &written))?;
    }
    Ok(outcome(&points))
}

fn outcome(points: &[SweepPoint]) -> Outcome {
    let broken: Vec<String> = points
        .iter()
        .filter_map(|p| {
            if p.latched_fault {
                Some(format!("a latched fault at {} Hz", number(p.frequency_hz)))
            } else if p.contact_speed_max_mps > ACCEPTED_CONTACT_MPS {
                Some(format!(
                    "a stop met at {:.2} m/s at {} Hz",
                    p.contact_speed_max_mps,
                    number(p.frequency_hz)
                ))
            } else {
                None
            }
        })
        .collect();
    if broken.is_empty() {
        Outcome::Holds
    } else {
        Outcome::Broken(broken.join(", "))
    }
}

fn csv(points: &[SweepPoint]) -> String {
    let mut text = String::from(
        "frequency_hz,floor_rms_mps2,floor_amplitude_m,transmissibility,phase_deg,total_rms_ratio,\
         passive_transmissibility,passive_phase_deg,passive_total_rms_ratio,travel_peak_m,\
         stop_contacts,contact_speed_max_mps\n",
    );
    for p in points {
        text += &format!(
            "{:.6},{:.6},{:.8},{:.6},{:.3},{:.6},{:.6},{:.3},{:.6},{:.6},{},{:.4}\n",
            p.frequency_hz,
            p.floor_rms_mps2,
            p.floor_amplitude_m,
            p.seat.transmissibility,
            p.seat.phase_deg,
            p.seat.total_rms_ratio,
            p.passive.transmissibility,
            p.passive.phase_deg,
            p.passive.total_rms_ratio,
            p.travel_peak_m,
            p.stop_contacts,
            p.contact_speed_max_mps
        );
    }
    text
}

fn table(record: &Record<'_>) -> String {
    let mut text = format!(
        "Stepped sine, {} m/s2 r.m.s. or {} mm; {} kg, {} body, law in {}, seed {}\n\n",
        record.rms_mps2,
        number(1000.0 * record.amplitude_max_m),
        record.occupant_kg,
        record.body,
        record.arithmetic,
        record.seed
    );
    text += "           floor   floor      seat over floor          travel  stops\n";
    text += "    Hz      m/s2      mm      law  law, all  passive      mm    met\n";
    for p in record.points {
        text += &format!(
            "{:>6}{:>10}{:>8}{:>9}{:>10}{:>9}{:>8}{:>7}\n",
            number(p.frequency_hz),
            number(p.floor_rms_mps2),
            number(1000.0 * p.floor_amplitude_m),
            number(p.seat.transmissibility),
            number(p.seat.total_rms_ratio),
            number(p.passive.transmissibility),
            number(1000.0 * p.travel_peak_m),
            p.stop_contacts
        );
    }
    let worst = record
        .points
        .iter()
        .max_by(|a, b| a.seat.transmissibility.total_cmp(&b.seat.transmissibility));
    if let Some(worst) = worst {
        text += &format!(
            "\nHighest under the law: {} at {} Hz.\n",
            number(worst.seat.transmissibility),
            number(worst.frequency_hz)
        );
    }
    text
}
