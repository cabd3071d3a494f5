//! `becalm compare`: two dossiers or two rides, figure by figure.

use super::{Failure, Outcome, terminal};
use clap::Args;
use host_sim::compare::{Comparison, Subject, text};
use std::path::PathBuf;

/// Compare two dossiers or two rides: better, worse, within noise; limits that were let out
#[derive(Args, Debug)]
#[command(after_help = "\
A and B are folders of `becalm dossier` or their dossier.json, or folders of
`becalm ride` or their summary.json; B is judged against A. Rides must be of the
same floor, level, seed, occupant, body, length and faults.

Both sides of a dossier have the same seeds, so figures are held against each
other seed by seed: a change counts when the mean of these differences is beyond
what their spread explains (Student's t, as often as a normal value is beyond
two standard deviations: some 4.6 % of figures that have not changed), or when
the figure itself moves farther than other seeds would move it. Less than 0.1 %
never counts there. With other seeds the spread of each side decides, and the
row says so. Counts and figures without seeds: every change counts. `detectable`
is the least change by seed that counts; a figure that is the same to the last
bit is told apart from one within noise.

Exit code 1: a figure is worse or gone, a limit is broken or no longer
demonstrated that held in A, or a limit allows more than in A or is gone. A
limit that was broken in A already is listed, but is no regression. Whoever
means a change re-bases, to be reviewed.

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
    /// List figures within noise, and those that are the same, as well
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
        Outcome::Differs(format!(
            "regression against {}: {}",
            comparison.a,
            comparison.in_short()
        ))
    } else {
        Outcome::Holds
    })
}
