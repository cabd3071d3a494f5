//! Force, heat and modes in time.

use super::collector::{Channel, Collected};
use super::figures_time::{event_shade, ride_axis};
use super::modes::mode_name;
use super::palette::Role;
use super::panel::{Axis, Figure, Layer, Panel};
use crate::summary::Summary;
use firmware::Mode;

/// Force of the actuator and temperature of its winding.
pub(super) fn force_and_heat(ride: &Collected, summary: &Summary) -> Figure {
    let limit = &ride.rig.firmware.limit;
    let force_max = f64::from(limit.force_constant_npa * limit.current_max_a);
    let peak = ride.peak(&[Channel::Force]);
    // A limit far away would flatten the trace; it is then told in words.
    let shown = peak > 0.3 * force_max;
    let reach = if shown { peak.max(force_max) } else { peak };
    let y = Axis::symmetric("force, N", reach, 6);
    let heat = ride
        .envelope
        .least_trace(Channel::HeatShare as usize, 0.0, ride.step_s, force_max);
    let derated = heat.iter().any(|p| p.1 < 0.999 * force_max);
    let mut force = Panel::new("actuator force", 200, ride_axis(ride), y.clone())
        .with(event_shade(ride, &y))
        .line("", Role::Law, 1.0, ride.trace(Channel::Force, 1.0));
    if derated {
        let lower = heat.iter().map(|p| (p.0, -p.1)).collect();
        force = force
            .line("limit left by heat", Role::Limit, 1.5, heat)
            .line("", Role::Limit, 1.5, lower);
    } else if shown {
        force = force.named_levels("current limit", Role::Limit, force_max);
    }

    let (from_c, to_c) = (f64::from(limit.derate_from_c), f64::from(limit.derate_to_c));
    let (low_c, high_c) = ride
        .envelope
        .range(Channel::CoilC as usize)
        .unwrap_or((0.0, 0.0));
    let y = Axis::even(
        "coil, °C",
        (low_c.min(ride.rig.thermal.ambient_c) - 5.0).min(0.0),
        high_c.max(to_c) + 8.0,
        5,
    );
    let level = |y| Layer::Level {
        role: Role::Limit,
        y,
    };
    let coil = Panel::new("coil temperature", 150, ride_axis(ride), y)
        .with_named(
            "derating begins (lower), no current left (upper)",
            level(from_c),
        )
        .with(level(to_c))
        .line("", Role::Law, 2.0, ride.trace(Channel::CoilC, 1.0));
    Figure {
        id: "force",
        title: "Actuator force and coil temperature",
        caption: format!(
            "Upward force positive. The current limit stands for ±{force_max:.0} N by the data \
             sheet's force constant{}. From {from_c:.0} °C the limit falls with coil temperature and \
             is zero at {to_c:.0} °C.",
            if shown {
                ""
            } else {
                ", beyond the scale of this plot"
            }
        ),
        alternative: format!(
            "Force over the ride: {:.1} N r.m.s., {:.1} N at most, limit {force_max:.0} N. Coil \
             temperature up to {:.1} °C; derating begins at {from_c:.0} °C.",
            summary.actuator.force_rms_n,
            summary.actuator.force_peak_n,
            summary.actuator.coil_temperature_max_c
        ),
        panels: Ok(vec![force, coil]),
    }
}

/// Mode intervals as (from, to, code).
fn intervals(ride: &Collected) -> Vec<(f64, f64, u8)> {
    let changes = &ride.modes.changes;
    changes
        .iter()
        .enumerate()
        .map(|(i, change)| {
            let end = changes.get(i + 1).map_or(ride.ridden_s, |next| next.time_s);
            (change.time_s, end, change.mode)
        })
        .collect()
}

/// The supervisor's modes, faults, stop contacts and changes of occupant.
pub(super) fn timeline(ride: &Collected) -> Figure {
    let intervals = intervals(ride);
    let mut codes: Vec<u8> = intervals.iter().map(|i| i.2).collect();
    codes.sort_unstable();
    codes.dedup();
    let faulty: Vec<(f64, f64)> = intervals
        .iter()
        .zip(&ride.modes.changes)
        .filter(|(_, change)| change.faults != 0)
        .map(|(i, _)| (i.0, i.1))
        .collect();

    let mut names: Vec<String> = codes.iter().map(|&c| mode_name(c)).collect();
    let row = |i: usize| -(i as f64);
    // The shortest stay is still to be seen.
    let least_s = 0.002 * ride.ridden_s;
    let mut blocks = Vec::new();
    for &(from, to, code) in &intervals {
        let to = to.max(from + least_s);
        let at = codes.iter().position(|&c| c == code).map_or(0.0, row);
        blocks.push((mode_role(code), (from, to), at));
    }
    if !faulty.is_empty() {
        let at = row(names.len());
        names.push("faults".to_owned());
        blocks.extend(faulty.iter().map(|&span| (Role::Fault, span, at)));
    }
    let law_row = row(names.len());
    names.push("stop, law".to_owned());
    let passive_row = row(names.len());
    names.push("stop, passive".to_owned());

    let height = 26 * names.len() as u32;
    let y = Axis::rows(names);
    let mut panel = Panel::new("", height, ride_axis(ride), y.clone()).with(event_shade(ride, &y));
    for (role, x, at) in blocks {
        panel = panel.with(Layer::Block {
            role,
            opacity: 0.85,
            x,
            y: (at - 0.3, at + 0.3),
        });
    }
    for (role, y, contacts) in [
        (Role::Law, law_row, &ride.modes.law),
        (Role::Stop, passive_row, &ride.modes.passive),
    ] {
        panel = panel.with(Layer::Strokes {
            role,
            y,
            x: contacts.times_s.clone(),
        });
    }
    for change in &ride.spec.changes {
        panel = panel.with(Layer::Moment {
            role: Role::Mark,
            x: change.at_s,
            words: format!("→ {} kg", change.occupant_kg),
        });
    }
    let chain = if ride.spec.changes.is_empty() {
        ""
    } else {
        " Chain lines: change of occupant."
    };
    let more = if ride.modes.left_out > 0 {
        format!(" {} later changes found no room.", ride.modes.left_out)
    } else {
        String::new()
    };
    Figure {
        id: "modes",
        title: "Modes, faults and stop contacts",
        caption: format!(
            "One row for each mode of the supervisor that occurred. Strokes: the moments at which a \
             seat met an end stop, the skipped start included.{chain} \
             Shaded: the roughest moment.{more}"
        ),
        alternative: alternative(ride, &intervals, &codes),
        panels: Ok(vec![panel]),
    }
}

fn alternative(ride: &Collected, intervals: &[(f64, f64, u8)], codes: &[u8]) -> String {
    let times: Vec<String> = codes
        .iter()
        .map(|&code| {
            let total: f64 = intervals
                .iter()
                .filter(|i| i.2 == code)
                .map(|i| i.1 - i.0)
                .sum();
            format!("{} {total:.2} s", mode_name(code))
        })
        .collect();
    format!(
        "Time in each mode: {}. Stop contacts: law {}, passive seat {}.",
        times.join(", "),
        ride.modes.law.count,
        ride.modes.passive.count
    )
}

fn mode_role(code: u8) -> Role {
    match Mode::from_code(code) {
        Some(Mode::Active) => Role::Law,
        Some(Mode::Rise | Mode::Settle) => Role::Estimate,
        Some(Mode::Derated | Mode::Beyond | Mode::Limp) => Role::Passive,
        Some(Mode::Release | Mode::Damped | Mode::Fault) | None => Role::Fault,
        Some(Mode::Off | Mode::Passive) => Role::Floor,
    }
}
