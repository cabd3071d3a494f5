//! Tables of figures.

use super::collector::Collected;
use super::modes::mode_name;
use super::page::escape;
use super::words::{daily_time, floor_origin};
use crate::exposure::ExposureError;
use crate::exposure::daily::{
    REFERENCE_DAY_S, daily_vdv_mps175, seconds_to_action, seconds_to_action_vdv, seconds_to_limit,
    seconds_to_limit_vdv,
};
use crate::fault_words::fault_words;
use crate::summary::{SeatFigures, Summary, TravelFigures};
use firmware::Faults;

/// Most events listed under the timeline.
const EVENTS: usize = 40;
/// What stands where there is no figure.
const NONE: &str = "–";

fn number(value: f64, decimals: usize) -> String {
    if value.is_finite() {
        format!("{value:.decimals$}")
    } else {
        NONE.to_owned()
    }
}

fn optional(value: Option<f64>, decimals: usize) -> String {
    value.map_or_else(|| NONE.to_owned(), |v| number(v, decimals))
}

/// A table: heading cells, then rows of a name and cells. Markup in names and headings is kept.
fn table(caption: &str, heads: &[&str], rows: &[(String, Vec<String>)]) -> String {
    let mut html = format!("<table>\n<caption>{caption}</caption>\n<thead><tr>");
    for head in heads {
        html += &format!("<th scope=\"col\">{head}</th>");
    }
    html += "</tr></thead>\n<tbody>\n";
    for (name, cells) in rows {
        html += &format!("<tr><th scope=\"row\">{name}</th>");
        for cell in cells {
            html += &format!("<td>{}</td>", escape(cell));
        }
        html += "</tr>\n";
    }
    html + "</tbody>\n</table>\n"
}

fn row(name: &str, cells: [String; 3]) -> (String, Vec<String>) {
    (name.to_owned(), cells.to_vec())
}

/// What was ridden, as a list of terms.
pub(super) fn ridden(ride: &Collected, summary: &Summary) -> String {
    let spec = &ride.spec;
    let occupant = if summary.occupant_kg == 0.0 {
        "nobody".to_owned()
    } else {
        format!("{} kg", summary.occupant_kg)
    };
    let mut terms = vec![
        ("Floor", summary.floor.name.clone()),
        ("What it is", floor_origin(&summary.floor.name)),
        ("Level", format!("× {}", summary.floor.level)),
        ("Occupant", occupant),
        ("Body", summary.body.to_owned()),
        ("Seed", summary.seed.to_string()),
        ("Rig", ride.rig.name.clone()),
        ("Arithmetic of the law", summary.arithmetic.to_owned()),
        ("Length", format!("{} s", summary.seconds)),
        (
            "Skipped start",
            format!("{} s, in no figure below", summary.skipped_s),
        ),
        (
            "Speed of the bench",
            format!("{:.0} times real time", summary.real_time_factor),
        ),
    ];
    if summary.floor.name.starts_with("road") {
        terms.insert(
            3,
            ("Driving speed", format!("{} m/s", spec.floor.speed_mps)),
        );
    }
    if !spec.changes.is_empty() {
        let changes: Vec<String> = spec
            .changes
            .iter()
            .map(|c| format!("{} kg at {} s", c.occupant_kg, c.at_s))
            .collect();
        terms.push(("Changes of occupant", changes.join(", ")));
    }
    for fault in &summary.faults {
        terms.push(("Broken on purpose", fault.fault.clone()));
    }
    let mut html = "<dl class=\"ridden\">\n".to_owned();
    for (term, text) in terms {
        html += &format!("<div><dt>{term}</dt><dd>{}</dd></div>\n", escape(&text));
    }
    html + "</dl>\n"
}

/// Exposure of floor, passive seat and law.
pub(super) fn exposure(ride: &Collected, summary: &Summary) -> String {
    let (passive, law) = (&summary.passive, &summary.seat);
    let floor = SeatFigures {
        weighted_rms_mps2: summary.floor.weighted_rms_mps2,
        vdv_mps175: summary.floor.vdv_mps175,
        mtvv_mps2: ride.floor.mtvv_mps2,
        crest_factor: ride.floor.crest_factor,
        peak_mps2: summary.floor.peak_mps2,
        sd_mpa: ride.floor_sd_mpa,
    };
    let all = [&floor, passive, law];
    let each = |f: &dyn Fn(&SeatFigures) -> String| all.map(f);
    let measured_s = summary.seconds - summary.skipped_s;
    let time = |seconds: Result<Option<f64>, ExposureError>| match seconds {
        Ok(Some(s)) => daily_time(Some(s)),
        Ok(None) => "never".to_owned(),
        Err(_) => NONE.to_owned(),
    };
    let vdv_passive =
        (summary.floor.vdv_mps175 > 0.0).then(|| passive.vdv_mps175 / summary.floor.vdv_mps175);
    let rows = [
        row(
            "weighted r.m.s., m/s²",
            each(&|f| number(f.weighted_rms_mps2, 3)),
        ),
        row(
            "VDV, m/s<sup>1.75</sup>",
            each(&|f| number(f.vdv_mps175, 3)),
        ),
        row("MTVV, m/s²", each(&|f| number(f.mtvv_mps2, 3))),
        row("crest factor", each(&|f| optional(f.crest_factor, 2))),
        row("peak, m/s²", each(&|f| number(f.peak_mps2, 3))),
        row(
            "SEAT value",
            [
                NONE.to_owned(),
                optional(summary.seat_value_passive, 3),
                optional(summary.seat_value, 3),
            ],
        ),
        row(
            "SEAT value by VDV",
            [
                NONE.to_owned(),
                optional(vdv_passive, 3),
                optional(summary.seat_value_vdv, 3),
            ],
        ),
        row(
            "S<sub>d</sub> of the measured time, MPa",
            each(&|f| number(f.sd_mpa, 3)),
        ),
        row(
            "A(8) if 8 h are ridden, m/s²",
            each(&|f| number(f.weighted_rms_mps2, 3)),
        ),
        row(
            "VDV if 8 h are ridden, m/s<sup>1.75</sup>",
            each(&|f| {
                daily_vdv_mps175(f.vdv_mps175, measured_s, REFERENCE_DAY_S)
                    .map_or_else(|_| NONE.to_owned(), |v| number(v, 2))
            }),
        ),
        row(
            "daily time to action value, A(8)",
            each(&|f| time(seconds_to_action(f.weighted_rms_mps2))),
        ),
        row(
            "daily time to limit value, A(8)",
            each(&|f| time(seconds_to_limit(f.weighted_rms_mps2))),
        ),
        row(
            "daily time to action value, VDV",
            each(&|f| time(seconds_to_action_vdv(f.vdv_mps175, measured_s))),
        ),
        row(
            "daily time to limit value, VDV",
            each(&|f| time(seconds_to_limit_vdv(f.vdv_mps175, measured_s))),
        ),
    ];
    table(
        "Vibration, vertical, over the part of the ride that counts",
        &["", "floor", "passive seat", "law"],
        &rows,
    )
}

/// The bound of this floor and travel; nothing where it was not worked out.
pub(super) fn possible(summary: &Summary) -> String {
    let Some(bound) = &summary.bound else {
        return String::new();
    };
    let share = summary
        .share_of_possible
        .map_or_else(|| NONE.to_owned(), |s| format!("{:.1}", 100.0 * s));
    let rows = [
        (
            "least SEAT value".to_owned(),
            vec![optional(bound.seat_value, 3)],
        ),
        (
            "least peak, m/s²".to_owned(),
            vec![number(bound.peak_mps2, 3)],
        ),
        ("share of the possible, %".to_owned(), vec![share]),
    ];
    table(
        "Possible at all: an ideal seat that knows the floor in advance",
        &["", "bound"],
        &rows,
    )
}

/// What was broken on purpose and what the firmware made of it; nothing where nothing was.
pub(super) fn faults(summary: &Summary) -> String {
    if summary.faults.is_empty() {
        return String::new();
    }
    let after = |s: Option<f64>| s.map_or_else(|| "never".to_owned(), |s| format!("{s:.3} s"));
    let rows: Vec<_> = summary
        .faults
        .iter()
        .map(|f| {
            let cells = vec![
                after(f.noticed_after_s),
                f.noticed_as.join(", "),
                after(f.drive_off_after_s),
                f.modes.join(", "),
            ];
            (escape(&f.fault), cells)
        })
        .collect();
    table(
        "Broken on purpose; times from the onset",
        &["", "noticed", "as", "drive off", "modes since"],
        &rows,
    )
}

/// Travel of both seats.
pub(super) fn travel(summary: &Summary) -> String {
    let each =
        |f: &dyn Fn(&TravelFigures) -> String| vec![f(&summary.passive_travel), f(&summary.travel)];
    let rows = [
        (
            "largest travel, mm".to_owned(),
            each(&|t| number(1000.0 * t.peak_m, 2)),
        ),
        (
            "travel r.m.s., mm".to_owned(),
            each(&|t| number(1000.0 * t.rms_m, 2)),
        ),
        (
            "stop contacts".to_owned(),
            each(&|t| t.stop_contacts.to_string()),
        ),
        (
            "fastest contact, m/s".to_owned(),
            each(&|t| {
                if t.stop_contacts == 0 {
                    NONE.to_owned()
                } else {
                    number(t.contact_speed_max_mps, 3)
                }
            }),
        ),
    ];
    table("Travel", &["", "passive seat", "law"], &rows)
}

/// Actuator and estimates.
pub(super) fn machine(summary: &Summary) -> String {
    let (a, e) = (&summary.actuator, &summary.estimate);
    let row = |name: &str, value: String| (name.to_owned(), vec![value]);
    let actuator = [
        row("force r.m.s., N", number(a.force_rms_n, 1)),
        row("force peak, N", number(a.force_peak_n, 1)),
        row(
            "electrical power, mean, W",
            number(a.electrical_power_mean_w, 1),
        ),
        row(
            "electrical power, peak, W",
            number(a.electrical_power_peak_w, 1),
        ),
        row(
            "coil temperature, highest, °C",
            number(a.coil_temperature_max_c, 1),
        ),
    ];
    let estimates = [
        row(
            "travel rate error r.m.s., mm/s",
            number(1000.0 * e.travel_rate_rms_error_mps, 2),
        ),
        row(
            "floor velocity error above 0.3 Hz r.m.s., mm/s",
            number(1000.0 * e.floor_velocity_rms_error_mps, 2),
        ),
        row(
            "supported mass error at the end, %",
            format!("{:+.2}", 100.0 * e.mass_error_fraction),
        ),
    ];
    table("Actuator", &["", "law"], &actuator) + &table("Estimates", &["", "law"], &estimates)
}

/// The changes of mode and fault, as a list.
pub(super) fn events(ride: &Collected) -> String {
    let mut html = "<ol class=\"events\">\n".to_owned();
    let changes = &ride.modes.changes;
    for change in changes.iter().take(EVENTS) {
        let faults = fault_words(Faults(change.faults));
        let with = if faults.is_empty() {
            String::new()
        } else {
            format!("; faults: {}", faults.join(", "))
        };
        html += &format!(
            "<li><span class=\"when\">{:.3} s</span> {}{}</li>\n",
            change.time_s,
            escape(&mode_name(change.mode)),
            escape(&with)
        );
    }
    let more = changes.len().saturating_sub(EVENTS) + ride.modes.left_out;
    if more > 0 {
        html += &format!("<li>and {more} more changes</li>\n");
    }
    html + "</ol>\n"
}
