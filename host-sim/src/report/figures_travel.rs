//! Travel between the stops, and closing speed against distance.

use super::collector::{Channel, Collected};
use super::figures_time::{event_shade, ride_axis};
use super::palette::Role;
use super::panel::{Axis, Figure, Layer, Panel};
use super::phase::Phase;
use crate::summary::Summary;

/// Points of the arrest curve.
const CURVE_POINTS: usize = 160;

/// Travel of both seats over the whole ride.
pub(super) fn travel(ride: &Collected, summary: &Summary) -> Figure {
    let stop_mm = ride.rig.seat.travel_m * 1000.0;
    let usable_mm = f64::from(ride.rig.firmware.isolate.usable_m) * 1000.0;
    let reach = (1000.0 * ride.peak(&[Channel::Travel, Channel::PassiveTravel])).max(stop_mm);
    let panel = |heading: &str, channel, role, usable: bool| {
        let y = Axis::symmetric("travel, mm", reach, 6);
        let mut panel = Panel::new(heading, 170, ride_axis(ride), y.clone())
            .with(event_shade(ride, &y))
            .line("", role, 1.0, ride.trace(channel, 1000.0))
            .named_levels("end stop", Role::Stop, stop_mm);
        if usable {
            panel = panel.named_levels("usable travel", Role::Limit, usable_mm);
        }
        panel
    };
    Figure {
        id: "travel",
        title: "Travel between the stops",
        caption: format!(
            "Travel of the seat against the floor, upward positive. Full lines: faces of the end \
             stops, ±{stop_mm:.1} mm. Dotted: the ±{usable_mm:.1} mm that isolation plans with; the \
             arrest keeps the rest. Stop contacts after the skipped start: passive seat {}, law {}.",
            summary.passive_travel.stop_contacts, summary.travel.stop_contacts
        ),
        alternative: format!(
            "Two traces of travel in mm between end stops at plus and minus {stop_mm:.1} mm. \
             Largest: passive seat {:.1} mm, seat under the law {:.1} mm.",
            1000.0 * summary.passive_travel.peak_m,
            1000.0 * summary.travel.peak_m
        ),
        panels: Ok(vec![
            panel(
                "passive seat",
                Channel::PassiveTravel,
                Role::PassiveAlone,
                false,
            ),
            panel("seat under the law", Channel::Travel, Role::Law, true),
        ]),
    }
}

/// Closing speed against distance to the stop, with the arrest curve.
pub(super) fn phase_plane(ride: &Collected) -> Figure {
    let arrest = &ride.rig.firmware.arrest;
    let (rest_m, braking, touch, allowance) = (
        f64::from(arrest.rest_m),
        f64::from(arrest.braking_mps2),
        f64::from(arrest.touch_mps),
        f64::from(arrest.allowance_mps),
    );
    let stop_m = ride.rig.seat.travel_m;
    let short_m = stop_m - rest_m;
    // V(d) = sqrt((vc + u)^2 + 2 A d) - u, d counted from where the arrest brings the seat to rest.
    let speed_at = |d: f64| ((touch + allowance).powi(2) + 2.0 * braking * d).sqrt() - allowance;
    let in_mm = |points: &[(f64, f64)]| -> Vec<(f64, f64)> {
        points.iter().map(|p| (1000.0 * p.0, p.1)).collect()
    };
    let boundary = |phase: &Phase| in_mm(&phase.boundary());
    let (law, passive) = (boundary(&ride.phase_law), boundary(&ride.phase_passive));
    let fastest = super::figures_time::peak_of([&law, &passive]);
    let at_end = |points: &[(f64, f64)]| {
        points
            .iter()
            .filter(|p| p.0 <= 1000.0 * short_m + 1.0)
            .fold(0.0, |speed: f64, p| speed.max(p.1))
    };
    let nearest = |points: &[(f64, f64)]| points.first().map_or(f64::NAN, |p| p.0);
    let curve_top = speed_at(stop_m);
    let top = (1.08 * fastest).max(0.6 * curve_top);
    let y = Axis::even("closing speed, m/s", 0.0, top, 7);
    // The curve ends where it leaves the plot: along its edge it would tell a limit that is not there.
    let reach_m = if braking > 0.0 {
        ((top * top - touch * touch) / (2.0 * braking)).clamp(0.0, 2.0 * stop_m)
    } else {
        2.0 * stop_m
    };
    let curve: Vec<(f64, f64)> = (0..=CURVE_POINTS)
        .map(|i| {
            let d = reach_m * i as f64 / CURVE_POINTS as f64;
            (1000.0 * (d + short_m), speed_at(d))
        })
        .collect();
    let low_mm = nearest(&law).min(nearest(&passive)).min(0.0) - 2.0;
    let x = Axis::even(
        "distance to the face of the end stop, mm",
        low_mm,
        2000.0 * stop_m + 2.0,
        10,
    );
    Figure {
        id: "phase-plane",
        title: "Closing speed against distance to the end stop",
        caption: format!(
            "Both ends folded together; an approach runs from right to left. Lines: greatest closing \
             speed met at each distance. Dots: a thinned sample of the ride. The arrest lets the seat \
             close no faster than V(d) = sqrt(vc² + 2 A d), with A = {} m/s², \
             vc = {} m/s and d counted from {:.1} mm before the stop.",
            arrest.braking_mps2,
            arrest.touch_mps,
            1000.0 * short_m
        ),
        alternative: format!(
            "Closing speed against distance to the end stop for both seats with the arrest curve. \
             Within {:.1} mm of the stop the greatest closing speed is {:.3} m/s for the passive \
             seat and {:.3} m/s for the seat under the law.",
            1000.0 * short_m + 1.0,
            at_end(&passive),
            at_end(&law)
        ),
        panels: Ok(vec![
            Panel::new("", 350, x, y)
                .with(Layer::Dots {
                    role: Role::Passive,
                    ring: true,
                    points: in_mm(ride.phase_passive.cloud()),
                })
                .with(Layer::Dots {
                    role: Role::Law,
                    ring: false,
                    points: in_mm(ride.phase_law.cloud()),
                })
                .with(Layer::Moment {
                    role: Role::Stop,
                    x: 0.0,
                    words: "end stop".to_owned(),
                })
                .line("arrest curve", Role::Limit, 2.4, curve)
                .line("passive seat", Role::Passive, 1.6, passive)
                .line("seat under the law", Role::Law, 2.2, law),
        ]),
    }
}
