//! A counter-example to a claim about a rig: a floor within the claim's bounds on which a stop is met too fast.
//!
//! First simple floors are ridden: trapezoid waves of the largest acceleration, their slopes at the largest jerk,
//! under light, middling and heavy seated bodies. If none of them will do, the evolution strategy goes on from
//! the worst. Rigid loads are left out, as by the proof: on such floors they go further astray than a claim
//! takes for granted, so a stop that one meets refutes no claim. The rig need not be one that a file may hold.

use super::floor::{Bounds, Knots, Wave};
use super::machine::{Machine, Warm};
use super::search::{self, Find};
use super::{Aim, Figures};
use crate::body::BodyKind;
use crate::design;
use crate::parallel::try_map;
use crate::proof::claim::Claim;
use crate::ride::RideError;
use crate::rig::Rig;
use firmware::Parameters;

/// How much to spend on a counter-example.
#[derive(Clone, Copy, Debug)]
pub struct Effort {
    /// Rides of the evolution strategy, if the simple floors do not do.
    pub rides: usize,
    /// Threads. The answer does not depend on them.
    pub threads: usize,
}

/// Length of the searched part, s: two periods of the slowest wave.
const SEARCHED_S: f64 = 2.0;
/// Start before it, s: the seat rises and the lead-in ends within this.
const START_S: f64 = 10.0;
/// Lowest and highest frequency of a wave, Hz.
const WAVES_HZ: (f64, f64) = (0.5, 12.5);
/// Machines on which the evolution goes on.
const FINALISTS: usize = 4;
/// First spread of the evolution, in parts of the largest acceleration.
const SPREAD: f64 = 0.3;

/// The bounds that a claim sets.
#[must_use]
pub const fn bounds(claim: &Claim) -> Bounds {
    Bounds {
        accel_mps2: claim.floor_accel_mps2,
        jerk_mps3: claim.floor_jerk_mps3,
        searched_s: SEARCHED_S,
        start_s: START_S,
    }
}

/// The simple floors: every wave within a searched part of `genes` knots between its zero ends.
fn waves(bounds: &Bounds, step_s: f64) -> Vec<Wave> {
    let spacing = bounds.periods(step_s) as f64 * step_s;
    let genes = bounds.genes(step_s);
    let most = (0.5 / (WAVES_HZ.0 * spacing)).round() as usize;
    let least = ((0.5 / (WAVES_HZ.1 * spacing)).round() as usize).max(1);
    let mut all = Vec::new();
    // Half a period, in knots: evenly in the logarithm, no more than a dozen.
    let mut half = least;
    while half <= most {
        for halves in [2, 4, 8] {
            for quarter in [false, true] {
                let wave = Wave {
                    half,
                    halves,
                    quarter,
                    falls: false,
                };
                if wave.knots() <= genes {
                    all.push(wave);
                    all.push(Wave {
                        falls: true,
                        ..wave
                    });
                }
            }
        }
        half = (half + 1).max((half as f64 * 1.3) as usize);
    }
    all
}

/// Looks for a floor within a claim's bounds, and a seated occupant within its range, with which a ride of `rig`
/// meets a stop faster than the claim's touch speed. `None`: none was found, which proves nothing.
///
/// The find can be written by [`super::keep`] and ridden again with the same contact speed.
///
/// # Errors
/// When the firmware does not accept the rig's parameters.
pub fn counter_example(
    rig: &Rig,
    claim: &Claim,
    effort: Effort,
    go_on: impl Fn() -> bool + Sync,
) -> Result<Option<Find>, RideError> {
    let parameters = design::parameters(rig)?;
    let bounds = bounds(claim);
    let simple = waves(&bounds, rig.timing.step_s);
    let breaks = |find: &Find| find.figures.contact_speed_mps > claim.touch_mps;
    let mut ridden: Vec<Find> = Vec::new();
    for body in BodyKind::SEATED.into_iter().rev() {
        let machines = machines(rig, claim, body);
        let finds = try_map(
            effort.threads,
            machines.len(),
            |n| ride_all(rig, &parameters, machines[n], bounds, &simple, &go_on),
            |_| (),
        )?;
        ridden.extend(finds.into_iter().flatten());
        worst_first(&mut ridden);
        if let Some(worst) = ridden.first().filter(|find| breaks(find)) {
            return Ok(Some(worst.clone()));
        }
    }
    let finalists = ridden.len().min(FINALISTS);
    let share = effort.rides / FINALISTS;
    let one = |n: usize| {
        let before = &ridden[n];
        let warm = Warm::start(rig, &parameters, before.machine, bounds)?;
        let from = warm.genome(&before.knots);
        let seed = 1 + n as u64;
        let best = search::evolve(&warm, Aim::Contact, from, SPREAD, share, seed, &go_on);
        Ok::<_, RideError>(Find {
            knots: best.knots,
            figures: best.figures,
            ..*before
        })
    };
    let mut searched = try_map(effort.threads, finalists, one, |_| ())?;
    worst_first(&mut searched);
    Ok(searched.into_iter().next().filter(breaks))
}

/// A stable sort: equal ones stay in their order.
fn worst_first(finds: &mut [Find]) {
    finds.sort_by(|a, b| {
        let score = |find: &Find| Aim::Contact.score(&find.figures);
        score(b).total_cmp(&score(a))
    });
}

/// Occupants of the claim, on machines that give less than their data sheet says, and more.
fn machines(rig: &Rig, claim: &Claim, body: BodyKind) -> Vec<Machine> {
    let (least, most) = (claim.occupant_min_kg, claim.occupant_max_kg);
    let mut machines = Vec::new();
    for kg in [most, 0.5 * (least + most), least] {
        for seed in [1, 2] {
            machines.push(Machine {
                occupant_kg: kg.round(),
                body,
                seed,
                coil_c: rig.thermal.ambient_c,
                shaken: true,
            });
        }
    }
    machines
}

/// The worst of the simple floors on one machine.
fn ride_all(
    rig: &Rig,
    parameters: &Parameters,
    machine: Machine,
    bounds: Bounds,
    simple: &[Wave],
    go_on: &impl Fn() -> bool,
) -> Result<Option<Find>, RideError> {
    let warm = Warm::start(rig, parameters, machine, bounds)?;
    let mut worst: Option<(Knots, Figures)> = None;
    for wave in simple {
        if !go_on() {
            break;
        }
        let knots = warm.wave(wave);
        let figures = warm.ride(&knots)?;
        let score = |f: &Figures| Aim::Contact.score(f);
        if worst
            .as_ref()
            .is_none_or(|(_, w)| score(&figures) > score(w))
        {
            worst = Some((knots, figures));
        }
    }
    Ok(worst.map(|(knots, figures)| Find {
        aim: Aim::Contact,
        machine,
        knots,
        figures,
    }))
}
