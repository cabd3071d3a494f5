//! The convex program of a bound: unknowns, constraints, solution.
//!
//! Unknowns at each knot: travel, travel rate, state of the weighting, seat acceleration. Acceleration runs
//! linearly between knots, so the step from knot to knot is exact. The matrices are banded: time and memory
//! go with the length of the record. All unknowns are scaled: travel by its limit, acceleration by the
//! floor's r.m.s., time by what follows from the two.

use super::comfort::{Comfort, KnotModel};
use super::relative::{self, Interval};
use super::{BoundError, SolverStatus};
use clarabel::algebra::CscMatrix;
use clarabel::solver::{
    DefaultSettings, DefaultSolver, IPSolver, NonnegativeConeT, SolverStatus as Reported, ZeroConeT,
};

/// What is made small.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Aim {
    /// R.m.s. of the weighted acceleration over the samples that count.
    Rms(Comfort),
    /// The largest magnitude of the acceleration over the samples that count.
    Peak,
}

/// What keeps the seat near the floor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum TravelRule {
    /// At most this far to either side, m.
    Limit(f64),
    /// No limit; the mean square of the travel, times this ((m/s^2)^2/m^2), is added to the mean square of the
    /// acceleration. For checks against closed forms.
    Penalty(f64),
}

/// Motion at a knot.
#[derive(Clone, Debug, PartialEq)]
pub struct KnotState {
    /// Seat less floor, m.
    pub travel_m: f64,
    /// Its rate, m/s.
    pub rate_mps: f64,
    /// State of the weighting, m/s^2.
    pub weighting: Vec<f64>,
    /// Seat acceleration, m/s^2; `None` where it may still be chosen.
    pub accel_mps2: Option<f64>,
}

/// How the motion begins.
#[derive(Clone, Debug, PartialEq)]
pub enum Start {
    /// At rest at mid travel, on a floor at rest, the weighting at rest.
    Rest,
    /// Where another motion has come to.
    At(KnotState),
    /// Anywhere, at any speed.
    Free,
}

/// A program over one stretch of floor.
#[derive(Clone, Debug)]
pub struct Program<'a> {
    /// Floor acceleration, samples, m/s^2. Their number less one is cut to a multiple of `knot_samples`.
    pub floor_mps2: &'a [f64],
    /// Sample period, s.
    pub sample_s: f64,
    /// Samples from knot to knot.
    pub knot_samples: usize,
    /// How often the travel is checked from knot to knot; divides `knot_samples`. Where no sample counts it is
    /// checked at every one.
    pub checks: usize,
    /// First and one past the last sample that count.
    pub counted: (usize, usize),
    /// What is made small.
    pub aim: Aim,
    /// What keeps the seat near the floor.
    pub travel: TravelRule,
    /// How the motion begins.
    pub start: Start,
}

/// The best motion that was found.
#[derive(Clone, Debug)]
pub struct Motion {
    /// Motion at every knot, with the acceleration.
    pub knots: Vec<KnotState>,
    /// Largest acceleration of the samples that count, of a program for the peak, m/s^2.
    pub peak_mps2: f64,
    /// What the solver says.
    pub status: SolverStatus,
    /// Steps of the solver.
    pub iterations: u32,
}

/// Weight of the plain acceleration that makes the solution unique, as share of the mean square that is aimed at.
const TIE_BREAK: f64 = 1.0e-7;
/// The same beside a peak: the mean square of the acceleration over the floor's, as share of the peak over the
/// floor's r.m.s.
const TIE_BREAK_PEAK: f64 = 1.0e-6;
/// The same where nothing counts, so that the seat does not use that time without measure.
const IDLE: f64 = 1.0e-5;
/// Accuracy asked of the solver: feasibility and gap, in scaled units.
const TOLERANCE: f64 = 1.0e-8;
/// Accuracy of each linear solve inside the solver; a step to `TOLERANCE` needs no more.
const REFINEMENT: f64 = 1.0e-8;

/// Triplets of a sparse matrix.
#[derive(Default)]
struct Triplets {
    rows: Vec<usize>,
    columns: Vec<usize>,
    values: Vec<f64>,
}

impl Triplets {
    fn push(&mut self, row: usize, column: usize, value: f64) {
        if value != 0.0 {
            self.rows.push(row);
            self.columns.push(column);
            self.values.push(value);
        }
    }

    fn matrix(self, rows: usize, columns: usize) -> CscMatrix<f64> {
        CscMatrix::new_from_triplets(rows, columns, self.rows, self.columns, self.values)
    }
}

/// Units in which the program is solved.
#[derive(Clone, Copy)]
struct Units {
    travel: f64,
    rate: f64,
    accel: f64,
    /// Step from knot to knot in units of time.
    step: f64,
}

/// Rows of the constraints, equalities first.
struct Rows {
    matrix: Triplets,
    right: Vec<f64>,
}

impl Rows {
    fn row(&mut self, terms: &[(usize, f64)], right: f64) {
        let row = self.right.len();
        for &(column, value) in terms {
            self.matrix.push(row, column, value);
        }
        self.right.push(right);
    }
}

impl Program<'_> {
    /// Solves the program. `stop` is asked at every step of the solver.
    ///
    /// # Errors
    /// [`BoundError::Interrupted`], or [`BoundError::Solver`] when no solution is found.
    pub fn solve(&self, stop: fn() -> bool) -> Result<Motion, BoundError> {
        let intervals = relative::intervals(
            self.floor_mps2,
            self.sample_s,
            self.knot_samples,
            // Where nothing counts the seat may be rough: every sample is checked.
            |k| {
                if self.counted_in(k).is_empty() {
                    self.knot_samples
                } else {
                    self.checks
                }
            },
        );
        let comfort = match self.aim {
            Aim::Rms(comfort) => comfort,
            Aim::Peak => Comfort::Plain,
        };
        let model = KnotModel::new(comfort, self.sample_s, self.knot_samples);
        Layout {
            program: self,
            units: self.units(),
            width: 3 + model.states(),
            model,
            intervals,
        }
        .solve(stop)
    }

    /// Sum of the squares of what is felt of a motion of this program, samples `from` to `to`.
    #[must_use]
    pub fn weighted_squares(&self, motion: &Motion, from: usize, to: usize) -> f64 {
        let Aim::Rms(comfort) = self.aim else {
            return 0.0;
        };
        let model = KnotModel::new(comfort, self.sample_s, self.knot_samples);
        let mut sum = 0.0;
        for (k, pair) in motion.knots.windows(2).enumerate() {
            let mut input = pair[0].weighting.clone();
            input.extend(pair.iter().map(|knot| knot.accel_mps2.unwrap_or_default()));
            let first = k * self.knot_samples;
            for (j, row) in model.outputs.iter().enumerate() {
                if (from..to).contains(&(first + j)) {
                    let value: f64 = row.iter().zip(&input).map(|(c, x)| c * x).sum();
                    sum += value * value;
                }
            }
        }
        sum
    }

    /// Which samples of an interval count, from 0.
    fn counted_in(&self, interval: usize) -> std::ops::Range<usize> {
        let first = interval * self.knot_samples;
        let last = self.knot_samples;
        let (from, to) = self.counted;
        from.saturating_sub(first).min(last)..to.saturating_sub(first).min(last)
    }

    fn units(&self) -> Units {
        let squares: f64 = self.floor_mps2.iter().map(|a| a * a).sum();
        let rms = (squares / self.floor_mps2.len().max(1) as f64).sqrt();
        let accel = if rms > 0.0 { rms } else { 1.0 };
        let travel = match self.travel {
            TravelRule::Limit(limit) => limit,
            TravelRule::Penalty(weight) => accel / weight.sqrt(),
        };
        let time = (travel / accel).sqrt();
        Units {
            travel,
            rate: travel / time,
            accel,
            step: self.knot_samples as f64 * self.sample_s / time,
        }
    }
}

struct Layout<'a> {
    program: &'a Program<'a>,
    units: Units,
    model: KnotModel,
    intervals: Vec<Interval>,
    /// Unknowns a knot: travel, rate, weighting, acceleration.
    width: usize,
}

impl Layout<'_> {
    fn travel(&self, knot: usize) -> usize {
        knot * self.width
    }

    fn rate(&self, knot: usize) -> usize {
        knot * self.width + 1
    }

    fn weighting(&self, knot: usize, state: usize) -> usize {
        knot * self.width + 2 + state
    }

    fn accel(&self, knot: usize) -> usize {
        (knot + 1) * self.width - 1
    }

    /// Columns of state and accelerations that an interval's model takes.
    fn model_columns(&self, interval: usize) -> Vec<usize> {
        let states = self.model.states();
        let mut columns: Vec<usize> = (0..states).map(|i| self.weighting(interval, i)).collect();
        columns.extend([self.accel(interval), self.accel(interval + 1)]);
        columns
    }

    fn unknowns(&self) -> usize {
        let knots = self.width * (self.intervals.len() + 1);
        knots + usize::from(self.program.aim == Aim::Peak)
    }

    /// Terms of the travel at share `x` of an interval, without the floor's part.
    fn travel_terms(&self, interval: usize, x: f64) -> [(usize, f64); 4] {
        let h = self.units.step;
        [
            (self.travel(interval), 1.0),
            (self.rate(interval), h * x),
            (self.accel(interval), h * h * x * x * (0.5 - x / 6.0)),
            (self.accel(interval + 1), h * h * x * x * x / 6.0),
        ]
    }

    fn equalities(&self, rows: &mut Rows) {
        let state = match &self.program.start {
            Start::Rest => Some(KnotState {
                travel_m: 0.0,
                rate_mps: 0.0,
                weighting: vec![0.0; self.model.states()],
                accel_mps2: None,
            }),
            Start::At(state) => Some(state.clone()),
            Start::Free => None,
        };
        if let Some(state) = state {
            let u = &self.units;
            rows.row(&[(self.travel(0), 1.0)], state.travel_m / u.travel);
            rows.row(&[(self.rate(0), 1.0)], state.rate_mps / u.rate);
            for i in 0..self.model.states() {
                let value = state.weighting.get(i).copied().unwrap_or(0.0);
                rows.row(&[(self.weighting(0, i), 1.0)], value / u.accel);
            }
            if let Some(accel) = state.accel_mps2 {
                rows.row(&[(self.accel(0), 1.0)], accel / u.accel);
            }
        }
        for (k, interval) in self.intervals.iter().enumerate() {
            let [a, b, c, d] = self.travel_terms(k, 1.0);
            let moved = interval.displacement_m.last().copied().unwrap_or(0.0) / self.units.travel;
            rows.row(&[a, b, c, d, (self.travel(k + 1), -1.0)], moved);
            let half = 0.5 * self.units.step;
            rows.row(
                &[
                    (self.rate(k), 1.0),
                    (self.accel(k), half),
                    (self.accel(k + 1), half),
                    (self.rate(k + 1), -1.0),
                ],
                interval.velocity_mps / self.units.rate,
            );
            let columns = self.model_columns(k);
            for i in 0..self.model.states() {
                let mut terms: Vec<(usize, f64)> = columns
                    .iter()
                    .enumerate()
                    .map(|(j, &column)| (column, self.model.next[(i, j)]))
                    .collect();
                terms.push((self.weighting(k + 1, i), -1.0));
                rows.row(&terms, 0.0);
            }
        }
    }

    fn inequalities(&self, rows: &mut Rows) {
        if matches!(self.program.travel, TravelRule::Limit(_)) {
            let mut within = |terms: &[(usize, f64)], floor: f64| {
                let negative: Vec<(usize, f64)> = terms.iter().map(|t| (t.0, -t.1)).collect();
                rows.row(terms, 1.0 + floor);
                rows.row(&negative, 1.0 - floor);
            };
            if self.program.start == Start::Free {
                within(&[(self.travel(0), 1.0)], 0.0);
            }
            for (k, interval) in self.intervals.iter().enumerate() {
                let checks = interval.displacement_m.len();
                for (i, moved) in interval.displacement_m.iter().enumerate() {
                    let moved = moved / self.units.travel;
                    if i + 1 == checks {
                        within(&[(self.travel(k + 1), 1.0)], 0.0);
                    } else {
                        let x = (i + 1) as f64 / checks as f64;
                        within(&self.travel_terms(k, x), moved);
                    }
                }
            }
        }
        if self.program.aim == Aim::Peak {
            let peak = self.unknowns() - 1;
            let last = self.intervals.len();
            for k in 0..=last {
                let counts = (k > 0 && !self.program.counted_in(k - 1).is_empty())
                    || (k < last && !self.program.counted_in(k).is_empty());
                if counts {
                    rows.row(&[(self.accel(k), 1.0), (peak, -1.0)], 0.0);
                    rows.row(&[(self.accel(k), -1.0), (peak, -1.0)], 0.0);
                }
            }
            rows.row(&[(peak, -1.0)], 0.0);
        }
    }

    /// Upper triangle of the quadratic part, and the linear part.
    fn aim(&self) -> (CscMatrix<f64>, Vec<f64>) {
        let n = self.unknowns();
        let mut matrix = Triplets::default();
        let mut linear = vec![0.0; n];
        // A sum over knots, not a mean over the record: the solver's accuracy is that of one unknown.
        let share = 1.0 / self.program.knot_samples as f64;
        for k in 0..self.intervals.len() {
            let range = self.program.counted_in(k);
            if !range.is_empty() && self.program.aim != Aim::Peak {
                let columns = self.model_columns(k);
                let mut block = nalgebra::DMatrix::<f64>::zeros(columns.len(), columns.len());
                for row in &self.model.outputs[range.clone()] {
                    block.ger(share, row, row, 1.0);
                }
                for j in 0..columns.len() {
                    for i in 0..=j {
                        let (row, column) =
                            (columns[i].min(columns[j]), columns[i].max(columns[j]));
                        matrix.push(row, column, block[(i, j)]);
                    }
                }
            }
            if let TravelRule::Penalty(_) = self.program.travel {
                matrix.push(self.travel(k), self.travel(k), range.len() as f64 * share);
            }
        }
        let knots = self.intervals.len() + 1;
        let (tie_break, idle) = match self.program.aim {
            Aim::Rms(_) => (TIE_BREAK, IDLE),
            Aim::Peak => (TIE_BREAK_PEAK / knots as f64, IDLE / knots as f64),
        };
        for k in 0..knots {
            let counts = k < self.intervals.len() && !self.program.counted_in(k).is_empty();
            let weight = if counts { tie_break } else { idle };
            matrix.push(self.accel(k), self.accel(k), weight);
        }
        if self.program.aim == Aim::Peak {
            linear[n - 1] = 1.0;
        }
        (matrix.matrix(n, n), linear)
    }

    fn solve(&self, stop: fn() -> bool) -> Result<Motion, BoundError> {
        let n = self.unknowns();
        let mut rows = Rows {
            matrix: Triplets::default(),
            right: Vec::new(),
        };
        self.equalities(&mut rows);
        let equal = rows.right.len();
        self.inequalities(&mut rows);
        let count = rows.right.len();
        let cones = [ZeroConeT(equal), NonnegativeConeT(count - equal)];
        let constraints = rows.matrix.matrix(count, n);
        let (quadratic, linear) = self.aim();
        let settings = DefaultSettings {
            verbose: false,
            tol_gap_abs: TOLERANCE,
            tol_gap_rel: TOLERANCE,
            tol_feas: TOLERANCE,
            iterative_refinement_reltol: REFINEMENT,
            iterative_refinement_abstol: REFINEMENT,
            ..DefaultSettings::default()
        };
        let mut solver = DefaultSolver::new(
            &quadratic,
            &linear,
            &constraints,
            &rows.right,
            &cones,
            settings,
        )
        .map_err(|e| BoundError::Solver(e.to_string()))?;
        solver.set_termination_callback(move |_| stop());
        solver.solve();
        let solution = &solver.solution;
        let status = match solution.status {
            Reported::Solved => SolverStatus::Solved,
            Reported::AlmostSolved => SolverStatus::AlmostSolved,
            Reported::CallbackTerminated => return Err(BoundError::Interrupted),
            other => return Err(BoundError::Solver(format!("{other:?}"))),
        };
        let u = &self.units;
        let x = &solution.x;
        let knots = (0..=self.intervals.len())
            .map(|k| KnotState {
                travel_m: x[self.travel(k)] * u.travel,
                rate_mps: x[self.rate(k)] * u.rate,
                weighting: (0..self.model.states())
                    .map(|i| x[self.weighting(k, i)] * u.accel)
                    .collect(),
                accel_mps2: Some(x[self.accel(k)] * u.accel),
            })
            .collect();
        Ok(Motion {
            knots,
            peak_mps2: match self.program.aim {
                Aim::Peak => x[n - 1] * u.accel,
                Aim::Rms(_) => 0.0,
            },
            status,
            iterations: solution.iterations,
        })
    }
}
