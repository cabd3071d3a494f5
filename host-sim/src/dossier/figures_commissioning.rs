//! Figures of the commissioning tests, read from their raw data.

use super::figure::{Better, BySeed, Figure, Over};
use super::figures_rides::{list, number, seed, text};
use super::run::Stage;
use serde_json::Value;

/// Found and told of an item: how far apart they are, as a share of the told one where that is not zero.
fn apart(row: &Value, item: &str) -> f64 {
    let verdict = list(&row["finding"], "verdicts")
        .iter()
        .find(|v| text(&v["item"]) == item);
    verdict.map_or(f64::NAN, |v| {
        let (found, told) = (number(&v["found"]), number(&v["told"]));
        let off = (found - told).abs();
        if told == 0.0 { off } else { off / told.abs() }
    })
}

/// By what share a finding misses the truth.
fn missed(row: &Value, field: &str) -> f64 {
    (number(&row["finding"][field]) / number(&row["truth"][field]) - 1.0).abs()
}

/// Figures of the commissioning tests of sound machines.
pub(super) fn tests(data: &Value) -> Vec<Figure> {
    let mut figures = Vec::new();
    let mut add = |id: &str, unit: &str, better: Better, of: &dyn Fn(&Value) -> f64| {
        let mut by_seed = BySeed::new(better);
        for row in list(data, "tests") {
            by_seed.take(seed(row), of(row), text(&row["command"]));
        }
        let id = format!("commission.{id}");
        figures.extend(by_seed.figure(&id, unit, Over::Worst, Stage::Commission.file()));
    };
    let lower = Better::Lower;
    add("force", "N", lower, &|r| number(&r["force_n"]));
    add("travel", "m", lower, &|r| number(&r["travel_peak_m"]));
    for (id, unit, field) in [
        ("level", "m", "rest_travel_m"),
        ("floor", "m/s2", "floor_rms_mps2"),
        ("residual", "share", "residual"),
    ] {
        add(id, unit, lower, &|r| number(&r["finding"][field]).abs());
    }
    add("correlation", "1", Better::Higher, &|r| {
        number(&r["finding"]["correlation"]).abs()
    });
    for (id, unit, items) in [
        ("accel-bias", "m/s2", &["floor_bias", "seat_bias"][..]),
        ("current-bias", "A", &["current_bias"]),
        ("force-constant", "share", &["force_constant"]),
        ("mass", "share", &["moving_mass"]),
        ("viscous", "share", &["viscous"]),
        ("coulomb", "share", &["coulomb"]),
        ("gain", "share", &["travel_gain", "current_gain"]),
    ] {
        let most = |r: &Value| {
            let all = items.iter().map(|item| apart(r, item));
            all.fold(0.0, |m: f64, x| if x.is_nan() { x } else { m.max(x) })
        };
        add(id, unit, lower, &most);
    }
    for (id, field) in [
        ("error.force-constant", "force_constant_npa"),
        ("error.mass", "moving_mass_kg"),
        ("error.viscous", "viscous_nspm"),
        ("error.coulomb", "coulomb_n"),
    ] {
        add(id, "share", lower, &|r| missed(r, field));
    }
    figures
}
