//! Sentences of the page: what is shown, how it was thinned, what the set stands for, the keys.

use super::data::Resolutions;
use super::recorder::{FLOOR_CORNER_HZ, Recorded};
use super::scene;

/// Keys: what they are called, what they do.
pub(super) const KEYS: [(&str, &str); 13] = [
    ("Space, K", "play or stop"),
    ("← →", "0.1 s back or on"),
    ("Shift + ← →", "one kept sample back or on"),
    ("Page Up, Page Down", "10 s back or on"),
    ("Home, End", "start or end of the ride"),
    ("N, P", "next or previous event of the kind that is chosen"),
    ("↑ ↓", "faster or slower"),
    (
        "S",
        "slow motion: closest stops and faults, every arrest and fault, off",
    ),
    ("+ −", "shorter or longer stretch in the traces"),
    ("R", "look round: say all values at this moment"),
    (
        "pointer on the traces",
        "drag to pull the ride past the line",
    ),
    (
        "pointer on the time line",
        "press or drag to go there; on a mark to its event",
    ),
    (
        "wheel on the traces",
        "shorter or longer stretch, with Ctrl held",
    ),
];

/// What is shown, in plain sentences.
pub(super) fn shown(room_mm: f64, highest_mm: f64) -> Vec<String> {
    let clipped = if highest_mm > room_mm {
        format!(
            " The floor moves by up to {highest_mm:.0} mm; beyond {room_mm:.0} mm it leaves the picture."
        )
    } else {
        String::new()
    };
    vec![
        format!(
            "Floor, stops, seat and occupant are drawn to one scale, and move by what the bench worked out for each \
             moment. The floor is shown as it moves above {FLOOR_CORNER_HZ} Hz; slower motion would carry it out of the \
             picture.{clipped} The travel beside each occupant is enlarged {:.0} times.",
            scene::GAUGE_SCALE
        ),
        format!(
            "Seat and occupant are schematic and their measures assumed, of no make and no survey: sitting height \
             {:.0} mm, thigh 440 mm, lower leg 410 mm, feet on the floor. The figure has the same size whatever the \
             occupant's mass, and moves with the seat as one piece; the bench's body does not.",
            scene::SITTING_MM
        ),
        "The passive seat is a good one of its own: another spring and damper on the same floor, under the same person."
            .to_owned(),
    ]
}

/// How time and values were thinned.
pub(super) fn thinning(ride: &Recorded, resolutions: &Resolutions) -> Vec<String> {
    let (width, step_s) = (ride.thinner.width(), ride.rig.timing.step_s);
    let kept = if width == 1 {
        format!(
            "Every control period of {} ms is on this page.",
            1000.0 * step_s
        )
    } else {
        format!(
            "This page keeps the least and the greatest value of each signal in every {} ms ({width} control periods), \
             so that no peak is lost, and what moves as it was at the start of each of them. Between these instants \
             motion is drawn as a straight line.",
            1000.0 * step_s * width as f64
        )
    };
    let steps: Vec<String> = resolutions
        .all()
        // Travel stands twice, as a trace and as instants, in the same steps.
        .filter(|(signal, _)| !signal.name.ends_with("TravelAt"))
        .map(|(signal, step)| format!("{} {step} {}", signal.words, signal.unit))
        .collect();
    vec![
        format!(
            "{kept} Zoomed out, the traces show least and greatest values of longer stretches, again without losing a \
             peak. The figures in the table were worked out from the whole ride, not from this page."
        ),
        format!(
            "Values stand as whole numbers of: {}. Each is off by half of that at most.",
            steps.join("; ")
        ),
    ]
}

/// What the curve and the set in the planes are.
pub(super) fn plane(ride: &Recorded) -> String {
    let (arrest, standing) = (&ride.rig.firmware.arrest, &ride.standing);
    let claim = &standing.claim;
    let set = if standing.proved {
        format!(
            "Shaded: the proven set. On any floor of at most {} m/s² and {} m/s³, under any seated occupant of {} to {} kg, \
             the law does not let the seat leave it, and no stop is met faster than {} m/s, while the assumptions of the \
             proof hold. It was proved for this rig when this page was made, in the arithmetic of the ride ({}).",
            claim.floor_accel_mps2,
            claim.floor_jerk_mps3,
            claim.occupant_min_kg,
            claim.occupant_max_kg,
            claim.touch_mps,
            standing.arithmetic
        )
    } else {
        format!(
            "This rig has no proven set: the claim (no stop met faster than {} m/s on floors of at most {} m/s²) could not \
             be proved for it. Hatched outline: the set that was tried, which the seat may leave. The command becalm \
             certify says why.",
            claim.touch_mps, claim.floor_accel_mps2
        )
    };
    format!(
        "Travel rate against travel: what moves right closes in on the upper stop above the middle line, and on the lower \
         one below it. Dashed: the arrest curve, the rate that the law lets the seat have toward a stop, V(d) = √((vc + u)² + 2 A d) \
         − u with A = {} m/s², vc = {} m/s, u = {} m/s and d from the rest point at {:.1} mm. {set} Curve and set are those \
         of the law; beside the passive seat they only stand for comparison. Line: the last two seconds.",
        arrest.braking_mps2,
        arrest.touch_mps,
        arrest.allowance_mps,
        1000.0 * arrest.rest_m
    )
}
