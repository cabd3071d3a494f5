//! What the firmware thought, against the plant's truth.

use super::collector::{Channel, Collected, VELOCITY_CORNER_HZ};
use super::figures_time::{event_axis, event_shade, peak_of, ride_axis};
use super::palette::Role;
use super::panel::{Axis, Figure, Panel};
use super::window::Signal;
use crate::summary::Summary;

/// Travel rate and floor velocity around the roughest moment.
pub(super) fn closely(ride: &Collected) -> Figure {
    let panel = |heading: &str, truth, estimate| {
        let truth = ride.event.trace(truth, 1.0);
        let estimate = ride.event.trace(estimate, 1.0);
        let y = Axis::symmetric("m/s", peak_of([&truth, &estimate]), 6);
        Panel::new(heading, 160, event_axis(ride), y)
            .line("truth", Role::Truth, 4.5, truth)
            .line("estimate", Role::Estimate, 1.4, estimate)
    };
    Figure {
        id: "estimate-event",
        title: "Estimate against truth, around the roughest moment",
        caption: format!(
            "Broad: truth, from the plant. Narrow: estimate, from the sensors. Floor velocity is \
             shown above {VELOCITY_CORNER_HZ} Hz, for truth and estimate alike: no accelerometer \
             knows the slow part."
        ),
        alternative:
            "Estimated travel rate and floor velocity drawn over the true ones; the figures \
                      of their errors are in the table of estimates."
                .to_owned(),
        panels: Ok(vec![
            panel(
                "travel rate",
                Signal::TravelRate,
                Signal::TravelRateEstimate,
            ),
            panel(
                "floor velocity",
                Signal::FloorVelocity,
                Signal::FloorVelocityEstimate,
            ),
        ]),
    }
}

/// Errors over the whole ride, and supported mass.
pub(super) fn errors(ride: &Collected, summary: &Summary) -> Figure {
    let error = |heading: &str, channel, rms_mps: f64| {
        let trace = ride.trace(channel, 1000.0);
        let y = Axis::symmetric("error, mm/s", peak_of([&trace]), 5);
        Panel::new(
            &format!("{heading}: {:.2} mm/s r.m.s.", 1000.0 * rms_mps),
            120,
            ride_axis(ride),
            y.clone(),
        )
        .with(event_shade(ride, &y))
        .line("", Role::Estimate, 1.0, trace)
    };
    let mass = ride.trace(Channel::MassEstimateKg, 1.0);
    let truth = ride.trace(Channel::MassKg, 1.0);
    let most = peak_of([&mass, &truth]);
    let mass_panel = Panel::new(
        &format!(
            "supported mass: {:+.2} % at the end",
            100.0 * summary.estimate.mass_error_fraction
        ),
        130,
        ride_axis(ride),
        Axis::even("mass, kg", 0.0, (1.15 * most).max(1.0), 5),
    )
    .line("truth", Role::Truth, 4.5, truth)
    .line("estimate", Role::Estimate, 1.4, mass);
    let estimate = &summary.estimate;
    Figure {
        id: "estimate-errors",
        title: "Errors of the estimates, whole ride",
        caption: format!(
            "Estimate less truth, least and greatest value of every {} ms. The r.m.s. figures leave \
             out the first {} s, in which the observer learns the biases of its sensors. Supported \
             mass is the moving mass of the seat and what rests on it.",
            super::figures_time::millis(ride.envelope.width() as f64 * ride.step_s),
            ride.spec.skip_s
        ),
        alternative: format!(
            "Errors over the ride: travel rate {:.2} mm/s r.m.s., floor velocity {:.2} mm/s r.m.s., \
             supported mass {:+.2} % at the end.",
            1000.0 * estimate.travel_rate_rms_error_mps,
            1000.0 * estimate.floor_velocity_rms_error_mps,
            100.0 * estimate.mass_error_fraction
        ),
        panels: Ok(vec![
            error(
                "travel rate",
                Channel::TravelRateError,
                estimate.travel_rate_rms_error_mps,
            ),
            error(
                "floor velocity",
                Channel::FloorVelocityError,
                estimate.floor_velocity_rms_error_mps,
            ),
            mass_panel,
        ]),
    }
}
