//! `becalm commission`: the commissioning test against the plant.

use super::words::{labelled, number, wrap};
use super::{Failure, Outcome, options, terminal};
use clap::Args;
use firmware::commission::{Finding, Item, Reason, Verdict};
use host_sim::commission::{self, MachineTruth, Run, Spec, Wrong};
use host_sim::output::MADE_BY;
use host_sim::rig::Rig;
use serde::Serialize;
use std::path::PathBuf;

const AFTER: &str = "\
The seat is empty and the machine stands with its engine idling. Small sines of
current move the seat. From current, travel and both accelerations the firmware
finds force constant, moving mass, friction and all signs, and compares them
with its parameter table. `true` is what the plant has; the firmware cannot see
it. The stiffness of the support spring is believed.

--wrong puts an error into the machine: drive-sign, current-sign, travel-sign,
seat-polarity, floor-polarity, or force-constant, mass, friction or travel-gain
with a factor, such as mass:1.5.

On a real machine: nobody on the seat, hands away from it, qualified staff,
the stop circuit within reach, local rules kept.

Exit code 1: an item disagrees or the test gave up; the law is not armed.

Examples:
  becalm commission
  becalm commission --wrong force-constant:0.7";

/// Commissioning test: does the machine agree with its parameter table?
#[derive(Args, Debug)]
#[command(after_help = AFTER, allow_negative_numbers = true)]
pub(super) struct CommissionArgs {
    /// Rig file in TOML [default: the rig that ships with becalm]
    #[arg(long, value_name = "FILE")]
    rig: Option<PathBuf>,
    /// Seed of sensors and machine, a whole number of 0 or more
    #[arg(long, value_name = "N", default_value = "1")]
    seed: u64,
    /// What is wrong with the machine, see below
    #[arg(long, value_name = "NAME", value_parser = wrong)]
    wrong: Option<Wrong>,
    /// Print one JSON object and nothing else
    #[arg(long)]
    json: bool,
}

fn wrong(text: &str) -> Result<Wrong, String> {
    Wrong::parse(text).ok_or_else(|| format!("expected {}", Wrong::NAMES))
}

#[derive(Serialize)]
struct Record<'a> {
    made_by: &'a str,
    rig: &'a str,
    seed: u64,
    armed: bool,
    gave_up: Option<&'static str>,
    seconds: f64,
    travel_peak_m: f64,
    force_peak_n: f64,
    stop_contacts: u32,
    truth: MachineTruth,
    finding: Option<&'a Finding>,
}

/// Runs the command.
pub(super) fn run(args: &CommissionArgs) -> Result<Outcome, Failure> {
    let rig = options::rig(args.rig.as_deref())?;
    let spec = Spec {
        wrong: args.wrong,
        ..Spec::of(args.seed)
    };
    let run = commission::run(&rig, &spec, |_, _| {})?;
    let gave_up = run.aborted().map(reason);
    let finding = run.commission.result();
    if args.json {
        terminal::print_json(&Record {
            made_by: MADE_BY,
            rig: &rig.name,
            seed: args.seed,
            armed: run.commission.may_arm(),
            gave_up,
            seconds: run.seconds,
            travel_peak_m: run.travel_peak_m,
            force_peak_n: run.force_peak_n,
            stop_contacts: run.contacts,
            truth: run.truth,
            finding,
        })?;
    } else {
        terminal::print(&text(&rig, &spec, &run))?;
    }
    if run.commission.may_arm() {
        return Ok(Outcome::Holds);
    }
    Ok(Outcome::Broken(match (gave_up, finding) {
        (Some(why), _) => format!("the commissioning test gave up: {why}"),
        (None, Some(finding)) => {
            let items: Vec<_> = finding.refused().map(|v| words(v.item).0).collect();
            format!("not armed: {}", items.join(", "))
        }
        (None, None) => "the commissioning test did not end".to_owned(),
    }))
}

/// What an item is called, and its unit.
const fn words(item: Item) -> (&'static str, &'static str) {
    match item {
        Item::DriveSign => ("sign of the drive", ""),
        Item::CurrentSign => ("sign of the current sensor", ""),
        Item::TravelSign => ("sign of travel", ""),
        Item::SeatPolarity => ("seat accel. polarity", ""),
        Item::FloorPolarity => ("floor accel. polarity", ""),
        Item::ForceConstant => ("force constant", "N/A"),
        Item::MovingMass => ("moving mass", "kg"),
        Item::Viscous => ("viscous friction", "N s/m"),
        Item::Coulomb => ("dry friction", "N"),
        Item::TravelGain => ("seat accel. over travel", ""),
        Item::CurrentGain => ("current over command", ""),
        Item::FloorBias => ("floor accel. bias", "m/s2"),
        Item::SeatBias => ("seat accel. bias", "m/s2"),
        Item::CurrentBias => ("current sensor bias", "A"),
        Item::Residual => ("residual", "share"),
    }
}

const fn reason(reason: Reason) -> &'static str {
    match reason {
        Reason::Disarmed => "the arming switch went off",
        Reason::StopCircuit => "the stop circuit is open",
        Reason::Occupied => "the occupant switch is closed",
        Reason::Fault(_) => "a reading is not believable or the board was late",
        Reason::NotLevel => "the seat rests too far from mid travel",
        Reason::Travel => "the seat moved farther than allowed",
        Reason::FloorMoves => "the floor moves",
        Reason::NoMotion => "the largest current moves the seat too little",
        Reason::Undetermined => "the readings do not determine the machine",
    }
}

/// What the plant has, where that is one number.
fn truth(item: Item, run: &Run, wrong: Option<Wrong>) -> Option<f64> {
    let sign = |is: Wrong| Some(if wrong == Some(is) { -1.0 } else { 1.0 });
    match item {
        Item::DriveSign => sign(Wrong::DriveSign),
        Item::CurrentSign => sign(Wrong::CurrentSign),
        Item::TravelSign => sign(Wrong::TravelSign),
        Item::SeatPolarity => sign(Wrong::SeatPolarity),
        Item::FloorPolarity => sign(Wrong::FloorPolarity),
        Item::ForceConstant => Some(run.truth.force_constant_npa),
        Item::MovingMass => Some(run.truth.moving_mass_kg),
        Item::Viscous => Some(run.truth.viscous_nspm),
        Item::Coulomb => Some(run.truth.coulomb_n),
        _ => None,
    }
}

fn text(rig: &Rig, spec: &Spec, run: &Run) -> String {
    let mut text = wrap(
        &format!(
            "Commissioning test, seed {}: seat empty, floor still, {:.1} s",
            spec.seed, run.seconds
        ),
        "",
        80,
    );
    text += &wrap(&format!("Rig: {}", rig.name), "", 80);
    if let Some(finding) = run.commission.result() {
        text += &format!(
            "\n{:<31}{:>9}{:>9}{:>9}{:>11}{:>11}\n",
            "", "found", "told", "true", "tolerance", "verdict"
        );
        for verdict in &finding.verdicts {
            text += &row(verdict, truth(verdict.item, run, spec.wrong));
        }
    }
    text += &format!(
        "\nLargest travel {} mm, largest force {} N, stop contacts {}\n",
        number(1000.0 * run.travel_peak_m),
        number(run.force_peak_n),
        run.contacts
    );
    let end = match (run.aborted(), run.commission.may_arm()) {
        (Some(why), _) => format!("the test gave up, {}", reason(why)),
        (None, true) => "machine and table agree; the law may be armed".to_owned(),
        (None, false) => "machine and table disagree; the law is not armed".to_owned(),
    };
    text + &labelled("Result: ", &end, 80)
}

fn row(v: &Verdict, truth: Option<f64>) -> String {
    let (name, unit) = words(v.item);
    let gap = if unit.is_empty() { "" } else { ", " };
    format!(
        "{:<31}{:>9}{:>9}{:>9}{:>11}{:>11}\n",
        format!("  {name}{gap}{unit}"),
        number(f64::from(v.found)),
        number(f64::from(v.told)),
        truth.map_or_else(|| "-".to_owned(), number),
        number(f64::from(v.tolerance)),
        if v.agrees { "agrees" } else { "REFUSED" }
    )
}
