//! `becalm modes`: the state machine, explored whole.

use super::{Failure, Outcome, options, terminal};
use clap::Args;
use host_sim::modes::proof::{self, Proof};
use host_sim::modes::{diagram, page};
use host_sim::output::ResultFile;
use std::io::Write;
use std::path::PathBuf;

const AFTER: &str = "\
The firmware's own code is stepped from every state that it can be in, under
every class of input. The table says which conditions make the modes change;
they are found, not written down. Below stand the claims that were proved.

Exit code 1: a claim is broken.

Examples:
  becalm modes
  becalm modes --rig my_rig.toml --svg modes.svg";

/// Explore the state machine whole: what makes modes change, what is proved
#[derive(Args, Debug)]
#[command(after_help = AFTER)]
pub(super) struct ModesArgs {
    /// Rig file in TOML [default: the rig that ships with becalm]
    #[arg(long, value_name = "FILE")]
    rig: Option<PathBuf>,
    /// Write the picture of the modes
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
    /// Write the page of the documentation
    #[arg(long, value_name = "FILE")]
    markdown: Option<PathBuf>,
    /// Print one JSON object and nothing else
    #[arg(long)]
    json: bool,
}

/// Runs the command.
pub(super) fn run(args: &ModesArgs) -> Result<Outcome, Failure> {
    let rig = options::rig(args.rig.as_deref())?;
    let claim = |path: &Option<PathBuf>, opening, option| {
        path.as_ref()
            .map(|path| ResultFile::claim(path, opening, option, None))
            .transpose()
    };
    let svg = claim(&args.svg, "<svg", "--svg")?;
    let markdown = claim(&args.markdown, "# Modes\n", "--markdown")?;
    let proof = proof::prove(&rig.firmware.supervise, &rig.firmware.timing)
        .map_err(|error| format!("rig section firmware: {error}"))?;
    for (place, text) in [
        (svg, diagram::svg(&proof)),
        (markdown, page::markdown(&proof)),
    ] {
        if let Some((result, mut file)) = place {
            file.write_all(text.as_bytes())
                .map_err(|error| result.error(error))?;
            result.publish()?;
        }
    }
    if args.json {
        terminal::print_json(&proof)?;
    } else {
        terminal::print(&table(&proof))?;
    }
    Ok(if proof.holds {
        Outcome::Holds
    } else {
        Outcome::Broken("a claim about the modes; see the table".to_owned())
    })
}

fn table(proof: &Proof) -> String {
    let mut text = String::from("from      to        guard\n");
    for row in &proof.changes {
        for (n, guard) in row.guards.iter().enumerate() {
            let (from, to) = if n == 0 {
                (row.from, row.to)
            } else {
                ("", "or")
            };
            text += &format!("{from:<10}{to:<10}{guard}\n");
        }
    }
    text.push('\n');
    for (claim, figure) in page::claims(proof) {
        text += &super::words::wrap(&format!("{claim}: {figure}"), "  ", 80);
    }
    let (short, coarse) = (&proof.short, &proof.coarse);
    text + &format!(
        "\nExplored: {} states with short times ({} steps), {} states with the rig's times\nat a step of {} s ({} steps).\n",
        short.states, short.pairs, coarse.states, proof.coarse_step_s, coarse.pairs
    )
}
