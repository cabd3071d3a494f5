//! `becalm rig`: checks a rig file, or shows the default one.

use super::rig_figures::RigFigures;
use super::words::{number, wrap};
use super::{Failure, Outcome, options, terminal};
use clap::{Args, Subcommand};
use host_sim::rig::Rig;
use host_sim::{design, parameter_table};
use std::path::PathBuf;

#[derive(Subcommand, Debug)]
pub(super) enum RigCommand {
    Check(CheckArgs),
    /// Print the default rig, an invented machine, to start from
    #[command(after_help = "Example:\n  becalm rig show > my_rig.toml")]
    Show,
    Table(TableArgs),
}

/// Print the firmware's parameter table of a rig as a constant in Rust, for a port
#[derive(Args, Debug)]
#[command(after_help = "Example:\n  becalm rig table > firmware/boards/parameters.rs")]
pub(super) struct TableArgs {
    /// Rig file in TOML [default: the rig that ships with becalm]
    #[arg(value_name = "FILE")]
    file: Option<PathBuf>,
}

/// Check a rig and the firmware's parameters in it; print what follows from them
#[derive(Args, Debug)]
#[command(after_help = "\
Figures for occupants of 40, 80 and 130 kg, friction left out. Continuous force
holds the coil at the temperature from which the firmware derates. Exit code 2
when a field cannot be used; the message names file, line and field.")]
pub(super) struct CheckArgs {
    /// Rig file in TOML [default: the rig that ships with becalm]
    #[arg(value_name = "FILE")]
    file: Option<PathBuf>,
    /// Print one JSON object and nothing else
    #[arg(long)]
    json: bool,
}

/// Runs the command.
pub(super) fn run(command: &RigCommand) -> Result<Outcome, Failure> {
    match command {
        RigCommand::Show => terminal::print(Rig::default_text())?,
        RigCommand::Table(args) => {
            let parameters = design::parameters(&options::rig(args.file.as_deref())?)?;
            terminal::print(&parameter_table::expression(&parameters))?;
        }
        RigCommand::Check(args) => {
            let rig = options::rig(args.file.as_deref())?;
            let figures = RigFigures::of(&rig)?;
            if args.json {
                terminal::print_json(&figures)?;
            } else {
                terminal::print(&text(&figures))?;
            }
        }
    }
    Ok(Outcome::Holds)
}

fn text(f: &RigFigures) -> String {
    let mut text = wrap(&format!("Rig: {}", f.name), "", 80);
    text += "Every field can be used, and the firmware accepts its parameters.\n\n";
    text += &format!("{:<41}", "occupant, kg");
    for o in &f.occupants {
        text += &format!("{:>12}", o.occupant_kg);
    }
    text.push('\n');
    let mut row = |label: &str, pick: fn(&super::rig_figures::OccupantFigures) -> f64| {
        text += &format!("{label:<41}");
        for o in &f.occupants {
            text += &format!("{:>12}", number(pick(o)));
        }
        text.push('\n');
    };
    row("  supported mass, kg", |o| o.supported_kg);
    row("  support alone: natural frequency, Hz", |o| o.support_hz);
    row("  support alone: damping ratio", |o| o.support_damping);
    row("  passive seat: natural frequency, Hz", |o| o.passive_hz);
    row("  passive seat: damping ratio", |o| o.passive_damping);
    row("  most acceleration, peak, m/s2", |o| o.peak_mps2);
    row("  most acceleration, continuous, m/s2", |o| {
        o.continuous_mps2
    });
    text += "\nActuator\n";
    let mut line = |label: &str, value: String| text += &format!("  {label:<51}{value:>12}\n");
    line("peak force, N", number(f.peak_force_n));
    line("continuous force, N", number(f.continuous_force_n));
    line("coil at that, deg C", number(f.continuous_coil_c));
    line(
        "heat in the copper at peak force, W",
        number(f.peak_copper_w),
    );
    line(
        "motor constant, N per square root of W",
        number(f.motor_constant),
    );
    line("speed without load, m/s", number(f.no_load_mps));
    line(
        "speed up to which the peak force is there, m/s",
        number(f.peak_force_mps),
    );
    line(
        "electrical time constant, ms",
        number(1000.0 * f.electrical_s),
    );
    text += "\nObserver poles (by the Riccati equation)\n";
    text += &format!(
        "  {:>12}{:>16}{:>16}\n",
        "Hz", "damping ratio", "to 1 % in, s"
    );
    for pole in &f.observer_poles {
        text += &format!(
            "  {:>12}{:>16}{:>16}\n",
            number(pole.frequency_hz),
            number(pole.damping),
            number(pole.settles_s)
        );
    }
    text
}
