//! Margins over a grid of operating points and over random machines.

use super::limits::{Limits, Worst, inside};
use super::linearise::{LineariseError, linearise};
use super::loops::{Break, ClosedLoop, LawResponse};
use super::margin::{self, Margins};
use super::plant_model::{LinearPlant, Machine};
use super::point::{Bench, Doing, Point, PointError, Sliding};
use super::state_space::spectral_radius;
use super::vary::{Truth, VALUES};
use crate::body::BodyKind;
use crate::parallel::{processors, try_map};
use crate::sensors::Chance;
use serde::Serialize;

/// Why a study cannot be made.
#[derive(Debug, thiserror::Error)]
pub enum StudyError {
    /// An operating point.
    #[error(transparent)]
    Point(#[from] PointError),
    /// The law at a point.
    #[error("{place}: {source}")]
    Law {
        /// Which point.
        place: String,
        /// Why.
        source: LineariseError,
    },
    /// It was interrupted.
    #[error("interrupted; nothing was written")]
    Interrupted,
}

/// Masses of the grid, kg.
pub const MASSES_KG: [f64; 5] = [40.0, 60.0, 80.0, 100.0, 130.0];
/// Amplitudes of the sliding rate, m/s: below the least one friction rules and the seat sticks and slips.
pub const RATES_MPS: [f64; 4] = [0.01, 0.03, 0.1, 1.0];
/// Instants of braking, share of the travel to the rest point.
pub const BRAKING: [f64; 3] = [0.0, 0.5, 0.8];

/// What was found at one point.
#[derive(Clone, Debug, Serialize)]
pub struct Found {
    /// The point.
    #[serde(flatten)]
    pub point: Point,
    /// Margins where the loop is broken, in the order of [`Break::ALL`].
    pub margins: [Margins; 4],
    /// Largest magnitude of the closed loop's poles.
    pub largest_pole: f64,
    /// Number of states of the law.
    pub law_states: usize,
    /// Steps after which the law repeats.
    pub law_period: usize,
}

/// The law at one operating point, ready for any plant.
#[derive(Debug)]
pub struct LawAt {
    /// The point, whose body, force error and travel do not matter here.
    pub point: Point,
    /// The law.
    pub response: LawResponse,
    /// Whether low supply with a hot coil and high supply with a cold coil give the same law.
    pub electrics_alike: bool,
    /// Largest pole of the law alone: what is left where friction holds the seat.
    pub alone: f64,
}

/// A study's settings.
#[derive(Clone, Copy, Debug)]
pub struct StudySpec {
    /// Number of random machines.
    pub draws: usize,
    /// Their seed.
    pub seed: u64,
    /// Largest error of every value, share.
    pub error: f64,
}

impl Default for StudySpec {
    fn default() -> Self {
        Self {
            draws: 2000,
            seed: 1,
            error: 0.1,
        }
    }
}

/// All that was found.
#[derive(Clone, Debug)]
pub struct Study {
    /// The grid.
    pub points: Vec<Found>,
    /// The random machines, each at one point of the grid.
    pub draws: Vec<Found>,
    /// Whether supply and coil temperature made no difference to the law anywhere.
    pub electrics_alike: bool,
    /// Largest pole of the law alone over all points.
    pub law_alone: f64,
}

/// The operating points of the grid.
#[must_use]
pub fn grid(bench: &Bench) -> Vec<Point> {
    let rig = &bench.rig;
    let error = rig.actuator.force_constant_error;
    let places = [(0.0, error), (0.0, 0.0), (0.8, -error)];
    let none = Sliding {
        rate_mps: f64::INFINITY,
        cancelled: 1.0,
    };
    let at = |rate_mps: f64, cancelled: f64| Sliding {
        rate_mps,
        cancelled,
    };
    let mut situations = Vec::new();
    for doing in Doing::ISOLATING {
        situations.push((doing, none));
        if doing == Doing::Isolating {
            situations.extend(RATES_MPS.map(|r| (doing, at(r, 1.0))));
            situations.push((doing, at(RATES_MPS[1], 0.0)));
        } else {
            situations.push((doing, at(RATES_MPS[2], 1.0)));
        }
    }
    let mut points = Vec::new();
    for occupant_kg in MASSES_KG {
        for body in BodyKind::ALL {
            let plain = Point::plain(rig, occupant_kg, body);
            for &(doing, friction) in &situations {
                for (travel_share, force_share) in places {
                    points.push(Point {
                        doing,
                        friction,
                        travel_share,
                        force_share,
                        ..plain
                    });
                }
            }
            for share in BRAKING {
                for force_share in [error, -error] {
                    points.push(Point {
                        doing: Doing::Braking(share),
                        friction: none,
                        force_share,
                        ..plain
                    });
                }
            }
        }
    }
    points
}

/// The law of a point.
///
/// # Errors
/// A parameter that cannot be used, or a point that does not rest.
pub fn law_at(bench: &Bench, point: &Point) -> Result<LawAt, StudyError> {
    let parameters = bench.parameters_at(point);
    let make = |point: &Point| {
        linearise(&parameters, &bench.law_point(point)?).map_err(|source| StudyError::Law {
            place: point.words(),
            source,
        })
    };
    let law = make(point)?;
    let told = &bench.rig.firmware;
    let extreme = |supply_v: f64, coil_c: f64| Point {
        supply_v,
        coil_c,
        ..*point
    };
    let low = make(&extreme(
        f64::from(told.vet.supply_min_v),
        f64::from(told.limit.derate_from_c),
    ))?;
    let high = make(&extreme(bench.rig.supply.chopper_v, -20.0))?;
    let mut whole = law.steps[0].a.clone();
    if let [_, second] = &law.steps[..] {
        whole = &second.a * whole;
    }
    Ok(LawAt {
        point: *point,
        electrics_alike: low.steps == law.steps && high.steps == law.steps,
        alone: spectral_radius(&whole).powf(1.0 / law.steps.len() as f64),
        response: LawResponse::new(&law),
    })
}

/// Whether two points have the same law.
fn same_law(a: &Point, b: &Point) -> bool {
    a.occupant_kg == b.occupant_kg && a.doing == b.doing && a.friction == b.friction
}

/// Margins and poles of a law on a machine.
#[must_use]
pub fn examine(law: &LawAt, machine: &Machine, point: &Point) -> Found {
    let plant = LinearPlant::new(machine);
    let closed = ClosedLoop {
        law: &law.response,
        plant: &plant,
    };
    Found {
        point: *point,
        margins: margin::margins(&closed, machine.step_s),
        largest_pole: closed.largest_pole(),
        law_states: law.response.states(),
        law_period: if law.response.periodic() { 2 } else { 1 },
    }
}

/// Works on all of `items` on all processors, in order; stops when `look` says so.
///
/// # Errors
/// The first failure, or an interruption.
pub(super) fn parallel<T: Sync, R: Send>(
    items: &[T],
    work: impl Fn(&T) -> Result<R, StudyError> + Sync,
    look: impl Fn() -> bool + Sync,
    done: impl Fn(usize) + Sync,
) -> Result<Vec<R>, StudyError> {
    let one = |n: usize| {
        if look() {
            work(&items[n])
        } else {
            Err(StudyError::Interrupted)
        }
    };
    try_map(processors(), items.len(), one, done)
}

/// The laws of all points, and for each point which law is its.
///
/// # Errors
/// As [`law_at`].
pub fn laws(
    bench: &Bench,
    points: &[Point],
    look: impl Fn() -> bool + Sync,
) -> Result<(Vec<LawAt>, Vec<usize>), StudyError> {
    let mut distinct: Vec<Point> = Vec::new();
    let places = points
        .iter()
        .map(|point| {
            distinct
                .iter()
                .position(|other| same_law(point, other))
                .unwrap_or_else(|| {
                    distinct.push(*point);
                    distinct.len() - 1
                })
        })
        .collect();
    let laws = parallel(&distinct, |point| law_at(bench, point), look, |_| ())?;
    Ok((laws, places))
}

/// Makes the study. `look` may stop it by returning false; `done` hears how many machines are through.
///
/// # Errors
/// A parameter that cannot be used, a point that does not rest, or an interruption.
pub fn run(
    bench: &Bench,
    spec: &StudySpec,
    look: impl Fn() -> bool + Sync,
    done: impl Fn(usize) + Sync,
) -> Result<Study, StudyError> {
    let points = grid(bench);
    let (laws, places) = laws(bench, &points, &look)?;
    let told = Truth::of(&bench.rig);
    let mut jobs: Vec<(usize, Machine)> = (points.iter().enumerate())
        .map(|(i, point)| (i, told.machine(bench, point)))
        .collect();
    let mut chance = Chance::new(spec.seed, 11);
    for _ in 0..spec.draws {
        let i = ((0.5 + 0.5 * chance.even()) * points.len() as f64) as usize;
        let i = i.min(points.len() - 1);
        let truth = VALUES.iter().fold(told.clone(), |truth, value| {
            truth.with(value, 1.0 + spec.error * chance.even())
        });
        jobs.push((i, truth.machine(bench, &points[i])));
    }
    let mut all = parallel(
        &jobs,
        |(i, machine)| Ok(examine(&laws[places[*i]], machine, &points[*i])),
        look,
        done,
    )?;
    let draws = all.split_off(points.len());
    Ok(Study {
        points: all,
        draws,
        electrics_alike: laws.iter().all(|law| law.electrics_alike),
        law_alone: laws.iter().fold(0.0, |most, law| f64::max(most, law.alone)),
    })
}

/// Number of machines that [`run`] looks at.
#[must_use]
pub fn count(bench: &Bench, spec: &StudySpec) -> usize {
    grid(bench).len() + spec.draws
}

impl Study {
    /// Worst over isolating points, or over braking instants.
    #[must_use]
    pub fn worst(&self, brakes: bool) -> Worst {
        Worst::of(
            self.points
                .iter()
                .filter(|f| f.point.doing.brakes() == brakes),
        )
    }

    /// Worst over the random machines.
    #[must_use]
    pub fn worst_drawn(&self, brakes: bool) -> Worst {
        Worst::of(
            self.draws
                .iter()
                .filter(|f| f.point.doing.brakes() == brakes),
        )
    }

    /// Worst where the loop is broken at one place only, isolating.
    #[must_use]
    pub fn worst_at(&self, place: Break, brakes: bool) -> Worst {
        Worst::at(
            self.points
                .iter()
                .filter(|f| f.point.doing.brakes() == brakes),
            place,
        )
    }

    /// What of the limits is broken: margins over the isolating grid, poles everywhere.
    #[must_use]
    pub fn broken(&self, limits: &Limits) -> Vec<String> {
        let mut broken = limits.broken(&self.worst(false));
        let pole = |all: &[Found]| {
            all.iter()
                .fold(0.0, |most, f| f64::max(most, f.largest_pole))
        };
        for (all, name) in [
            (&self.points, "at a point of the grid"),
            (&self.draws, "of a random machine"),
        ] {
            let most = pole(all);
            if !inside(most) {
                broken.push(format!("a pole of magnitude {most:.6} {name}"));
            }
        }
        broken
    }
}
