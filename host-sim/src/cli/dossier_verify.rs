//! `becalm dossier verify`: a dossier looked at again.

use super::{Failure, Outcome, options, terminal};
use clap::Args;
use host_sim::dossier::Bench;
use host_sim::dossier::verify::{self, Checked};
use host_sim::parallel;
use std::path::PathBuf;

/// Check a dossier: checksums, figures from raw data, verdicts, a sample of rides
#[derive(Args, Debug)]
#[command(after_help = "\
Every file is held against SHA256SUMS, every figure is worked out again from the
raw data, every verdict from figures and register, and a few of the rides are
ridden again, which must give the same figures to the last digit. Another build
may ride otherwise in the last digits: check with the one that made it.

Exit code 1: something does not agree.

Example:
  becalm dossier verify becalm-out/dossier")]
pub(super) struct VerifyArgs {
    /// The folder
    folder: PathBuf,
    /// Rides to be ridden again
    #[arg(long, value_name = "N", default_value_t = 3, value_parser = clap::value_parser!(u16).range(0..=1000))]
    rides: u16,
    /// Rig file in TOML, where the dossier is of another than the default one
    #[arg(long, value_name = "FILE")]
    rig: Option<PathBuf>,
    /// Print nothing but what is wrong
    #[arg(long, short)]
    quiet: bool,
}

/// Runs the command.
pub(super) fn run(args: &VerifyArgs) -> Result<Outcome, Failure> {
    let rig = options::rig(args.rig.as_deref())?;
    let bench = Bench {
        rig: &rig,
        rig_path: args.rig.as_ref().map(|path| path.display().to_string()),
        threads: parallel::processors(),
        stop: terminal::interrupted,
    };
    let checked = verify::check(&args.folder, &bench, usize::from(args.rides))?;
    if !args.quiet {
        terminal::print(&text(&checked))?;
    }
    Ok(if checked.wrong.is_empty() {
        Outcome::Holds
    } else {
        Outcome::Broken(checked.wrong.join("; "))
    })
}

fn text(c: &Checked) -> String {
    let mut text = format!(
        "{} files, {} figures, {} verdicts, {} rides again: {}\n",
        c.files,
        c.figures,
        c.verdicts,
        c.rides,
        if c.wrong.is_empty() {
            "all agree"
        } else {
            "NOT all agree"
        }
    );
    for wrong in &c.wrong {
        text += &format!("  {wrong}\n");
    }
    text
}
