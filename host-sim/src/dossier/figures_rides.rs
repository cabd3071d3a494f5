//! Figures of the rides, read from their raw data.

use super::figure::{Better, BySeed, Figure, Over};
use super::rides::{EVENTS, RANGES};
use super::run::Stage;
use crate::exposure::daily::{REFERENCE_DAY_S, daily_vdv_mps175};
use serde_json::Value;

/// Level of the daily exposure.
const DAY_LEVEL: f64 = 1.0;
/// Level at which the seat's peak is judged.
const PEAK_LEVEL: f64 = 2.5;
/// Levels up to this are those of the estimates.
const ESTIMATE_LEVEL: f64 = 2.5;

/// A list in raw data.
pub(super) fn list<'v>(data: &'v Value, name: &str) -> &'v [Value] {
    data[name].as_array().map_or(&[], Vec::as_slice)
}

/// A number in raw data; null, which stands for no bound, is no number.
pub(super) fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or(f64::NAN)
}

pub(super) fn text(value: &Value) -> &str {
    value.as_str().unwrap_or_default()
}

pub(super) fn seed(row: &Value) -> u64 {
    row["seed"].as_u64().unwrap_or(0)
}

/// One figure over the rows that fit.
struct Rule<'r> {
    id: String,
    unit: &'r str,
    over: Over,
    better: Better,
    fits: Box<dyn Fn(&Value) -> bool + 'r>,
    of: Box<dyn Fn(&Value) -> f64 + 'r>,
}

impl<'r> Rule<'r> {
    fn worst(id: &str, unit: &'r str, of: impl Fn(&Value) -> f64 + 'r) -> Self {
        Self {
            id: id.to_owned(),
            unit,
            over: Over::Worst,
            better: Better::Lower,
            fits: Box::new(|_| true),
            of: Box::new(of),
        }
    }

    fn only(self, fits: impl Fn(&Value) -> bool + 'r) -> Self {
        Self {
            fits: Box::new(fits),
            ..self
        }
    }

    fn figure(&self, rows: &[Value], evidence: &str) -> Option<Figure> {
        let mut by_seed = BySeed::new(self.better);
        for row in rows.iter().filter(|row| (self.fits)(row)) {
            by_seed.take(seed(row), (self.of)(row), text(&row["command"]));
        }
        by_seed.figure(&self.id, self.unit, self.over, evidence)
    }
}

fn level(row: &Value) -> f64 {
    number(&row["summary"]["floor"]["level"])
}

/// The occupant of the targets.
fn is_usual(row: &Value) -> bool {
    let summary = &row["summary"];
    number(&summary["occupant_kg"]) == 80.0 && text(&summary["body"]) == "two-mass"
}

/// Figures of the rides on the machine floors.
pub(super) fn floors(data: &Value) -> Vec<Figure> {
    let rows = list(data, "rides");
    let mut rules = Vec::new();
    let mut known: Vec<(String, f64)> = Vec::new();
    for row in rows.iter().filter(|row| is_usual(row)) {
        let (floor, level) = (text(&row["name"]).to_owned(), level(row));
        if !known.contains(&(floor.clone(), level)) {
            known.push((floor, level));
        }
    }
    for (floor, at) in known {
        let id = format!("rides.seat-value.{floor}.{at}");
        let mean = Rule {
            over: Over::Mean,
            ..Rule::worst(&id, "1", |row| number(&row["summary"]["seat_value"]))
        };
        rules.push(
            mean.only(move |row| is_usual(row) && text(&row["name"]) == floor && level(row) == at),
        );
    }
    let within = |row: &Value| is_usual(row) && level(row) <= ESTIMATE_LEVEL;
    rules.push(Rule::worst("rides.stop-contacts", "count", |r| {
        number(&r["summary"]["travel"]["stop_contacts"])
    }));
    rules.push(Rule::worst("rides.contact-speed", "m/s", |r| {
        number(&r["summary"]["travel"]["contact_speed_max_mps"])
    }));
    rules.push(
        Rule::worst("rides.seat-peak", "m/s2", |r| {
            number(&r["summary"]["seat"]["peak_mps2"])
        })
        .only(|r| level(r) == PEAK_LEVEL),
    );
    rules.push(
        Rule::worst("rides.daily-a8", "m/s2", |r| {
            number(&r["summary"]["seat"]["weighted_rms_mps2"])
        })
        .only(|r| level(r) == DAY_LEVEL),
    );
    rules
        .push(Rule::worst("rides.daily-vdv", "m/s1.75", daily_vdv).only(|r| level(r) == DAY_LEVEL));
    rules.push(
        Rule::worst("rides.travel-rate-error", "m/s", |r| {
            number(&r["summary"]["estimate"]["travel_rate_rms_error_mps"])
        })
        .only(within),
    );
    rules.push(
        Rule::worst("rides.floor-velocity-error", "m/s", |r| {
            number(&r["summary"]["estimate"]["floor_velocity_rms_error_mps"])
        })
        .only(within),
    );
    rules.push(Rule::worst("rides.coil-temperature", "degC", |r| {
        number(&r["summary"]["actuator"]["coil_temperature_max_c"])
    }));
    for (id, unit, field) in [
        ("rides.power-drawn", "W", "power_drawn_w"),
        ("rides.power-returned", "W", "power_returned_w"),
        ("rides.faults-told", "count", "faults_told"),
        ("rides.reading.accel", "m/s2", "accel_mps2"),
        ("rides.reading.travel", "m", "travel_m"),
        ("rides.reading.travel-jump", "m", "travel_jump_m"),
        ("rides.reading.current", "A", "current_a"),
        ("rides.reading.supply-most", "V", "supply_most_v"),
        ("rides.reading.equal", "count", "accel_equal"),
        ("rides.reading.coil-most", "degC", "coil_most_c"),
        ("rides.bias", "m/s2", "bias_mps2"),
        ("rides.mass", "kg", "mass_kg"),
        ("rides.preload", "N", "preload_n"),
        ("rides.disturbance", "N", "disturbance_n"),
    ] {
        rules.push(Rule::worst(id, unit, move |r| {
            number(&r["extremes"][field])
        }));
    }
    for (id, unit, field) in [
        ("rides.residual.travel-noise", "m", "travel_noise_m"),
        ("rides.residual.travel-scale", "s2", "travel_scale_s2"),
        ("rides.residual.current", "A", "current_a"),
        ("rides.residual.load-change", "N", "load_change_n"),
        ("rides.residual.load", "N", "load_n"),
        ("rides.residual.load-mass", "kg", "load_mass_kg"),
    ] {
        rules.push(Rule::worst(id, unit, move |r| {
            number(&r["extremes"]["residuals"][field])
        }));
    }
    for (id, unit, field) in [
        ("rides.reading.supply-least", "V", "supply_least_v"),
        ("rides.reading.coil-least", "degC", "coil_least_c"),
    ] {
        let least = Rule::worst(id, unit, move |r| number(&r["extremes"][field]));
        rules.push(Rule {
            better: Better::Higher,
            ..least
        });
    }
    rules
        .iter()
        .filter_map(|rule| rule.figure(rows, Stage::Rides.file()))
        .collect()
}

/// The vibration dose of eight hours that are like the ride.
fn daily_vdv(row: &Value) -> f64 {
    let summary = &row["summary"];
    let seconds = number(&summary["seconds"]) - number(&summary["skipped_s"]);
    daily_vdv_mps175(
        number(&summary["seat"]["vdv_mps175"]),
        seconds,
        REFERENCE_DAY_S,
    )
    .unwrap_or(f64::NAN)
}

/// Figures of the single events.
pub(super) fn events(data: &Value) -> Vec<Figure> {
    let rows = list(data, "rides");
    let mut rules = Vec::new();
    for (part, any) in [("seat-peak", false), ("seat-peak-any", true)] {
        for (name, _) in EVENTS {
            let peak = Rule::worst(&format!("events.{part}.{name}"), "m/s2", |r| {
                number(&r["summary"]["seat"]["peak_mps2"])
            });
            rules.push(peak.only(move |r| text(&r["name"]) == name && (any || is_usual(r))));
        }
    }
    rules.push(Rule::worst("events.stop-contacts", "count", |r| {
        number(&r["summary"]["travel"]["stop_contacts"])
    }));
    rules.push(Rule::worst("events.reading.accel-jump", "m/s2", |r| {
        number(&r["extremes"]["accel_jump_mps2"])
    }));
    rules
        .iter()
        .filter_map(|rule| rule.figure(rows, Stage::Events.file()))
        .collect()
}

/// The mass of one who has sat down.
pub(super) fn seated(data: &Value) -> Vec<Figure> {
    let rule = Rule::worst("seated.mass-error", "share", |r| {
        number(&r["mass_error"]).abs()
    });
    rule.figure(list(data, "rides"), Stage::Seated.file())
        .into_iter()
        .collect()
}

/// The largest transmissibility in each range.
pub(super) fn sine(data: &Value) -> Vec<Figure> {
    let most = |row: &Value| {
        let points = list(row, "points")
            .iter()
            .map(|p| number(&p["seat"]["transmissibility"]));
        points.fold(f64::NEG_INFINITY, |m, x| {
            if x.is_nan() || m.is_nan() {
                f64::NAN
            } else {
                m.max(x)
            }
        })
    };
    let rules = RANGES.iter().map(|(name, ..)| {
        Rule::worst(&format!("sweep.transmissibility.{name}"), "1", most)
            .only(move |r| text(&r["range"]) == *name)
    });
    rules
        .filter_map(|rule| rule.figure(list(data, "sweeps"), Stage::Sweep.file()))
        .collect()
}

/// The share of the possible by floor and level.
pub(super) fn headroom(data: &Value) -> Vec<Figure> {
    let mut found: Vec<(String, BySeed)> = Vec::new();
    for part in list(data, "seeds") {
        for row in list(part, "rows") {
            // Where there is nothing to gain there is no share.
            let Some(share) = row["share_of_possible"].as_f64() else {
                continue;
            };
            let (floor, level) = (text(&row["floor"]), number(&row["level"]));
            let id = format!("headroom.share.{floor}.{level}");
            let command = format!(
                "becalm headroom --floor {floor} --levels {level} --seconds {}",
                number(&data["seconds"])
            );
            let at = found
                .iter()
                .position(|(known, _)| *known == id)
                .unwrap_or_else(|| {
                    found.push((id, BySeed::new(Better::Higher)));
                    found.len() - 1
                });
            found[at].1.take(seed(part), share, &command);
        }
    }
    found
        .into_iter()
        .filter_map(|(id, by_seed)| {
            by_seed.figure(&id, "share", Over::Mean, Stage::Headroom.file())
        })
        .collect()
}
