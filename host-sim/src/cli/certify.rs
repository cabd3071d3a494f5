//! `becalm certify`: the proof of the travel.

use super::words::{labelled, wrap};
use super::{Failure, Outcome, certify_plot, options, terminal};
use clap::Args;
use host_sim::hunt;
use host_sim::hunt::counter::Effort;
use host_sim::hunt::search::Find;
use host_sim::output::{MADE_BY, ResultFile, ResultFolder};
use host_sim::parallel;
use host_sim::proof::certificate::{Certificate, CertifyError, Progress, certify};
use host_sim::proof::certify::Place;
use host_sim::rig::Rig;
use serde::Serialize;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Mutex;

const AFTER: &str = "\
The arrest's own code is run in interval arithmetic over boxes of states: for
every travel and travel rate of a stated set, every floor acceleration within
its bound, every occupant and every error within the assumptions, the next
state stays in the set, and so no stop is met faster than the touch speed. It is
done in exact real numbers, in single precision and in fixed point, roundings
included. And whatever comes in, infinities and no numbers included, what goes
out is finite and within its limits.

The bounds stand in the rig file: sections `proof`, `firmware.arrest` and
`proved_*` of `firmware.supervise`. Every ride reports how much of each
assumption it used (`assumptions` in summary.json); the firmware watches floor,
mass and what went astray, and is in mode `beyond` while one does not hold.

What it does not cover: rigid loads (they are outside the assumption on what
goes astray on the worst floors), faults, floors beyond the bound, what
happens after a stop has been met. It is evidence for an assessment by people
who are qualified for it, not an assessment.

Files, with --out: certificate.json, certificate.svg (the proven set with rides
drawn over it). An interrupted proof leaves progress.json there and goes on from
it when the same command is given again.

Exit code 1: the claim does not hold. The state from which the set may be left
is shown, and a floor on which a ride meets a stop too fast, where one is found.

Examples:
  becalm certify --out becalm-out/certificate
  becalm certify --rig my_rig.toml --json";

/// Prove the travel limits: no stop is met faster than stated
#[derive(Args, Debug)]
#[command(after_help = AFTER)]
pub(super) struct CertifyArgs {
    /// Rig file in TOML [default: the rig that ships with becalm]
    #[arg(long, value_name = "FILE")]
    rig: Option<PathBuf>,
    /// Folder for certificate.json and certificate.svg
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Print one JSON object and nothing else
    #[arg(long)]
    json: bool,
    /// No progress bar and no table
    #[arg(long, short)]
    quiet: bool,
}

#[derive(Serialize)]
struct Record<'a> {
    made_by: &'a str,
    #[serde(flatten)]
    certificate: &'a Certificate,
    /// A ride that shows what the proof could not exclude, when the claim does not hold and one is found.
    ride: Option<Shown>,
}

/// A ride within the claim's bounds on which a stop is met too fast.
#[derive(Clone, Debug, Serialize)]
struct Shown {
    contact_speed_mps: f64,
    occupant_kg: f64,
    body: &'static str,
    seed: u64,
    coil_c: f64,
    floor_file: Option<&'static str>,
}

/// Rides of the evolution strategy in the search for such a ride.
const EFFORT_RIDES: usize = 3000;

const FILES: [&str; 3] = ["certificate.svg", "counter_example.csv", "certificate.json"];
const PROGRESS: &str = "progress.json";
/// How a file of progress begins.
const PROGRESS_OPENING: &str = "{\"stamp\":";
const WIDTH: usize = 80;
/// Width of the first column.
const LABEL: usize = 54;

pub(super) fn run(args: &CertifyArgs) -> Result<Outcome, Failure> {
    let rig = options::rig(args.rig.as_deref())?;
    let kept = args.out.as_ref().map(|folder| folder.join(PROGRESS));
    let progress = Mutex::new(kept.as_deref().map_or_else(Progress::default, earlier));
    let bar = terminal::progress(!args.quiet && !args.json, 1080, "pieces");
    let found = certify(
        &rig,
        &progress,
        |done, of| {
            bar.set_length(of as u64);
            bar.set_position(done as u64);
        },
        || !terminal::interrupted(),
    );
    bar.finish_and_clear();
    let certificate = match found {
        Ok(certificate) => certificate,
        Err(CertifyError::Interrupted) => return interrupted(kept.as_deref(), &progress),
        Err(error) => return Err(error.into()),
    };
    let find = if certificate.holds {
        None
    } else {
        counter_example(&rig, &certificate)?
    };
    let record = Record {
        made_by: MADE_BY,
        certificate: &certificate,
        ride: find.as_ref().map(|f| Shown {
            contact_speed_mps: f.figures.contact_speed_mps,
            occupant_kg: f.machine.occupant_kg,
            body: f.machine.body.name(),
            seed: f.machine.seed,
            coil_c: f.machine.coil_c,
            floor_file: args.out.is_some().then_some(FILES[1]),
        }),
    };
    let mut written = String::new();
    if let Some(path) = &args.out {
        let folder = ResultFolder::claim(path, &FILES, args.rig.as_deref())?;
        folder.write(FILES[0], &certify_plot::svg(&rig, &certificate)?)?;
        if let Some(find) = &find {
            folder.write(FILES[1], &find.knots.csv(REMARK))?;
        }
        folder.write_json(FILES[2], &record)?;
        written = format!("\n{}", folder.written());
        folder.publish()?;
        // What was done is in the certificate now.
        if let Some(kept) = kept.filter(|kept| kept.exists()) {
            std::fs::remove_file(&kept)
                .map_err(|source| format!("{}: cannot be removed: {source}", kept.display()))?;
        }
    }
    if args.json {
        terminal::print_json(&record)?;
    } else if !args.quiet {
        terminal::print(&table(&certificate))?;
        if !certificate.holds {
            terminal::print(&shown(record.ride.as_ref()))?;
        }
        terminal::print(&written)?;
    }
    Ok(match &certificate.refusal {
        None if certificate.holds => Outcome::Holds,
        why => Outcome::Broken(format!(
            "the claim does not hold: {}",
            why.as_deref().unwrap_or("it could not be proved")
        )),
    })
}

const REMARK: &str =
    "a floor within the claim's bounds on which a stop is met too fast (found by becalm certify)";

/// A floor within the claim's bounds on which a ride meets a stop too fast.
fn counter_example(rig: &Rig, certificate: &Certificate) -> Result<Option<Find>, Failure> {
    let effort = Effort {
        rides: EFFORT_RIDES,
        threads: parallel::processors(),
    };
    Ok(hunt::counter_example(
        rig,
        &certificate.assumptions,
        effort,
        || !terminal::interrupted(),
    )?)
}

fn shown(ride: Option<&Shown>) -> String {
    let text = match ride {
        Some(r) => format!(
            "A ride shows it: {:.0} kg, {}, seed {}: a stop is met at {:.2} m/s{}.",
            r.occupant_kg,
            r.body,
            r.seed,
            r.contact_speed_mps,
            r.floor_file
                .map_or_else(String::new, |file| format!(" (floor: {file})"))
        ),
        None => format!(
            "No ride was found that shows it (simple floors and {EFFORT_RIDES} rides of a search): \
             the proof may grant less than the machine bears."
        ),
    };
    wrap(&text, "", WIDTH)
}

/// Pieces of an earlier proof; what cannot be read counts as none.
fn earlier(path: &Path) -> Progress {
    std::fs::read_to_string(path)
        .ok()
        .and_then(|text| serde_json::from_str(&text).ok())
        .unwrap_or_default()
}

fn interrupted(kept: Option<&Path>, progress: &Mutex<Progress>) -> Result<Outcome, Failure> {
    let Some(path) = kept else {
        return Err("interrupted; nothing was written".into());
    };
    if let Some(folder) = path.parent() {
        std::fs::create_dir_all(folder)
            .map_err(|source| format!("{}: cannot be made: {source}", folder.display()))?;
    }
    let done = progress
        .lock()
        .map_err(|_| "interrupted; nothing was written")?;
    let (result, mut file) = ResultFile::claim(path, PROGRESS_OPENING, "--out", None)?;
    file.write_all(serde_json::to_string(&*done)?.as_bytes())
        .map_err(|source| result.error(source))?;
    result.publish()?;
    Err(format!(
        "interrupted; {} pieces are kept in {}",
        done.pieces.len(),
        path.display()
    )
    .into())
}

fn table(c: &Certificate) -> String {
    let a = &c.assumptions;
    let mut text = wrap(&c.claim, "", WIDTH);
    text.push_str("\nTaken for granted\n");
    let row = |text: &mut String, label: &str, value: String| {
        text.push_str(&labelled(&format!("{label:LABEL$}"), &value, WIDTH));
    };
    row(
        &mut text,
        "  floor acceleration, m/s2",
        format!("{}", a.floor_accel_mps2),
    );
    row(
        &mut text,
        "  its change, m/s3",
        format!("{}", a.floor_jerk_mps3),
    );
    row(
        &mut text,
        "  occupant, kg",
        format!("{} to {}", a.occupant_min_kg, a.occupant_max_kg),
    );
    row(
        &mut text,
        "  astray near an end / elsewhere / in a step, mm/s",
        format!(
            "{:.0} / {:.0} / {:.0}",
            a.astray_mps * 1e3,
            a.astray_away_mps * 1e3,
            a.astray_step_mps * 1e3
        ),
    );
    row(
        &mut text,
        "  rate foreseen near / elsewhere, mm/s; travel, mm",
        format!(
            "{:.0} / {:.0}; {:.1}",
            a.foresight_rate_mps * 1e3,
            a.foresight_rate_away_mps * 1e3,
            a.foresight_travel_m * 1e3
        ),
    );
    row(
        &mut text,
        "  motor force at mid travel, N; delay untold, ms",
        format!("{:.0}; {:.2}", a.authority.motor_n, a.delay_untold_s * 1e3),
    );
    text.push_str("\nProved\n");
    row(
        &mut text,
        "  a stop is met at most at, m/s",
        format!("{:.4}", c.touch_speed_bound_mps),
    );
    for part in &c.arithmetics {
        row(
            &mut text,
            &format!("  boxes, smallest margin in m/s2: {}", part.name),
            format!("{}, {:.3}", part.boxes, part.smallest_margin.margin_mps2),
        );
    }
    if let Some(part) = c.arithmetics.first() {
        row(
            &mut text,
            "  any answer at most, m/s2; A",
            format!(
                "{:.2}; {:.2}",
                part.answers.accel_mps2, part.answers.current_a
            ),
        );
    }
    row(&mut text, "  tightest at", place(&c.smallest_margin));
    row(
        &mut text,
        "  firmware, parameters",
        format!("{}, {}", c.law.version, c.law.parameters_hash),
    );
    row(
        &mut text,
        "  computing time, s",
        format!("{:.1}", c.seconds),
    );
    text.push('\n');
    let verdict = if c.holds {
        "The claim holds.".to_owned()
    } else {
        let why = c.refusal.as_deref().unwrap_or("it could not be proved");
        format!("The claim does NOT hold: {why}.")
    };
    text.push_str(&wrap(&verdict, "", WIDTH));
    text
}

fn place(p: &Place) -> String {
    format!(
        "{:.1} mm, {:.3} m/s, {:.0} mm/s astray",
        p.end.sign() * p.travel_m * 1e3,
        p.end.sign() * p.rate_mps,
        p.end.sign() * p.astray_mps * 1e3
    )
}
