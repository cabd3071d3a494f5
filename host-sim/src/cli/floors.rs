//! `becalm floors`: the floors that can be ridden on.

use super::words::{number, wrap};
use super::{Failure, Outcome, terminal};
use clap::Args;
use host_sim::floor::{CatalogueEntry, Origin, catalogue};
use serde::Serialize;

/// List the floors that can be ridden on
#[derive(Args, Debug)]
#[command(after_help = "\
Options follow the name: `edge:flank=0.08,height=0.04`. A recording is named by
its file: `ride.csv`, `ride.csv:time=t,accel=az,unit=g,fade=0.5,highpass=0.05`.")]
pub(super) struct FloorsArgs {
    /// Print one JSON object and nothing else
    #[arg(long)]
    json: bool,
}

#[derive(Serialize)]
struct Record<'a> {
    floors: Vec<FloorRecord<'a>>,
}

#[derive(Serialize)]
struct FloorRecord<'a> {
    name: &'a str,
    about: &'a str,
    origin: &'a str,
    random: bool,
    rms_mps2: f64,
    peak_mps2: Option<f64>,
    band_hz: Option<(f64, f64)>,
    options: &'a str,
}

/// Runs the command.
pub(super) fn run(args: &FloorsArgs) -> Result<Outcome, Failure> {
    let entries = catalogue()?;
    if args.json {
        let floors = entries
            .iter()
            .map(|e| FloorRecord {
                name: e.name,
                about: &e.about,
                origin: origin(e.origin),
                random: e.random,
                rms_mps2: e.rms_mps2,
                peak_mps2: e.peak_mps2,
                band_hz: e.band_hz,
                options: &e.options,
            })
            .collect();
        terminal::print_json(&Record { floors })?;
    } else {
        terminal::print(&text(&entries))?;
    }
    Ok(Outcome::Holds)
}

const fn origin(origin: Origin) -> &'static str {
    match origin {
        Origin::Invented => "invented",
        Origin::TestSignal => "test signal",
        Origin::Standard(name) => name,
    }
}

fn text(entries: &[CatalogueEntry]) -> String {
    let mut text = String::new();
    let mut last = None;
    for entry in entries {
        if last != Some(entry.origin) {
            if last.is_some() {
                text.push('\n');
            }
            last = Some(entry.origin);
            text += match entry.origin {
                Origin::Invented => "Invented machines, random; they belong to no real machine\n",
                Origin::TestSignal => "Test signals\n",
                Origin::Standard(_) => "Roads of ISO 8608, random, under a quarter car\n",
            };
            text += &format!(
                "  {:<9}{:>13}{:>13}{:>18}\n",
                "name", "r.m.s., m/s2", "peak, m/s2", "band, Hz"
            );
        }
        let band = match entry.band_hz {
            None => "-".to_owned(),
            Some((low, high)) if low == high => number(low),
            Some((low, high)) => format!("{} to {}", number(low), number(high)),
        };
        text += &format!(
            "  {:<9}{:>13}{:>13}{:>18}\n",
            entry.name,
            number(entry.rms_mps2),
            entry.peak_mps2.map_or_else(|| "-".to_owned(), number),
            band
        );
        text += &wrap(&entry.about, "      ", 80);
        if entry.options != "no options" {
            let options = entry.options.replace("a number from ", "");
            text += &wrap(&format!("options: {options}"), "      ", 80);
        }
    }
    text += "\nAll at level 1, roads at 10 m/s. A recording is named by its file, FILE.csv.\n";
    text
}
