//! The law as a linear system, exact, from the tape of its own steps.
//!
//! The law is run at the operating point until nothing starts any more. What steps from some step on
//! read of steps before it is the state at that step. The halves of the look-ahead take turns, so that
//! the law is periodic in two steps; where no constraint of it is active, both steps are equal.

use super::dual::{self, Dual, Entry};
use super::law::{Law, LawPoint};
use super::state_space::StateSpace;
use firmware::{BuildError, Parameters};
use nalgebra::DMatrix;
use shared_math::Scalar;

/// Readings that the law takes: floor acceleration, seat acceleration, travel.
pub const READINGS: usize = 3;

/// Steps until the look-ahead's search has settled and the start has gone out. Before that, times that bind may
/// still be joined by others.
pub const SETTLE_STEPS: usize = 500;
/// Steps on the tape before the one that is linearised: the forecast's past is full.
const BEFORE: usize = 140;
/// Steps after it, in which the state may be read: more than the forecast reaches back.
const AFTER: usize = 80;
/// Period of the turns.
const PERIOD: usize = 2;

/// Why the law cannot be linearised.
#[derive(Debug, thiserror::Error)]
pub enum LineariseError {
    /// A parameter.
    #[error(transparent)]
    Parameters(#[from] BuildError),
    /// The operating point does not rest.
    #[error("the law's state changes its form from step to step at this operating point")]
    Restless,
}

/// The linear law.
#[derive(Clone, Debug)]
pub struct LinearLaw {
    /// One step, or the steps of the two turns. Inputs: [`READINGS`]; output: current command, A.
    pub steps: Vec<StateSpace>,
    /// Wanted and permitted acceleration at the operating point, m/s^2.
    pub wanted_permitted: (f64, f64),
    /// The current at the operating point, A.
    pub current_a: f64,
}

struct Recorded {
    tape: Vec<Entry>,
    /// First place of each step.
    begins: Vec<u32>,
    inputs: Vec<[u32; READINGS]>,
    outputs: Vec<u32>,
}

/// Linearises the law.
///
/// # Errors
/// A parameter that cannot be used, or an operating point that does not rest.
pub fn linearise(parameters: &Parameters, point: &LawPoint) -> Result<LinearLaw, LineariseError> {
    let mut law = Law::<Dual>::new(parameters, *point)?;
    // Constants leave no trace on the tape.
    for _ in 0..SETTLE_STEPS {
        law.step([Dual::constant(0.0); READINGS]);
    }
    dual::begin_tape();
    let steps = BEFORE + PERIOD + AFTER;
    let mut recorded = Recorded {
        tape: Vec::new(),
        begins: Vec::with_capacity(steps),
        inputs: Vec::with_capacity(steps),
        outputs: Vec::with_capacity(steps),
    };
    let mut last = None;
    for _ in 0..steps {
        recorded.begins.push(dual::tape_length());
        let inputs = [(); READINGS].map(|()| Dual::variable(0.0));
        recorded.inputs.push(inputs.map(Dual::place));
        let output = law.step(inputs);
        recorded.outputs.push(output.current.place());
        last = Some(output);
    }
    recorded.tape = dual::take_tape();
    let Some(last) = last else {
        return Err(LineariseError::Restless);
    };

    let cuts: Vec<Vec<u32>> = (0..=PERIOD)
        .map(|turn| recorded.cut(BEFORE + turn))
        .collect();
    if recorded.ages(&cuts[0], BEFORE) != recorded.ages(&cuts[PERIOD], BEFORE + PERIOD) {
        return Err(LineariseError::Restless);
    }
    let mut turns: Vec<StateSpace> = (0..PERIOD)
        .map(|turn| recorded.step_between(BEFORE + turn, &cuts[turn], &cuts[turn + 1]))
        .collect();
    if let [first, second] = &turns[..]
        && same(first, second)
    {
        turns.truncate(1);
    }
    Ok(LinearLaw {
        steps: turns,
        wanted_permitted: (last.wanted.to_f64(), last.permitted.to_f64()),
        current_a: last.current.to_f64(),
    })
}

fn same(a: &StateSpace, b: &StateSpace) -> bool {
    let near = |x: &DMatrix<f64>, y: &DMatrix<f64>| {
        x.shape() == y.shape() && (x - y).amax() <= 1.0e-12 * x.amax()
    };
    near(&a.a, &b.a) && near(&a.b, &b.b) && near(&a.c, &b.c) && near(&a.d, &b.d)
}

impl Recorded {
    /// Places made before `step` that what the law gives from `step` on depends on, in order.
    fn cut(&self, step: usize) -> Vec<u32> {
        let begin = self.begins[step];
        let mut live = vec![false; self.tape.len()];
        for &output in &self.outputs[step..] {
            live[output as usize] = true;
        }
        for place in (begin as usize..self.tape.len()).rev() {
            if live[place] {
                for (parent, _) in self.tape[place].parents {
                    live[parent as usize] = true;
                }
            }
        }
        (1..begin).filter(|&p| live[p as usize]).collect()
    }

    /// How many steps before `step` each place was made.
    fn ages(&self, cut: &[u32], step: usize) -> Vec<usize> {
        cut.iter()
            .map(|&place| step - self.begins.partition_point(|&b| b <= place))
            .collect()
    }

    /// The derivatives of one step, from the state before to the state after.
    fn step_between(&self, step: usize, before: &[u32], after: &[u32]) -> StateSpace {
        let (n, width) = (before.len(), before.len() + READINGS);
        let (begin, end) = (
            self.begins[step] as usize,
            self.begins
                .get(step + 1)
                .map_or(self.tape.len(), |&b| b as usize),
        );
        let unit = |i: usize| {
            let mut row = vec![0.0; width];
            row[i] = 1.0;
            row
        };
        // Rows of derivatives of this step's places, then of the state before.
        let mut rows: Vec<Vec<f64>> = Vec::with_capacity(end - begin);
        let find = |rows: &[Vec<f64>], place: u32| -> Option<Vec<f64>> {
            match (place as usize).checked_sub(begin) {
                Some(i) => rows.get(i).cloned(),
                None => before.binary_search(&place).ok().map(unit),
            }
        };
        for place in begin..end {
            let row = match self.inputs[step].iter().position(|&p| p as usize == place) {
                Some(i) => unit(n + i),
                None => {
                    let mut row = vec![0.0; width];
                    for (parent, derivative) in self.tape[place].parents {
                        if parent == 0 {
                            continue;
                        }
                        if let Some(other) = find(&rows, parent) {
                            for (x, y) in row.iter_mut().zip(&other) {
                                *x += derivative * y;
                            }
                        }
                    }
                    row
                }
            };
            rows.push(row);
        }
        let matrix = |places: &[u32], from: usize, columns: usize| {
            DMatrix::from_fn(places.len(), columns, |i, j| {
                find(&rows, places[i]).map_or(0.0, |row| row[from + j])
            })
        };
        let output = [self.outputs[step]];
        StateSpace {
            a: matrix(after, 0, n),
            b: matrix(after, n, READINGS),
            c: matrix(&output, 0, n),
            d: matrix(&output, n, READINGS),
        }
    }
}
