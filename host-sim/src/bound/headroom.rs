//! Headroom over many floors: passive seat, the law, the best causal linear law, the clairvoyant bound.

use super::pass::{self, BoundSpec};
use super::{BoundError, causal, share_of_possible};
use crate::exposure::seat_value::seat_over_floor;
use crate::floor::FloorSpec;
use crate::parallel::{processors, try_map};
use crate::ride::{self, RideError, RideSpec};
use crate::rig::Rig;
use serde::Serialize;

/// What is compared.
#[derive(Clone, Debug, PartialEq)]
pub struct HeadroomSpec {
    /// Names of floors.
    pub floors: Vec<String>,
    /// Factors on the floors' signals.
    pub levels: Vec<f64>,
    /// Seeds over which the SEAT values are averaged.
    pub seeds: Vec<u64>,
    /// The ride; its floor is replaced.
    pub ride: RideSpec,
    /// Travel to either side for the causal linear law and the bound, m.
    pub travel_m: f64,
}

/// SEAT values on one floor at one level, means over the seeds.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct HeadroomRow {
    /// Name of the floor.
    pub floor: String,
    /// Factor on its signal.
    pub level: f64,
    /// The passive seat.
    pub passive: Option<f64>,
    /// The law.
    pub ours: Option<f64>,
    /// The best causal linear law; `None` on floors other than the invented ones.
    pub causal_linear: Option<f64>,
    /// The clairvoyant bound.
    pub bound: Option<f64>,
    /// (passive - ours) / (passive - bound), of the means.
    pub share_of_possible: Option<f64>,
}

/// One ride.
#[derive(Clone, Copy)]
struct One {
    passive: Option<f64>,
    ours: Option<f64>,
    causal_linear: Option<f64>,
    bound: Option<f64>,
}

/// Works out all rows on all processors, in the order of floors, then levels. `stop` ends the work by returning
/// true; `done` hears how many rides are behind.
///
/// # Errors
/// [`BoundError`].
pub fn run(
    rig: &Rig,
    spec: &HeadroomSpec,
    stop: fn() -> bool,
    done: impl Fn(usize) + Sync,
) -> Result<Vec<HeadroomRow>, BoundError> {
    let mut rides = Vec::new();
    for name in &spec.floors {
        for &level in &spec.levels {
            rides.extend(spec.seeds.iter().map(|&seed| RideSpec {
                floor: FloorSpec {
                    name: name.clone(),
                    level,
                    seed,
                    ..spec.ride.floor.clone()
                },
                ..spec.ride.clone()
            }));
        }
    }
    let all = try_map(
        processors(),
        rides.len(),
        |n| one(rig, &rides[n], spec.travel_m, stop),
        done,
    )?;
    Ok(rides
        .chunks(spec.seeds.len().max(1))
        .zip(all.chunks(spec.seeds.len().max(1)))
        .map(|(rides, ones)| row(&rides[0].floor, ones))
        .collect())
}

fn one(rig: &Rig, ride: &RideSpec, travel_m: f64, stop: fn() -> bool) -> Result<One, BoundError> {
    let rate_hz = 1.0 / rig.timing.step_s;
    let summary = ride::run(rig, ride, |_| !stop()).map_err(|error| match error {
        RideError::Interrupted => BoundError::Interrupted,
        other => Box::new(other).into(),
    })?;
    let causal = causal::best(
        &ride.floor,
        rate_hz,
        ride.seconds,
        ride.skip_s,
        travel_m,
        stop,
    )?;
    let causal_linear = match causal {
        Some(law) => seat_over_floor(law.weighted_rms_mps2, summary.floor.weighted_rms_mps2)?,
        None => None,
    };
    let bound = BoundSpec::new(
        ride.floor.clone(),
        rate_hz,
        ride.seconds,
        ride.skip_s,
        travel_m,
    );
    Ok(One {
        passive: summary.seat_value_passive,
        ours: summary.seat_value,
        causal_linear,
        bound: pass::least_seat_value(&bound, stop)?,
    })
}

fn row(floor: &FloorSpec, ones: &[One]) -> HeadroomRow {
    let mean = |of: fn(&One) -> Option<f64>| {
        let values: Option<Vec<f64>> = ones.iter().map(of).collect();
        values.map(|v| v.iter().sum::<f64>() / v.len() as f64)
    };
    let (passive, ours, bound) = (mean(|o| o.passive), mean(|o| o.ours), mean(|o| o.bound));
    HeadroomRow {
        floor: floor.name.clone(),
        level: floor.level,
        passive,
        ours,
        causal_linear: mean(|o| o.causal_linear),
        bound,
        share_of_possible: share_of_possible(passive, ours, bound),
    }
}
