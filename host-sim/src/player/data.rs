//! The page's data as JSON: what the script reads.

use super::events::Event;
use super::recorder::{INSTANTS, Recorded, Signal, TRACES};
use super::{PlayerError, pack, scene};
use crate::fault_words::fault_words;
use crate::report::inert_json;
use crate::report::modes::mode_name;
use firmware::Faults;
use serde_json::{Map, Value, json};

/// Resolutions of all signals, by name.
pub(super) struct Resolutions {
    traces: [f64; TRACES.len()],
    instants: [f64; INSTANTS.len()],
}

impl Resolutions {
    /// As coarse as the largest value of each signal asks for.
    pub(super) fn of(ride: &Recorded) -> Self {
        let finest = ride.thinner.levels().swap_remove(0);
        let finite = |x: f64| if x.is_finite() { x.abs() } else { 0.0 };
        let peak_trace = |i: usize| {
            let sizes = finest.ranges.iter();
            sizes.fold(0.0, |peak: f64, r| {
                peak.max(finite(r.least[i])).max(finite(r.greatest[i]))
            })
        };
        let peak_instant = |i: usize| {
            let all = ride.thinner.instants().iter();
            all.fold(0.0, |peak: f64, row| peak.max(finite(row[i])))
        };
        Self {
            traces: std::array::from_fn(|i| pack::resolution(peak_trace(i))),
            instants: std::array::from_fn(|i| pack::resolution(peak_instant(i))),
        }
    }

    /// Each with its signal.
    pub(super) fn all(&self) -> impl Iterator<Item = (&'static Signal, f64)> + '_ {
        let instants = INSTANTS.iter().zip(self.instants);
        TRACES.iter().zip(self.traces).chain(instants)
    }
}

/// The data as JSON text that can stand inside a script element.
pub(super) fn json(
    ride: &Recorded,
    resolutions: &Resolutions,
    room_mm: f64,
) -> Result<String, PlayerError> {
    let (rig, thinner) = (&ride.rig, &ride.thinner);
    let levels: Vec<Value> = thinner.levels().iter().map(|level| {
        let side = |pick: fn(&super::thin::Range) -> &[f64; TRACES.len()]| -> Map<String, Value> {
            let one = |(i, signal): (usize, &Signal)| {
                let counts = level.ranges.iter();
                let counts = counts.map(|r| pack::count(pick(r)[i], resolutions.traces[i]));
                (signal.name.to_owned(), pack::text(counts).into())
            };
            TRACES.iter().enumerate().map(one).collect()
        };
        // Single periods: the least is the greatest.
        let greatest = if level.width == 1 { Value::Null } else { side(|r| &r.greatest).into() };
        json!({"width": level.width, "count": level.ranges.len(), "least": side(|r| &r.least), "greatest": greatest})
    }).collect();
    // Where every period is kept, these are traces already.
    let traced = |signal: &Signal| {
        TRACES
            .iter()
            .any(|t| Some(t.name) == signal.name.strip_suffix("At"))
    };
    let instants: Map<String, Value> = INSTANTS
        .iter()
        .enumerate()
        .filter(|(_, signal)| thinner.width() > 1 || !traced(signal))
        .map(|(i, signal)| {
            let counts = thinner.instants().iter();
            let counts = counts.map(|row| pack::count(row[i], resolutions.instants[i]));
            (signal.name.to_owned(), pack::text(counts).into())
        })
        .collect();
    let names: Map<String, Value> = resolutions
        .all()
        .map(|(signal, resolution)| (signal.name.to_owned(), resolution.into()))
        .collect();
    let modes: Vec<Value> = ride
        .changes
        .iter()
        .map(|c| json!([c.time_s, mode_name(c.mode), fault_words(Faults(c.faults))]))
        .collect();
    let occupants: Vec<Value> = ride
        .occupants
        .iter()
        .map(|o| json!([o.at_s, o.occupant_kg]))
        .collect();
    let whole = json!({
        "step_s": rig.timing.step_s,
        "periods": thinner.pushed(),
        "skipped_s": ride.spec.skip_s,
        "travel_m": rig.seat.travel_m,
        "usable_m": rig.firmware.isolate.usable_m,
        "rest_m": rig.firmware.arrest.rest_m,
        "resolution": names,
        "levels": levels,
        "instants": instants,
        "modes": modes,
        "modes_whole": !ride.changes_left_out,
        "occupants": occupants,
        "events": ride.events.iter().map(event).collect::<Vec<_>>(),
        "scene": scene::measures(rig, room_mm),
    });
    Ok(inert_json(&serde_json::to_string(&whole)?))
}

fn event(event: &Event) -> Value {
    json!({
        "at_s": event.at_s,
        "kind": event.kind.name(),
        "name": event.kind.words(),
        "words": event.words,
        "slow_s": event.slow_s,
        "foremost": event.foremost,
    })
}
