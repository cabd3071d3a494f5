//! Acceleration in time: the whole ride, and the roughest seconds.

use super::collector::{Channel, Collected};
use super::palette::Role;
use super::panel::{Axis, Figure, Layer, Panel};
use super::window::Signal;
use crate::summary::Summary;

/// Label of every axis of ride time.
pub(super) const TIME_LABEL: &str = "time, s";

/// Time axis over the whole ride.
pub(super) fn ride_axis(ride: &Collected) -> Axis {
    Axis::even(TIME_LABEL, 0.0, ride.ridden_s, 12)
}

/// Time axis over the roughest seconds.
pub(super) fn event_axis(ride: &Collected) -> Axis {
    Axis::even(TIME_LABEL, ride.event.start_s, ride.event.end_s, 10)
}

/// The roughest seconds, shaded on an axis of the whole ride.
pub(super) fn event_shade(ride: &Collected, y: &Axis) -> Layer {
    Layer::Block {
        role: Role::Shade,
        opacity: 0.4,
        x: (ride.event.start_s, ride.event.end_s),
        y: (y.low, y.high),
    }
}

/// Peaks of the axes for floor and law, and for the passive seat: one scale unless the passive seat,
/// on its stops, would flatten the others. The words name the difference.
fn scales(peak: f64, passive_peak: f64) -> (f64, f64, String) {
    let ratio = passive_peak / peak;
    if ratio > 2.0 && ratio.is_finite() {
        let note = format!(" (scale {ratio:.0} times as wide)");
        (peak, passive_peak, note)
    } else {
        let both = peak.max(passive_peak);
        (both, both, String::new())
    }
}

/// Floor, passive seat and law below each other, on one scale.
pub(super) fn acceleration(ride: &Collected, summary: &Summary) -> Figure {
    use Channel::{FloorAccel, PassiveAccel, SeatAccel};
    let (peak, passive_peak, note) = scales(
        ride.peak(&[FloorAccel, SeatAccel]),
        ride.peak(&[PassiveAccel]),
    );
    let panel = |heading: &str, channel, role, peak| {
        let y = Axis::symmetric("m/s²", peak, 5);
        Panel::new(heading, 130, ride_axis(ride), y.clone())
            .with(event_shade(ride, &y))
            .line("", role, 1.0, ride.trace(channel, 1.0))
    };
    Figure {
        id: "acceleration",
        title: "Acceleration of floor and seat, whole ride",
        caption: format!(
            "{} Each line passes through the least and the greatest value of \
             every {} ms, so no peak is lost. Shaded: the seconds of the next figure. The first {} s \
             are shown but count in no figure.",
            if note.is_empty() {
                "One scale for all three."
            } else {
                "Floor and law share one scale; the passive seat needs a wider one."
            },
            millis(ride.envelope.width() as f64 * ride.step_s),
            ride.spec.skip_s,
        ),
        alternative: format!(
            "Three traces of vertical acceleration over {:.1} s. Largest magnitudes \
             after the skipped start: floor {:.2}, passive seat {:.2}, seat under the law {:.2} m/s².",
            ride.ridden_s,
            summary.floor.peak_mps2,
            summary.passive.peak_mps2,
            summary.seat.peak_mps2,
        ),
        panels: Ok(vec![
            panel("floor", FloorAccel, Role::Floor, peak),
            panel("seat under the law", SeatAccel, Role::Law, peak),
            panel(
                &format!("passive seat{note}"),
                PassiveAccel,
                Role::PassiveAlone,
                passive_peak,
            ),
        ]),
    }
}

/// Acceleration and travel around the roughest moment of the seat under the law.
pub(super) fn roughest(ride: &Collected) -> Figure {
    let event = &ride.event;
    let trace = |signal, scale| event.trace(signal, scale);
    let floor = trace(Signal::FloorAccel, 1.0);
    let passive = trace(Signal::PassiveAccel, 1.0);
    let law = trace(Signal::SeatAccel, 1.0);
    let passive_mm = trace(Signal::PassiveTravel, 1000.0);
    let law_mm = trace(Signal::Travel, 1000.0);
    let stop_mm = ride.rig.seat.travel_m * 1000.0;
    let peaks = [&floor, &passive, &law].map(|line| peak_of([line]));
    let (peak, passive_peak, note) = scales(peaks[0].max(peaks[2]), peaks[1]);
    let reach = peak_of([&passive_mm, &law_mm]).max(stop_mm);
    let moment = || Layer::Moment {
        role: Role::Mark,
        x: event.peak_s,
        words: String::new(),
    };
    let y = |peak| Axis::symmetric("acceleration, m/s²", peak, 6);
    let floor_line = floor.clone();
    let first = Panel::new("", 220, event_axis(ride), y(peak))
        .with(moment())
        .line("floor", Role::Floor, 1.0, floor);
    let mut panels = if note.is_empty() {
        vec![
            first
                .line("passive seat", Role::Passive, 1.6, passive)
                .line("seat under the law", Role::Law, 2.2, law),
        ]
    } else {
        vec![
            first.line("seat under the law", Role::Law, 2.2, law),
            Panel::new("", 150, event_axis(ride), y(passive_peak))
                .with(moment())
                .line("floor", Role::Floor, 1.0, floor_line)
                .line("passive seat", Role::Passive, 1.6, passive),
        ]
    };
    panels.push(
        Panel::new(
            "",
            200,
            event_axis(ride),
            Axis::symmetric("travel, mm", reach, 7),
        )
        .with(moment())
        .named_levels("end stop", Role::Stop, stop_mm)
        .line("passive seat", Role::Passive, 1.6, passive_mm)
        .line("seat under the law", Role::Law, 2.2, law_mm),
    );
    Figure {
        id: "roughest",
        title: "The roughest moment of the seat under the law",
        caption: format!(
            "{:.1} s around the largest acceleration of the seat under the law, at {:.3} s (chain \
             line), and the travel that led to it.",
            event.end_s - event.start_s,
            event.peak_s
        ),
        alternative: format!(
            "Acceleration of floor, passive seat and law from {:.2} to {:.2} s, and the travel of \
             both seats between the end stops at plus and minus {stop_mm:.0} mm. Largest in this \
             window: floor {:.2}, passive seat {:.2}, law {:.2} m/s².",
            event.start_s, event.end_s, peaks[0], peaks[1], peaks[2],
        ),
        panels: Ok(panels),
    }
}

/// Largest magnitude of some lines.
pub(super) fn peak_of<const N: usize>(lines: [&Vec<(f64, f64)>; N]) -> f64 {
    lines
        .into_iter()
        .flatten()
        .fold(0.0, |peak, p| p.1.abs().max(peak))
}

/// A time in ms without needless digits.
pub(super) fn millis(seconds: f64) -> String {
    let text = format!("{:.2}", seconds * 1000.0);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
