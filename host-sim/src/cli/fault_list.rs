//! The list of faults, and the faults of a ride in words.

use super::words::{number, wrap};
use super::{Failure, Outcome, terminal};
use host_sim::fault::notice::FaultFigures;
use host_sim::fault::{Argument, Class, Entry, Lasts, catalogue};
use host_sim::units;
use serde::Serialize;

const WIDTH: usize = 80;

#[derive(Serialize)]
struct Record {
    faults: Vec<EntryRecord>,
}

#[derive(Serialize)]
struct EntryRecord {
    name: &'static str,
    class: &'static str,
    about: &'static str,
    size: Option<ArgumentRecord>,
    every_s: Option<ArgumentRecord>,
    /// Whether a duration may be given, and the one that is taken else; none to the end of the ride.
    takes_duration: bool,
    duration_s: Option<f64>,
}

#[derive(Serialize)]
struct ArgumentRecord {
    about: &'static str,
    unit: &'static str,
    default: f64,
    range: (f64, f64),
}

impl From<Argument> for ArgumentRecord {
    fn from(a: Argument) -> Self {
        Self {
            about: a.about,
            unit: a.unit,
            default: a.default,
            range: (a.low, a.high),
        }
    }
}

/// Prints all that can be broken.
pub(super) fn list(json: bool) -> Result<Outcome, Failure> {
    if json {
        let faults = catalogue().iter().map(|e| EntryRecord {
            name: &e.name,
            class: e.kind.class().name(),
            about: &e.about,
            size: e.size.map(Into::into),
            every_s: e.every.map(Into::into),
            takes_duration: e.lasts != Lasts::Moment,
            duration_s: match e.lasts {
                Lasts::For(s) => Some(s),
                _ => None,
            },
        });
        let faults = faults.collect();
        terminal::print_json(&Record { faults })?;
    } else {
        terminal::print(&text())?;
    }
    Ok(Outcome::Holds)
}

fn text() -> String {
    let mut text = "\
What can be broken in a ride: `becalm ride --fault NAME[:key=value,...]`, or a
table [[fault]] with kind, onset_s, duration_s, size and every_s in a scenario.
Without `onset` a fault begins at 10 s; without `duration` it lasts to the end,
where nothing else is said.
"
    .to_owned();
    for class in Class::ALL {
        text += &format!("\n{}\n", class.name().to_uppercase());
        for entry in catalogue().iter().filter(|e| e.kind.class() == class) {
            text += &format!("  {}\n", entry.name);
            text += &wrap(&format!("{}.", entry.about), "      ", WIDTH);
            for line in told(entry) {
                text += &wrap(&line, "      ", WIDTH);
            }
        }
    }
    text
}

/// What an entry can be told.
fn told(entry: &Entry) -> Vec<String> {
    let one = |key: &str, a: Argument| {
        format!(
            "{key}={} [{} to {}]: {}",
            units::beside(a.default, a.unit),
            a.low,
            a.high,
            a.about
        )
    };
    let size = entry.size.map(|a| one("size", a));
    let every = entry.every.map(|a| one("every", a));
    let lasts = match entry.lasts {
        Lasts::ToTheEnd => None,
        Lasts::For(s) => Some(format!("duration={s} s")),
        Lasts::Moment => Some("happens once: takes no duration".to_owned()),
    };
    [size, every, lasts].into_iter().flatten().collect()
}

/// What broke in a ride and what the firmware made of it.
pub(super) fn noticed(faults: &[FaultFigures]) -> String {
    let mut text = String::new();
    for fault in faults {
        text += &format!("\nBroken on purpose: {}\n", fault.fault);
        text += &wrap(&format!("{}.", words(fault)), "  ", WIDTH);
    }
    text
}

fn words(f: &FaultFigures) -> String {
    let noticed = match f.noticed_after_s {
        Some(s) => format!(
            "noticed after {} s as {}",
            number(s),
            f.noticed_as.join(", ")
        ),
        None => "no fault bit was set".to_owned(),
    };
    let off = match f.drive_off_after_s {
        Some(s) => format!("the drive was off after {} s", number(s)),
        None => "the drive stayed on".to_owned(),
    };
    let modes = f.modes.join(", ");
    format!(
        "{noticed}; {off}; modes since: {modes}; at the end: {}",
        f.mode_at_end
    )
}
