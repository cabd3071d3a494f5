//! What is felt of a seat motion, as a linear system on the knots of the acceleration.
//!
//! Between two knots the seat acceleration runs linearly, so state and output at every sample are linear in
//! the state and acceleration at the first knot and the acceleration at the second. Wk is taken as its
//! formula (ISO 8041-1:2017) without the 100 Hz low-pass: high-pass, transition and step in series, stepped
//! exactly for a linear input. It only steers the search; the figures of a bound are read by
//! [`crate::exposure::ExposureMeter`].

use crate::exposure::weighting::{Weighting, WeightingParameters};
use nalgebra::{DMatrix, DVector, RowDVector};
use std::f64::consts::{FRAC_1_SQRT_2, TAU};

/// How acceleration is weighed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Comfort {
    /// Vertical whole-body vibration, Wk.
    Wk,
    /// All frequencies alike; for checks against closed forms.
    Plain,
}

/// A continuous linear system `x' = A x + B u`, `y = C x + D u`.
#[derive(Clone, Debug)]
pub(crate) struct Continuous {
    pub(crate) a: DMatrix<f64>,
    pub(crate) b: DVector<f64>,
    pub(crate) c: RowDVector<f64>,
    pub(crate) d: f64,
}

impl Continuous {
    fn nothing() -> Self {
        Self {
            a: DMatrix::zeros(0, 0),
            b: DVector::zeros(0),
            c: RowDVector::zeros(0),
            d: 1.0,
        }
    }

    /// `numerator / (s^2 + w/Q s + w^2)`, numerator highest power first. States: `w^2` and `w s` over the
    /// denominator, both of the size of the input.
    pub(crate) fn second_order(numerator: [f64; 3], corner_hz: f64, quality: f64) -> Self {
        let w = TAU * corner_hz;
        let [n2, n1, n0] = numerator;
        Self {
            a: DMatrix::from_row_slice(2, 2, &[0.0, w, -w, -w / quality]),
            b: DVector::from_column_slice(&[0.0, w]),
            c: RowDVector::from_row_slice(&[n0 / (w * w) - n2, n1 / w - n2 / quality]),
            d: n2,
        }
    }

    /// This system, then `next`.
    pub(crate) fn then(self, next: &Self) -> Self {
        let (n, m) = (self.b.len(), next.b.len());
        let mut a = DMatrix::zeros(n + m, n + m);
        a.view_mut((0, 0), (n, n)).copy_from(&self.a);
        a.view_mut((n, n), (m, m)).copy_from(&next.a);
        a.view_mut((n, 0), (m, n)).copy_from(&(&next.b * &self.c));
        let mut b = DVector::zeros(n + m);
        b.rows_mut(0, n).copy_from(&self.b);
        b.rows_mut(n, m).copy_from(&(&next.b * self.d));
        let mut c = RowDVector::zeros(n + m);
        c.columns_mut(0, n).copy_from(&(&self.c * next.d));
        c.columns_mut(n, m).copy_from(&next.c);
        Self {
            a,
            b,
            c,
            d: self.d * next.d,
        }
    }

    /// One step of `step_s` for an input that runs linearly from `u0` to `u1`: `x1 = F x + g0 u0 + g1 u1`.
    pub(crate) fn linear_step(&self, step_s: f64) -> (DMatrix<f64>, DVector<f64>, DVector<f64>) {
        let n = self.b.len();
        let mut m = DMatrix::zeros(n + 2, n + 2);
        m.view_mut((0, 0), (n, n)).copy_from(&(&self.a * step_s));
        m.view_mut((0, n), (n, 1)).copy_from(&(&self.b * step_s));
        m[(n, n + 1)] = 1.0;
        let e = m.exp();
        let g1 = e.view((0, n + 1), (n, 1)).into_owned();
        let g0 = e.view((0, n), (n, 1)) - &g1;
        (
            e.view((0, 0), (n, n)).into_owned(),
            DVector::from_column_slice(g0.as_slice()),
            DVector::from_column_slice(g1.as_slice()),
        )
    }
}

impl Comfort {
    /// The continuous system.
    pub(crate) fn system(self) -> Continuous {
        match self {
            Self::Plain => Continuous::nothing(),
            Self::Wk => band_without_low_pass(&Weighting::Wk.parameters()),
        }
    }
}

fn band_without_low_pass(p: &WeightingParameters) -> Continuous {
    let high_pass = Continuous::second_order([1.0, 0.0, 0.0], p.high_pass_hz, FRAC_1_SQRT_2);
    let mut system = Continuous::nothing().then(&high_pass);
    if let Some(t) = p.transition {
        let w = TAU * t.pole_hz;
        let slope = t.zero_hz.map_or(0.0, |zero| w * w / (TAU * zero));
        system = system.then(&Continuous::second_order(
            [0.0, slope, w * w],
            t.pole_hz,
            t.pole_q,
        ));
    }
    if let Some(s) = p.step {
        let w = TAU * s.zero_hz;
        system = system.then(&Continuous::second_order(
            [1.0, w / s.zero_q, w * w],
            s.pole_hz,
            s.pole_q,
        ));
    }
    system
}

/// The system from knot to knot, with its output at each sample between.
pub(crate) struct KnotModel {
    /// State at the next knot from (state, acceleration here, acceleration there): n x (n + 2).
    pub(crate) next: DMatrix<f64>,
    /// Output at sample j of the interval from the same: m rows of n + 2.
    pub(crate) outputs: Vec<DVector<f64>>,
}

impl KnotModel {
    /// `samples` of `sample_s` make one interval between knots.
    pub(crate) fn new(comfort: Comfort, sample_s: f64, samples: usize) -> Self {
        let system = comfort.system();
        let n = system.b.len();
        let (f, g0, g1) = system.linear_step(sample_s);
        let input = |j: usize| {
            let share = j as f64 / samples as f64;
            let mut row = RowDVector::zeros(n + 2);
            (row[n], row[n + 1]) = (1.0 - share, share);
            row
        };
        let mut state = DMatrix::zeros(n, n + 2);
        state.view_mut((0, 0), (n, n)).fill_with_identity();
        let mut outputs = Vec::with_capacity(samples);
        for j in 0..samples {
            let u = input(j);
            outputs.push((&system.c * &state + &u * system.d).transpose());
            state = &f * &state + &g0 * &u + &g1 * input(j + 1);
        }
        Self {
            next: state,
            outputs,
        }
    }

    /// Number of states.
    pub(crate) fn states(&self) -> usize {
        self.next.nrows()
    }
}
