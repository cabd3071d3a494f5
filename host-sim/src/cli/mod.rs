//! The command line: one file a command.
//!
//! | file | purpose |
//! |---|---|
//! | `options` | options that several commands share |
//! | `ride` | one ride: options to spec, run, results |
//! | `record` | what a ride leaves: JSON record, trace, what the law did |
//! | `table` | the table of a ride |
//! | `sweep`, `sweep_plot` | stepped sine: table, CSV, picture |
//! | `bitflips` | every bit of the law's memory turned over in a ride |
//! | `bound` | how good any seat could be on a floor |
//! | `headroom` | passive seat, law, causal linear law and bound over many floors |
//! | `margins`, `margins_map` | stability margins: table, export, picture |
//! | `certify`, `certify_plot` | the proof of the travel: certificate, picture |
//! | `commission` | the commissioning test against the plant |
//! | `dossier`, `dossier_verify` | evidence for every limit; a dossier looked at again |
//! | `compare` | two dossiers or rides |
//! | `exposure` | exposure figures of a recording |
//! | `fault_list` | the list of faults; faults of a ride in words |
//! | `faults`, `faults_table` | the fault campaign |
//! | `floors` | the list of floors |
//! | `hunt` | the search for the worst floor |
//! | `limits` | the register of limits |
//! | `modes` | the state machine, explored whole |
//! | `readout` | a board's flight recorder, over the link into a file |
//! | `replay`, `replay_flight` | recorded frames through the law again, in any core; a flight recorder's file |
//! | `rig`, `rig_figures` | check a rig file, figures that follow from it |
//! | `timing` | what the law costs on each core |
//! | `terminal` | standard output, progress bar, Ctrl-C |
//! | `words` | numbers and times as text |

mod bitflips;
mod bound;
mod certify;
mod certify_plot;
mod commission;
mod compare;
mod dossier;
mod dossier_figure;
mod dossier_verify;
mod exposure;
mod fault_list;
mod faults;
mod faults_table;
mod floors;
mod headroom;
mod hunt;
mod hunt_files;
mod hunt_table;
mod limits;
mod margins;
mod margins_map;
mod modes;
mod options;
mod plot_style;
mod readout;
mod record;
mod replay;
mod replay_flight;
mod ride;
mod rig;
mod rig_figures;
mod sweep;
mod sweep_plot;
mod table;
mod terminal;
mod timing;
mod words;

use clap::{CommandFactory, Parser, Subcommand};
use std::process::ExitCode;

/// What a command comes to.
enum Outcome {
    /// Everything holds.
    Holds,
    /// A limit is broken; what and by how much.
    Broken(String),
    /// What should agree does not: a dossier with itself, or with the one before; in a sentence.
    Differs(String),
}

type Failure = Box<dyn std::error::Error>;

const ABOUT: &str = "Control firmware and bench for an actively suspended operator's seat: a linear \
     electric actuator between a vehicle's floor and the seat holds the operator still.";

const AFTER: &str = "\
Without a command, `becalm` runs `becalm ride`: 60 s on the invented hauler
floor, the law beside a good passive seat.

Exit codes:
  0  everything holds
  1  a limit is broken: in a ride or sweep the law met a stop harder than
     0.10 m/s or latched a fault; the commissioning test refused the machine;
     the hunt found a floor, or a flipped bit, that breaks one; a claim about the modes or the
     travel is broken; a stability margin is below its limit;
     a target of the fault campaign is missed; a limit of the dossier is broken, or
     a figure is worse than in the dossier it is compared with, or a limit looser;
     a dossier does not agree with itself
  2  input or usage is wrong, or the run was interrupted; nothing is written

Messages go to standard error and begin with `becalm: error:`.";

#[derive(Parser)]
#[command(name = "becalm", version, about = ABOUT, after_help = AFTER, term_width = 80)]
struct Cli {
    #[command(subcommand)]
    command: Option<Command>,
}

#[derive(Subcommand)]
enum Command {
    Ride(ride::RideArgs),
    Sweep(sweep::SweepArgs),
    Bitflips(bitflips::BitflipsArgs),
    Bound(bound::BoundArgs),
    Headroom(headroom::HeadroomArgs),
    Margins(margins::MarginsArgs),
    Readout(readout::ReadoutArgs),
    Replay(replay::ReplayArgs),
    Timing(timing::TimingArgs),
    Certify(certify::CertifyArgs),
    Commission(commission::CommissionArgs),
    Compare(compare::CompareArgs),
    Dossier(dossier::DossierArgs),
    Exposure(exposure::ExposureArgs),
    Faults(faults::FaultsArgs),
    Floors(floors::FloorsArgs),
    Hunt(hunt::HuntArgs),
    Limits(limits::LimitsArgs),
    Modes(modes::ModesArgs),
    /// Check a rig file, or show the default one
    #[command(subcommand)]
    Rig(rig::RigCommand),
    /// Print completions for a shell, to be sourced by it
    #[command(
        after_help = "Example:\n  becalm completions bash > ~/.local/share/bash-completion/completions/becalm"
    )]
    Completions {
        /// The shell
        shell: clap_complete::Shell,
    },
}

/// Runs the command line of this process.
pub(crate) fn main() -> ExitCode {
    let cli = match Cli::try_parse() {
        Ok(cli) => cli,
        Err(error) => return usage(&error),
    };
    let command = cli
        .command
        .unwrap_or_else(|| Command::Ride(ride::RideArgs::default()));
    let outcome = terminal::watch_interrupt().and_then(|()| match command {
        Command::Ride(args) => ride::run(args),
        Command::Sweep(args) => sweep::run(&args),
        Command::Bitflips(args) => bitflips::run(&args),
        Command::Bound(args) => bound::run(&args),
        Command::Headroom(args) => headroom::run(&args),
        Command::Margins(args) => margins::run(&args),
        Command::Readout(args) => readout::run(&args),
        Command::Replay(args) => replay::run(&args),
        Command::Timing(args) => timing::run(&args),
        Command::Certify(args) => certify::run(&args),
        Command::Commission(args) => commission::run(&args),
        Command::Compare(args) => compare::run(&args),
        Command::Dossier(args) => dossier::run(&args),
        Command::Exposure(args) => exposure::run(&args),
        Command::Faults(args) => faults::run(&args),
        Command::Floors(args) => floors::run(&args),
        Command::Hunt(args) => hunt::run(&args),
        Command::Limits(args) => limits::run(&args),
        Command::Modes(args) => modes::run(&args),
        Command::Rig(command) => rig::run(&command),
        Command::Completions { shell } => {
            let mut text = Vec::new();
            clap_complete::generate(shell, &mut Cli::command(), "becalm", &mut text);
            terminal::print(&String::from_utf8_lossy(&text))?;
            Ok(Outcome::Holds)
        }
    });
    match outcome {
        Ok(Outcome::Holds) => ExitCode::SUCCESS,
        Ok(Outcome::Broken(what)) => {
            terminal::note(&format!("becalm: a limit is broken: {what}"));
            ExitCode::from(1)
        }
        Ok(Outcome::Differs(what)) => {
            terminal::note(&format!("becalm: {what}"));
            ExitCode::from(1)
        }
        Err(error) => {
            terminal::note(&format!("becalm: error: {error}"));
            ExitCode::from(2)
        }
    }
}

/// Help and version go to standard output; wrong usage is an error like any other.
fn usage(error: &clap::Error) -> ExitCode {
    let text = error.render().to_string();
    if error.use_stderr() {
        let text = text.strip_prefix("error: ").unwrap_or(&text);
        terminal::note(&format!("becalm: error: {}", text.trim_end()));
        return ExitCode::from(2);
    }
    match terminal::print(&text) {
        Ok(()) => ExitCode::SUCCESS,
        Err(_) => ExitCode::from(2),
    }
}
