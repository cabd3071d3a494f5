//! The closed loop, and the same loop broken at one place.
//!
//! A law that repeats after two steps mixes each frequency with the one half the control rate away.
//! Its loop is then a matrix of two by two, exact, in these two frequencies; a law that repeats in every
//! step leaves them apart.

use super::linearise::{LinearLaw, READINGS};
use super::plant_model::LinearPlant;
use super::state_space::{C64, Response, StateSpace, spectral_radius};
use nalgebra::{DMatrix, Matrix2};
use std::collections::HashMap;
use std::sync::RwLock;

/// Where a loop is broken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Break {
    /// At the current command.
    Actuator,
    /// At the floor accelerometer, the others closed.
    FloorAccel,
    /// At the seat accelerometer, the others closed.
    SeatAccel,
    /// At the travel sensor, the others closed.
    Travel,
}

impl Break {
    /// All places.
    pub const ALL: [Self; 4] = [
        Self::Actuator,
        Self::FloorAccel,
        Self::SeatAccel,
        Self::Travel,
    ];

    /// Name in tables and files.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Actuator => "actuator",
            Self::FloorAccel => "floor accelerometer",
            Self::SeatAccel => "seat accelerometer",
            Self::Travel => "travel sensor",
        }
    }

    const fn reading(self) -> Option<usize> {
        match self {
            Self::Actuator => None,
            Self::FloorAccel => Some(0),
            Self::SeatAccel => Some(1),
            Self::Travel => Some(2),
        }
    }
}

/// The law's response, made once for all plants.
#[derive(Debug)]
pub struct LawResponse {
    response: Response,
    periodic: bool,
    steps: Vec<StateSpace>,
    /// Responses at the angles of a grid, which many plants share.
    known: RwLock<HashMap<u64, [Gain; READINGS]>>,
}

/// Gain of a loop at a frequency: a number, or the matrix of a periodic loop in the frequency and its image.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Gain {
    /// The loop of a law that repeats in every step.
    Plain(C64),
    /// That of a law which repeats after two.
    Paired(Matrix2<C64>),
}

impl LawResponse {
    /// Makes the law ready.
    #[must_use]
    pub fn new(law: &LinearLaw) -> Self {
        let whole = match &law.steps[..] {
            [first, second] => first.then(second),
            [one, ..] => one.clone(),
            [] => StateSpace {
                a: DMatrix::zeros(0, 0),
                b: DMatrix::zeros(0, READINGS),
                c: DMatrix::zeros(1, 0),
                d: DMatrix::zeros(1, READINGS),
            },
        };
        Self {
            response: Response::new(&whole),
            periodic: law.steps.len() == 2,
            steps: law.steps.clone(),
            known: RwLock::default(),
        }
    }

    /// Whether the law repeats only after two steps.
    #[must_use]
    pub const fn periodic(&self) -> bool {
        self.periodic
    }

    /// Number of its states.
    #[must_use]
    pub fn states(&self) -> usize {
        self.steps.first().map_or(0, |s| s.a.ncols())
    }

    /// From each reading to the current at an angle of `z` (rad a step) that will be asked for again.
    fn at_grid(&self, angle: f64) -> [Gain; READINGS] {
        let key = angle.to_bits();
        let known = self.known.read().ok().and_then(|k| k.get(&key).copied());
        known.unwrap_or_else(|| {
            let gains = self.at(C64::from_polar(1.0, angle));
            if let Ok(mut known) = self.known.write() {
                known.insert(key, gains);
            }
            gains
        })
    }

    /// From each reading to the current.
    #[must_use]
    pub fn at(&self, z: C64) -> [Gain; READINGS] {
        if !self.periodic {
            let k = self.response.at(z);
            return core::array::from_fn(|j| Gain::Plain(k[(0, j)]));
        }
        let k = self.response.at(z * z);
        // From signals at even and odd steps to the frequency and its image: e + o/z, e - o/z.
        let back = z.inv();
        let to = Matrix2::new(C64::ONE, back, C64::ONE, -back);
        let from = Matrix2::new(C64::ONE, C64::ONE, z, -z) * C64::new(0.5, 0.0);
        core::array::from_fn(|j| {
            let stacked = Matrix2::new(
                k[(0, j)],
                k[(0, j + READINGS)],
                k[(1, j)],
                k[(1, j + READINGS)],
            );
            Gain::Paired(to * stacked * from)
        })
    }
}

/// A law on a plant.
#[derive(Clone, Copy, Debug)]
pub struct ClosedLoop<'a> {
    /// The law.
    pub law: &'a LawResponse,
    /// The plant.
    pub plant: &'a LinearPlant,
}

impl ClosedLoop<'_> {
    /// Loop gains at all [`Break::ALL`], at `z` on the unit circle. The sign is that of negative
    /// feedback: the closed loop has 1 + gain below the line.
    #[must_use]
    pub fn gains(&self, z: C64) -> [Gain; 4] {
        self.with(self.law.at(z), z)
    }

    /// The same at an angle of a grid that many plants share, rad a step.
    #[must_use]
    pub fn gains_on_grid(&self, angle: f64) -> [Gain; 4] {
        self.with(self.law.at_grid(angle), C64::from_polar(1.0, angle))
    }

    fn with(&self, law: [Gain; READINGS], z: C64) -> [Gain; 4] {
        let here = self.plant.to_readings(z);
        if !self.law.periodic {
            let paths: [C64; READINGS] = core::array::from_fn(|j| match law[j] {
                Gain::Plain(k) => k * here[j],
                Gain::Paired(_) => C64::ZERO,
            });
            let all: C64 = paths.iter().sum();
            return Break::ALL.map(|place| {
                Gain::Plain(match place.reading() {
                    None => -all,
                    Some(j) => -paths[j] / (1.0 - (all - paths[j])),
                })
            });
        }
        let image = self.plant.to_readings(-z);
        let reach = |j: usize| Matrix2::new(here[j], C64::ZERO, C64::ZERO, image[j]);
        let matrices: [Matrix2<C64>; READINGS] = core::array::from_fn(|j| match law[j] {
            Gain::Plain(k) => Matrix2::from_diagonal_element(k),
            Gain::Paired(k) => k,
        });
        let paths: [Matrix2<C64>; READINGS] = core::array::from_fn(|j| matrices[j] * reach(j));
        let all: Matrix2<C64> = paths.iter().sum();
        Break::ALL.map(|place| {
            Gain::Paired(match place.reading() {
                None => -all,
                Some(j) => {
                    let others = Matrix2::identity() - (all - paths[j]);
                    match others.try_inverse() {
                        Some(inverse) => -(reach(j) * inverse * matrices[j]),
                        None => Matrix2::from_element(C64::new(f64::INFINITY, 0.0)),
                    }
                }
            })
        })
    }

    /// From floor to seat acceleration; of a law that repeats in every step.
    #[must_use]
    pub fn transmissibility(&self, z: C64) -> Option<C64> {
        let [command, floor] = self.plant.to_seat(z);
        let (readings, from_floor) = (self.plant.to_readings(z), self.plant.floor_to_readings(z));
        let (mut around, mut forward) = (C64::ZERO, C64::ZERO);
        for (j, gain) in self.law.at(z).into_iter().enumerate() {
            let Gain::Plain(k) = gain else { return None };
            around += k * readings[j];
            forward += k * from_floor[j];
        }
        Some(floor + command * forward / (1.0 - around))
    }

    /// The closed loop from one sample to the next, or over the two turns: its eigenvalues are the poles.
    #[must_use]
    pub fn matrix(&self) -> DMatrix<f64> {
        let plant = self.plant.system();
        let mut whole: Option<DMatrix<f64>> = None;
        for law in &self.law.steps {
            let one = close(&plant, law);
            whole = Some(match whole {
                Some(before) => one * before,
                None => one,
            });
        }
        whole.unwrap_or(plant.a)
    }

    /// Largest magnitude of the closed loop's poles, a step.
    #[must_use]
    pub fn largest_pole(&self) -> f64 {
        let radius = spectral_radius(&self.matrix());
        if self.law.periodic {
            radius.sqrt()
        } else {
            radius
        }
    }
}

/// States of the plant, then of the law.
fn close(plant: &StateSpace, law: &StateSpace) -> DMatrix<f64> {
    let n = plant.a.nrows();
    let (after, before) = law.a.shape();
    let mut a = DMatrix::zeros(n + after, n + before);
    a.view_mut((0, 0), (n, n))
        .copy_from(&(&plant.a + &plant.b * &law.d * &plant.c));
    a.view_mut((0, n), (n, before))
        .copy_from(&(&plant.b * &law.c));
    a.view_mut((n, 0), (after, n))
        .copy_from(&(&law.b * &plant.c));
    a.view_mut((n, n), (after, before)).copy_from(&law.a);
    a
}
