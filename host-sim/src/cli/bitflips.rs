//! `becalm bitflips`: every bit of the controller's memory, turned over in a ride.

use super::{Failure, Outcome, options, terminal};
use clap::Args;
use host_sim::bitflips::{self, Bench, Report, Setting};
use host_sim::parallel;
use host_sim::rig::Rig;
use std::path::PathBuf;

/// Turn over every bit of the law's memory, one at a time, and see what becomes of it
#[derive(Args, Debug)]
#[command(after_help = "\
Hauler floor at level 2.5, 80 kg, law in single precision. At every moment each
bit of state and constants is turned over once, and the ride goes on until the
law's memory and the seat's motion are the healthy ones again (healed), or for
three seconds: it came to the safe state; nothing was noticed and nothing came
of it (harmless: the seat rides within 10 % r.m.s. of the healthy one); or it
is broken: a stop was met faster than 0.25 m/s and faster than the passive seat
meets it there, or the seat's peak was above 1.2 times the larger of healthy and
passive, or it neither rode as the healthy one nor came to the safe state.

Exit code 1: something is broken. Each row of --json has the command that rides
its worst strike.

Examples:
  becalm bitflips                      all bits, 20 moments
  becalm bitflips --field config.arrest --moments 5
  becalm bitflips --every 17           a seventeenth of the bits")]
pub(super) struct BitflipsArgs {
    /// Rig file [default: the default rig]
    #[arg(long, value_name = "FILE")]
    rig: Option<PathBuf>,
    /// Moments at which is struck
    #[arg(long, value_name = "N", default_value_t = 20, value_parser = clap::value_parser!(u64).range(1..=1000))]
    moments: u64,
    /// Only words whose path begins so, as limit or config.arrest
    #[arg(
        long,
        value_name = "PATH",
        default_value = "",
        hide_default_value = true
    )]
    field: String,
    /// Only every so manieth bit
    #[arg(long, value_name = "N", default_value_t = 1, value_parser = clap::value_parser!(u64).range(1..=31))]
    every: u64,
    /// Rows of the table, the worst first
    #[arg(long, value_name = "N", default_value_t = 30)]
    rows: usize,
    /// Print one JSON object and nothing else
    #[arg(long)]
    json: bool,
    /// No progress bar
    #[arg(short, long)]
    quiet: bool,
}

pub(super) fn run(args: &BitflipsArgs) -> Result<Outcome, Failure> {
    let rig: Rig = options::rig(args.rig.as_deref())?;
    let bench = Bench::new(&rig, Setting::rough(args.moments as usize))?;
    let words = bench.words(&args.field).len() * bench.moments();
    let bar = terminal::progress(!args.quiet && !args.json, words as u64, "words struck");
    let report = bitflips::run(
        &bench,
        &args.field,
        args.every as usize,
        parallel::processors(),
        terminal::interrupted,
        |done| bar.set_position(done as u64),
    );
    bar.finish_and_clear();
    let report = report?;
    if args.json {
        terminal::print_json(&report)?;
    } else {
        terminal::print(&text(&report, args.rows))?;
    }
    Ok(match report.broken {
        0 => Outcome::Holds,
        n => Outcome::Broken(format!("{n} of {} flips", report.flips)),
    })
}

fn text(report: &Report, rows: usize) -> String {
    let share = |n: u64| 100.0 * n as f64 / report.flips.max(1) as f64;
    let mut text = format!(
        "{} bits of memory, {} moments: {} flips\n\n",
        report.memory_bits, report.moments, report.flips
    );
    for (label, n) in [
        ("healed within a second", report.healed),
        ("safe state", report.safe_state),
        ("undetected, harmless", report.undetected_harmless),
        ("broken", report.broken),
    ] {
        text += &format!("  {label:<26}{n:>10}{:>9.3} %\n", share(n));
    }
    text += &format!(
        "\n{:<38}{:>8}{:>8}{:>8}{:>8}{:>8}\n",
        "field, the worst first", "healed", "safe", "harmless", "broken", "limit"
    );
    for field in report.fields.iter().take(rows) {
        let used = field.worst.as_ref().map_or(0.0, |w| w.share_of_limit);
        text += &format!(
            "{:<38}{:>8}{:>8}{:>8}{:>8}{used:>8.2}\n",
            field.path, field.healed, field.safe_state, field.undetected_harmless, field.broken
        );
        if let Some(worst) = field.worst.as_ref().filter(|_| field.broken > 0) {
            text += &format!(
                "  {}, bit {}: {} ({:.2} of the healthy r.m.s.)\n  {}\n",
                worst.path, worst.bit, worst.ending, worst.ride_ratio, worst.command
            );
        }
    }
    if report.fields.len() > rows {
        text += &format!("and {} more fields\n", report.fields.len() - rows);
    }
    text
}
