//! The search: many machines a little, the worst of them thoroughly.
//!
//! First each of a number of machines gets a short search of its own. Then the machines on which most was
//! found get long ones, which begin where the short ones ended; last, the worst floor is tried on
//! neighbouring machines. Every search runs alone, in one thread, from a seed of its own, and
//! searches are put together in their order: the result does not depend on the number of threads.

use super::floor::{Bounds, Knots};
use super::machine::{Machine, Warm};
use super::{Aim, Figures};
use crate::body::BodyKind;
use crate::parallel::{map, try_map};
use crate::ride::RideError;
use crate::rig::Rig;
use crate::sensors::Chance;
use cmaes::{CMAESOptions, DVector, Mode};
use firmware::Parameters;
use std::sync::atomic::{AtomicUsize, Ordering};

/// How to search.
#[derive(Clone, Debug)]
pub struct Plan {
    /// Bounds of the floor.
    pub bounds: Bounds,
    /// Occupants, kg: least and most.
    pub occupants_kg: (f64, f64),
    /// Bodies; at least one.
    pub bodies: Vec<BodyKind>,
    /// Hottest winding at the start, degrees Celsius.
    pub coil_max_c: f64,
    /// What is driven up; each gets its share of the rides.
    pub aims: Vec<Aim>,
    /// Rides to spend, about.
    pub evaluations: usize,
    /// Seed of the search.
    pub seed: u64,
    /// Threads.
    pub threads: usize,
}

/// The worst that was found for an aim.
#[derive(Clone, Debug)]
pub struct Find {
    /// What was driven up.
    pub aim: Aim,
    /// The machine.
    pub machine: Machine,
    /// The floor.
    pub knots: Knots,
    /// What it came to.
    pub figures: Figures,
}

/// All that was found.
#[derive(Clone, Debug)]
pub struct Hunt {
    /// One find an aim, in their order.
    pub finds: Vec<Find>,
    /// Rides in all.
    pub evaluations: usize,
}

/// Machines in the first round of each aim.
const MACHINES: usize = 12;
/// Machines in the second.
const FINALISTS: usize = 3;
/// First spread of the genes, in parts of the largest acceleration.
const SPREAD: f64 = 0.6;

/// The best of one search.
pub(super) struct Best {
    genome: Vec<f64>,
    pub(super) knots: Knots,
    pub(super) figures: Figures,
    score: f64,
    rides: usize,
}

/// Searches. `go_on` is asked before every ride and told how many were made.
///
/// # Errors
/// When a parameter cannot be used.
pub fn run(
    rig: &Rig,
    parameters: &Parameters,
    plan: &Plan,
    go_on: impl Fn(usize) -> bool + Sync,
) -> Result<Hunt, RideError> {
    let done = AtomicUsize::new(0);
    let mut finds = Vec::new();
    let share = plan.evaluations / plan.aims.len().max(1);
    let (short, long) = (share / 3 / MACHINES, share / 2 / FINALISTS);
    for (nth, aim) in plan.aims.iter().enumerate() {
        let ask = || go_on(done.fetch_add(1, Ordering::Relaxed));
        let machines = machines(plan, nth as u64);
        let one = |n: usize| {
            let warm = Warm::start(rig, parameters, machines[n], plan.bounds)?;
            let seed = seed_of(plan, nth, n);
            let from = vec![0.0; warm.genes()];
            let best = evolve(&warm, *aim, from, SPREAD, short, seed, &ask);
            Ok::<_, RideError>((warm, best))
        };
        let mut first = try_map(plan.threads, MACHINES, one, |_| ())?;
        // A stable sort: equal ones stay in their order.
        first.sort_by(|(_, a), (_, b)| b.score.total_cmp(&a.score));
        let second = map(plan.threads, FINALISTS, |n| {
            let (warm, before) = &first[n];
            let seed = seed_of(plan, nth, MACHINES + n);
            let best = evolve(
                warm,
                *aim,
                before.genome.clone(),
                0.5 * SPREAD,
                long,
                seed,
                &ask,
            );
            if best.score > before.score {
                best
            } else {
                again(before)
            }
        });
        let finalists = first.iter().map(|(warm, _)| *warm.machine()).zip(second);
        let Some((machine, best)) = finalists.max_by(|(_, a), (_, b)| a.score.total_cmp(&b.score))
        else {
            continue;
        };
        finds.push(neighbours(
            rig, parameters, plan, *aim, machine, best, &ask,
        )?);
    }
    Ok(Hunt {
        finds,
        evaluations: done.into_inner(),
    })
}

fn again(best: &Best) -> Best {
    Best {
        genome: best.genome.clone(),
        knots: best.knots.clone(),
        ..*best
    }
}

/// Tries the worst floor on machines that differ in one thing.
fn neighbours(
    rig: &Rig,
    parameters: &Parameters,
    plan: &Plan,
    aim: Aim,
    machine: Machine,
    best: Best,
    ask: &(impl Fn() -> bool + Sync),
) -> Result<Find, RideError> {
    let (least, most) = plan.occupants_kg;
    let masses = (0..=9).map(|n| Machine {
        occupant_kg: (least + (most - least) * f64::from(n) / 9.0).round(),
        ..machine
    });
    let bodies = plan.bodies.iter().map(|body| Machine {
        body: *body,
        ..machine
    });
    let seeds = (1..=8).map(|seed| Machine { seed, ..machine });
    let others: Vec<Machine> = masses
        .chain(bodies)
        .chain(seeds)
        .filter(|m| *m != machine)
        .collect();
    let one = |n: usize| -> Result<Figures, RideError> {
        let warm = Warm::start(rig, parameters, others[n], plan.bounds)?;
        if !ask() {
            return Ok(Figures::default());
        }
        Ok(warm.ride(&best.knots)?)
    };
    let tried = try_map(plan.threads, others.len(), one, |_| ())?;
    let mut find = Find {
        aim,
        machine,
        knots: best.knots,
        figures: best.figures,
    };
    for (other, figures) in others.iter().zip(tried) {
        if aim.score(&figures) > aim.score(&find.figures) {
            (find.machine, find.figures) = (*other, figures);
        }
    }
    Ok(find)
}

fn seed_of(plan: &Plan, aim: usize, n: usize) -> u64 {
    plan.seed
        .wrapping_mul(0x9E37_79B9_7F4A_7C15)
        .wrapping_add((aim * 1000 + n) as u64)
}

/// The machines of the first round: the ends of what is allowed, and draws between them.
fn machines(plan: &Plan, nth: u64) -> Vec<Machine> {
    let mut chance = Chance::new(plan.seed, 1000 + nth);
    let (least, most) = plan.occupants_kg;
    (0..MACHINES)
        .map(|n| {
            let between = (least + (most - least) * 0.5 * (1.0 + chance.even())).round();
            Machine {
                occupant_kg: [least, most, between][n % 3],
                body: plan.bodies[(n / 3) % plan.bodies.len()],
                seed: 1 + n as u64,
                coil_c: if n % 4 == 3 { plan.coil_max_c } else { 25.0 },
                shaken: n % 2 == 0,
            }
        })
        .collect()
}

/// One evolution of at most `rides` rides.
pub(super) fn evolve(
    warm: &Warm<'_>,
    aim: Aim,
    from: Vec<f64>,
    spread: f64,
    rides: usize,
    seed: u64,
    ask: &impl Fn() -> bool,
) -> Best {
    let start = warm.knots(&from);
    let mut best = Best {
        figures: Figures::default(),
        score: f64::MIN,
        knots: start,
        genome: from.clone(),
        rides: 0,
    };
    let ride = |genome: &DVector<f64>| {
        if best.rides >= rides || !ask() {
            return 0.0;
        }
        best.rides += 1;
        let knots = warm.knots(genome.as_slice());
        // A floor that cannot be read would have failed in the start already.
        let Ok(figures) = warm.ride(&knots) else {
            return 0.0;
        };
        let score = aim.score(&figures);
        if score > best.score {
            best.genome = genome.as_slice().to_vec();
            (best.knots, best.figures, best.score) = (knots, figures, score);
        }
        score
    };
    let options = CMAESOptions::new(from, spread)
        .mode(Mode::Maximize)
        .max_function_evals(rides)
        .seed(seed);
    if let Ok(mut search) = options.build(ride) {
        let _ = search.run();
    }
    best
}
