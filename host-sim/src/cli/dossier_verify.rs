//! `becalm dossier verify`: a dossier looked at again.

use super::{Failure, Outcome, options, terminal};
use clap::Args;
use host_sim::dossier::verify::{self, Checked};
use host_sim::dossier::{Bench, Plan};
use host_sim::parallel;
use std::path::PathBuf;

/// Check a dossier: files, figures, verdicts, pages, plan, a sample of rides
#[derive(Args, Debug)]
#[command(after_help = "\
Every file that a dossier has must be there with its line in SHA256SUMS, and no
other. Every figure is worked out again from the raw data, every verdict with
all that it says from figures and register, dossier.html and junit.xml from
those, to the byte. The plan is held against the raw data, the rig against the
one given here, and a few of the rides are ridden again, which must give the
same to the last digit. What nothing in the folder shows is listed as taken as
stated.

A dossier of another program, by the SHA-256 of its sources, cannot be compared
whole: that is exit code 1 too, unless --other-program says that it is meant.

Exit code 1: something does not agree, or was not compared.

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
    /// Be content where dossier.html and junit.xml are of another program's making
    #[arg(long)]
    other_program: bool,
    /// Print nothing but what is wrong or was not compared
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
    let plans = [Plan::full(), Plan::quick()];
    let checked = verify::check(&args.folder, &bench, &plans, usize::from(args.rides))?;
    terminal::print(&text(&checked, args.quiet))?;
    let (wrong, left) = (checked.wrong.len(), checked.not_compared.len());
    Ok(if wrong > 0 {
        Outcome::Differs(format!(
            "the dossier does not agree with itself or with what it was checked with: {wrong} finding{}",
            if wrong == 1 { "" } else { "s" }
        ))
    } else if left > 0 && !args.other_program {
        Outcome::Differs(
            "not all of the dossier was compared: check it with the program that made it, or say --other-program"
                .to_owned(),
        )
    } else {
        Outcome::Holds
    })
}

fn text(c: &Checked, quiet: bool) -> String {
    let mut text = String::new();
    if !quiet {
        text = format!(
            "{} files, {} figures, {} verdicts, {} of {} rides again: {}\n",
            c.files,
            c.figures,
            c.verdicts,
            c.rides,
            c.of_rides,
            match (c.wrong.is_empty(), c.not_compared.is_empty()) {
                (true, true) => "all agree",
                (true, false) => "what was compared agrees",
                (false, _) => "NOT all agree",
            }
        );
    }
    for wrong in &c.wrong {
        text += &format!("  {wrong}\n");
    }
    for left in &c.not_compared {
        text += &format!("  NOT COMPARED {left}\n");
    }
    for stated in c.stated.iter().filter(|_| !quiet) {
        text += &format!("  taken as stated: {stated}\n");
    }
    text
}
