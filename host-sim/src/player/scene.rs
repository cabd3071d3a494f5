//! Floor, seat, stops and occupant to scale, as SVG in millimetres.
//!
//! Seat and person are schematic, and their measures are invented: those of no make and no survey. The
//! travel, the stops and all motion are those of the ride. Heights count from the floor, upward; the
//! picture's own axis points down, so that a height h stands at -h.

use crate::rig::Rig;
use serde_json::{Value, json};

/// Underside of the seat's frame above the floor at mid travel, mm.
const FRAME_MM: f64 = 240.0;
/// Top of the loaded cushion above the floor at mid travel, mm.
const PAN_MM: f64 = 400.0;
/// Middle of the tongue between the stops, mm above the floor at mid travel, and half its thickness.
const TONGUE_MM: f64 = 262.0;
const TONGUE_HALF_MM: f64 = 12.0;
/// Thickness of a bumper, mm.
const BUMPER_MM: f64 = 26.0;
/// Hip, ankle: forward and up, mm.
const HIP_MM: [f64; 2] = [300.0, 485.0];
const ANKLE_MM: [f64; 2] = [735.0, 75.0];
/// Thigh and lower leg, mm.
const LEG_MM: [f64; 2] = [440.0, 410.0];
/// The bars under the frame: fixed joint forward, mm, and their length at mid travel between the joints.
const BARS_FROM_MM: f64 = 255.0;
const BARS_SPREAD_MM: f64 = 340.0;
/// Base of the bars above the floor, mm.
const BASE_MM: f64 = 30.0;
/// Top of the head above the loaded cushion, mm.
pub(super) const SITTING_MM: f64 = 920.0;
/// Height at the middle of the gauge, mm, its scale, and its place forward.
const GAUGE_MM: f64 = 1010.0;
pub(super) const GAUGE_SCALE: f64 = 6.0;
const GAUGE_AT_MM: f64 = 690.0;
/// Width of the picture, mm.
const WIDTH_MM: f64 = 930.0;

/// What the script must know of the picture.
pub(super) fn measures(rig: &Rig, room_mm: f64) -> Value {
    let rise = FRAME_MM - BASE_MM;
    json!({
        "travel_mm": 1000.0 * rig.seat.travel_m,
        "room_mm": room_mm,
        "bumper_mm": BUMPER_MM,
        "tongue_mm": TONGUE_MM,
        "tongue_half_mm": TONGUE_HALF_MM,
        "hip_mm": HIP_MM,
        "ankle_mm": ANKLE_MM,
        "leg_mm": LEG_MM,
        "bars_from_mm": BARS_FROM_MM,
        "bar_mm": rise.hypot(BARS_SPREAD_MM),
        "frame_mm": FRAME_MM,
        "base_mm": BASE_MM,
        "gauge_mm": GAUGE_MM,
        "gauge_scale": GAUGE_SCALE,
    })
}

/// The picture of one seat; `id` is `passive` or `law`, `words` what it is, `room_mm` how far the floor moves.
pub(super) fn svg(rig: &Rig, id: &str, words: &str, room_mm: f64) -> String {
    let top = -(PAN_MM + SITTING_MM + room_mm + 30.0);
    let height = -top + room_mm + 50.0;
    let floor = floor(rig);
    let seat = seat(id == "law");
    let occupant = occupant();
    let gauge = gauge(rig, id == "law");
    format!(
        "<svg id=\"scene-{id}\" class=\"scene {id}\" viewBox=\"0 {top:.0} {WIDTH_MM:.0} {height:.0}\" role=\"img\" \
         aria-labelledby=\"scene-{id}-name\" aria-describedby=\"now-table\">\n\
         <title id=\"scene-{id}-name\">{words}, drawn to scale: floor, stops, seat and occupant</title>\n\
         <line class=\"still\" x1=\"0\" x2=\"{WIDTH_MM:.0}\" y1=\"0\" y2=\"0\"/>\n\
         <g data-part=\"floor\">\n{floor}\
         <path data-part=\"leg\" class=\"limb leg\"/>\n\
         <g data-part=\"seat\">\n{seat}{occupant}</g>\n</g>\n{gauge}</svg>\n"
    )
}

fn floor(rig: &Rig) -> String {
    let travel = 1000.0 * rig.seat.travel_m;
    let reach = TONGUE_HALF_MM + travel;
    let (lower, upper) = (TONGUE_MM - reach, TONGUE_MM + reach);
    let column = upper + BUMPER_MM + 14.0;
    let plate = |height: f64| {
        format!(
            "<rect class=\"steel\" x=\"52\" y=\"{:.1}\" width=\"96\" height=\"14\"/>\n",
            -height
        )
    };
    let bumper = |part: &str, height: f64| {
        format!(
            "<rect data-part=\"{part}\" class=\"bumper\" x=\"72\" y=\"{:.1}\" width=\"70\" height=\"{BUMPER_MM}\"/>\n",
            -height
        )
    };
    format!(
        "<rect class=\"ground\" x=\"0\" y=\"0\" width=\"{WIDTH_MM}\" height=\"34\"/>\n\
         <rect class=\"steel\" x=\"44\" y=\"{:.1}\" width=\"20\" height=\"{column:.1}\"/>\n\
         <rect class=\"steel\" x=\"225\" y=\"-{BASE_MM}\" width=\"400\" height=\"{BASE_MM}\"/>\n{}{}{}{}\
         <line data-part=\"bar-a\" class=\"bar\"/>\n<line data-part=\"bar-b\" class=\"bar\"/>\n\
         <path data-part=\"spring\" class=\"spring\"/>\n",
        -column,
        plate(column),
        plate(lower - BUMPER_MM),
        bumper("upper-stop", upper + BUMPER_MM),
        bumper("lower-stop", lower),
    )
}

fn seat(driven: bool) -> String {
    // A motor beside the spring; the passive seat has a damper there.
    let drive = if driven { "motor" } else { "damper" };
    format!(
        "<rect class=\"{drive}\" x=\"520\" y=\"-{FRAME_MM}\" width=\"46\" height=\"110\"/>\n\
         <rect class=\"frame\" x=\"190\" y=\"-{:.0}\" width=\"480\" height=\"40\"/>\n\
         <rect class=\"frame\" x=\"88\" y=\"-{:.0}\" width=\"110\" height=\"{:.0}\"/>\n\
         <rect class=\"cushion\" x=\"190\" y=\"-{PAN_MM:.0}\" width=\"480\" height=\"{:.0}\" rx=\"34\"/>\n\
         <path class=\"back\" d=\"M182 -370L76 -1000\"/>\n",
        FRAME_MM + 40.0,
        TONGUE_MM + TONGUE_HALF_MM,
        2.0 * TONGUE_HALF_MM,
        PAN_MM - FRAME_MM - 40.0,
    )
}

fn occupant() -> String {
    let [x, y] = HIP_MM;
    let head = PAN_MM + SITTING_MM - 100.0;
    format!(
        "<g data-part=\"occupant\">\n<path class=\"limb torso\" d=\"M{x:.0} -{:.0}L228 -960\"/>\n\
         <path class=\"limb neck\" d=\"M228 -985L246 -{:.0}\"/>\n\
         <ellipse class=\"limb head\" cx=\"252\" cy=\"-{head:.0}\" rx=\"86\" ry=\"100\"/>\n\
         <path class=\"limb arm\" d=\"M232 -965L300 -690L545 -655\"/>\n</g>\n",
        y + 20.0,
        head - 60.0,
    )
}

/// The travel, enlarged.
fn gauge(rig: &Rig, law: bool) -> String {
    let (x, middle) = (GAUGE_AT_MM, -GAUGE_MM);
    let at = |m: f64| middle - GAUGE_SCALE * 1000.0 * m;
    let travel = rig.seat.travel_m;
    let mm = format!("{:.0}", 1000.0 * travel);
    let mut svg = format!(
        "<g class=\"gauge\">\n<line class=\"scale\" x1=\"{x}\" x2=\"{x}\" y1=\"{:.1}\" y2=\"{:.1}\"/>\n",
        at(travel),
        at(-travel)
    );
    for (m, words) in [
        (travel, format!("+{mm}")),
        (0.0, "0".to_owned()),
        (-travel, format!("−{mm}")),
    ] {
        let stop = if m == 0.0 { "tick" } else { "stop" };
        svg += &format!(
            "<line class=\"{stop}\" x1=\"{:.0}\" x2=\"{:.0}\" y1=\"{y:.1}\" y2=\"{y:.1}\"/>\n\
             <text x=\"{:.0}\" y=\"{:.1}\">{words}</text>\n",
            x - 45.0,
            x + 45.0,
            x + 60.0,
            at(m) + 15.0,
            y = at(m),
        );
    }
    if law {
        let usable = f64::from(rig.firmware.isolate.usable_m);
        for m in [usable, -usable] {
            svg += &format!(
                "<line class=\"usable\" x1=\"{:.0}\" x2=\"{:.0}\" y1=\"{y:.1}\" y2=\"{y:.1}\"/>\n",
                x - 34.0,
                x + 34.0,
                y = at(m),
            );
        }
    }
    svg + &format!(
        "<rect data-part=\"bar\" class=\"reach\" x=\"{:.0}\" y=\"{middle}\" width=\"28\" height=\"0\"/>\n\
         <path data-part=\"pointer\" class=\"pointer\" d=\"M{:.0} {middle}l-62 -30v60z\"/>\n\
         <text class=\"unit\" x=\"{x:.0}\" y=\"{:.0}\">travel × {GAUGE_SCALE:.0}, mm</text>\n</g>\n",
        x - 14.0,
        x - 18.0,
        at(travel) - 44.0,
    )
}
