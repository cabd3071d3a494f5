//! `becalm compare`: two dossiers or two rides, figure by figure.

use super::{Failure, Outcome, terminal};
use clap::Args;
use host_sim::compare::{Comparison, Subject, text};
use std::path::PathBuf;

/// Compare two dossiers or two rides: better, worse, within the noise of the seeds
#[derive(Args, Debug)]
#[command(after_help = "\
A and B are folders of `becalm dossier` or their dossier.json, or folders of
`becalm ride` or their summary.json; B is judged against A. A change counts
beyond twice the standard deviation that the spread over the seeds gives the
difference; for figures without seeds every change beyond rounding counts.

Exit code 1: a figure is worse, a limit is broken or no longer demonstrated that
held in A, or a figure is gone. A limit that was broken in A already is listed,
but is no regression.

Examples:
  becalm compare baseline/dossier.json becalm-out/dossier
  becalm compare before after --markdown > comment.md
  becalm dossier --quick --rebase           a new baseline, to be reviewed")]
pub(super) struct CompareArgs {
    /// Before: a dossier or a ride
    a: PathBuf,
    /// After: one of the same kind
    b: PathBuf,
    /// Print Markdown for a pull request
    #[arg(long, conflicts_with = "json")]
    markdown: bool,
    /// List figures within noise as well
    #[arg(long)]
    all: bool,
    /// Print one JSON object and nothing else
    #[arg(long)]
    json: bool,
}

/// Runs the command.
pub(super) fn run(args: &CompareArgs) -> Result<Outcome, Failure> {
    let (a, b) = (Subject::read(&args.a)?, Subject::read(&args.b)?);
    let comparison = Comparison::of(&a, &b)?;
    if args.json {
        terminal::print_json(&comparison)?;
    } else if args.markdown {
        terminal::print(&text::markdown(&comparison))?;
    } else {
        terminal::print(&text::table(&comparison, args.all))?;
    }
    Ok(if comparison.regression {
        Outcome::Broken(format!(
            "regression against {}: {}",
            comparison.a,
            comparison.in_short()
        ))
    } else {
        Outcome::Holds
    })
}
