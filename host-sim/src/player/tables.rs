//! The figures of the summary, and the list of events.

use super::PlayerError;
use super::events::Event;
use crate::report::escape;
use crate::summary::Summary;
use serde_json::Value;

/// What stands where there is no value.
const NONE: &str = "–";

/// One figure: words, factor from its unit in `summary.json` to the one shown, decimals, and where floor, passive
/// seat and law stand in `summary.json`.
struct Row {
    words: &'static str,
    scale: f64,
    decimals: usize,
    places: [&'static str; 3],
}

const fn row(words: &'static str, scale: f64, decimals: usize, places: [&'static str; 3]) -> Row {
    Row {
        words,
        scale,
        decimals,
        places,
    }
}

const ROWS: [Row; 14] = [
    row(
        "weighted r.m.s., m/s²",
        1.0,
        3,
        [
            "/floor/weighted_rms_mps2",
            "/passive/weighted_rms_mps2",
            "/seat/weighted_rms_mps2",
        ],
    ),
    row(
        "SEAT value, r.m.s.",
        1.0,
        3,
        ["", "/seat_value_passive", "/seat_value"],
    ),
    row(
        "dose value VDV, m/s^1.75",
        1.0,
        2,
        [
            "/floor/vdv_mps175",
            "/passive/vdv_mps175",
            "/seat/vdv_mps175",
        ],
    ),
    row(
        "running maximum MTVV, m/s²",
        1.0,
        2,
        ["", "/passive/mtvv_mps2", "/seat/mtvv_mps2"],
    ),
    row(
        "peak, unweighted, m/s²",
        1.0,
        2,
        ["/floor/peak_mps2", "/passive/peak_mps2", "/seat/peak_mps2"],
    ),
    row(
        "largest travel, mm",
        1.0e3,
        1,
        ["", "/passive_travel/peak_m", "/travel/peak_m"],
    ),
    row(
        "travel r.m.s., mm",
        1.0e3,
        1,
        ["", "/passive_travel/rms_m", "/travel/rms_m"],
    ),
    row(
        "stop contacts",
        1.0,
        0,
        ["", "/passive_travel/stop_contacts", "/travel/stop_contacts"],
    ),
    row(
        "hardest contact, m/s",
        1.0,
        3,
        [
            "",
            "/passive_travel/contact_speed_max_mps",
            "/travel/contact_speed_max_mps",
        ],
    ),
    row("force r.m.s., N", 1.0, 1, ["", "", "/actuator/force_rms_n"]),
    row("force, peak, N", 1.0, 0, ["", "", "/actuator/force_peak_n"]),
    row(
        "electrical power, mean, W",
        1.0,
        1,
        ["", "", "/actuator/electrical_power_mean_w"],
    ),
    row(
        "coil at most, °C",
        1.0,
        1,
        ["", "", "/actuator/coil_temperature_max_c"],
    ),
    row(
        "least distance to the edge of the set, m/s",
        1.0,
        3,
        ["", "", "/assumptions/set_margin_mps"],
    ),
];

/// The figures; every cell says which of `summary.json` it is.
pub(super) fn figures(summary: &Summary) -> Result<String, PlayerError> {
    let tree = serde_json::to_value(summary)?;
    let mut html = format!(
        "<table id=\"figures\">\n<caption>Figures of the whole ride without its first {} s, as in \
         summary.json</caption>\n<thead><tr><th scope=\"col\">figure</th><th scope=\"col\">floor</th>\
         <th scope=\"col\">passive seat</th><th scope=\"col\">law</th></tr></thead>\n<tbody>\n",
        summary.skipped_s
    );
    for row in &ROWS {
        html += &format!("<tr><th scope=\"row\">{}</th>", row.words);
        for place in row.places {
            html += &cell(&tree, row, place);
        }
        html += "</tr>\n";
    }
    Ok(html + "</tbody>\n</table>\n")
}

fn cell(tree: &Value, row: &Row, place: &str) -> String {
    if place.is_empty() {
        return "<td></td>".to_owned();
    }
    let value = tree.pointer(place).and_then(Value::as_f64);
    let text = value.map_or_else(
        || NONE.to_owned(),
        |v| format!("{:.*}", row.decimals, v * row.scale).replace('-', "−"),
    );
    format!(
        "<td data-figure=\"{place}\" data-scale=\"{}\">{text}</td>",
        row.scale
    )
}

/// The events with a button each that leads there.
pub(super) fn events(events: &[Event]) -> String {
    let mut html = "<table id=\"events\">\n<caption>Events in order of time, those of the start included</caption>\n<thead><tr>\
                    <th scope=\"col\">time</th><th scope=\"col\">kind</th>\
                    <th scope=\"col\">what happens</th></tr></thead>\n<tbody>\n"
        .to_owned();
    for (n, event) in events.iter().enumerate() {
        html += &format!(
            "<tr data-kind=\"{}\" data-event=\"{n}\"><td><button type=\"button\" data-at=\"{}\">{:.3} s</button></td>\
             <td>{}</td><td>{}</td></tr>\n",
            event.kind.name(),
            event.at_s,
            event.at_s,
            event.kind.words(),
            escape(&event.words)
        );
    }
    html + "</tbody>\n</table>\n"
}
