//! Discrete linear systems: matrices, frequency response, poles.

use nalgebra::linalg::balancing;
use nalgebra::{Complex, DMatrix, Schur};

/// A complex number.
pub type C64 = Complex<f64>;

/// `x+ = a x + b u`, `y = c x + d u`. Shapes: `a` n' x n, `b` n' x m, `c` p x n, `d` p x m; n' is n but in a
/// step of a periodic system.
#[derive(Clone, Debug, PartialEq)]
pub struct StateSpace {
    /// From state to next state.
    pub a: DMatrix<f64>,
    /// From input to next state.
    pub b: DMatrix<f64>,
    /// From state to output.
    pub c: DMatrix<f64>,
    /// From input to output.
    pub d: DMatrix<f64>,
}

impl StateSpace {
    /// This step and then the `next` one as one system; inputs and outputs one below the other.
    #[must_use]
    pub fn then(&self, next: &Self) -> Self {
        let (p0, p1) = (self.c.nrows(), next.c.nrows());
        let (m0, m1) = (self.b.ncols(), next.b.ncols());
        let (n0, n1) = (self.a.ncols(), next.a.nrows());
        let mut b = DMatrix::zeros(n1, m0 + m1);
        b.view_mut((0, 0), (n1, m0))
            .copy_from(&(&next.a * &self.b));
        b.view_mut((0, m0), (n1, m1)).copy_from(&next.b);
        let mut c = DMatrix::zeros(p0 + p1, n0);
        c.view_mut((0, 0), (p0, n0)).copy_from(&self.c);
        c.view_mut((p0, 0), (p1, n0))
            .copy_from(&(&next.c * &self.a));
        let mut d = DMatrix::zeros(p0 + p1, m0 + m1);
        d.view_mut((0, 0), (p0, m0)).copy_from(&self.d);
        d.view_mut((p0, 0), (p1, m0))
            .copy_from(&(&next.c * &self.b));
        d.view_mut((p0, m0), (p1, m1)).copy_from(&next.d);
        Self {
            a: &next.a * &self.a,
            b,
            c,
            d,
        }
    }
}

/// A system made ready for its frequency response: `a` in Hessenberg form, so that a response costs
/// n^2 and not n^3.
#[derive(Clone, Debug)]
pub struct Response {
    h: DMatrix<f64>,
    b: DMatrix<f64>,
    c: DMatrix<f64>,
    d: DMatrix<f64>,
}

impl Response {
    /// Makes a square system ready.
    #[must_use]
    pub fn new(system: &StateSpace) -> Self {
        if system.a.nrows() < 2 {
            return Self {
                h: system.a.clone(),
                b: system.b.clone(),
                c: system.c.clone(),
                d: system.d.clone(),
            };
        }
        let (q, h) = system.a.clone().hessenberg().unpack();
        Self {
            h,
            b: q.transpose() * &system.b,
            c: &system.c * &q,
            d: system.d.clone(),
        }
    }

    /// `c (z I - a)^-1 b + d`.
    #[must_use]
    pub fn at(&self, z: C64) -> DMatrix<C64> {
        let (n, m) = (self.h.nrows(), self.b.ncols());
        let mut matrix = self.h.map(|x| C64::new(-x, 0.0));
        for i in 0..n {
            matrix[(i, i)] += z;
        }
        let mut x = self.b.map(|x| C64::new(x, 0.0));
        // Elimination with the larger of two rows as pivot: below the diagonal stands one element.
        for k in 0..n.saturating_sub(1) {
            if matrix[(k + 1, k)].norm_sqr() > matrix[(k, k)].norm_sqr() {
                matrix.swap_rows(k, k + 1);
                x.swap_rows(k, k + 1);
            }
            if matrix[(k, k)] == C64::ZERO {
                continue;
            }
            let factor = matrix[(k + 1, k)] / matrix[(k, k)];
            if factor == C64::ZERO {
                continue;
            }
            for j in k..n {
                let above = matrix[(k, j)];
                matrix[(k + 1, j)] -= factor * above;
            }
            for j in 0..m {
                let above = x[(k, j)];
                x[(k + 1, j)] -= factor * above;
            }
        }
        for k in (0..n).rev() {
            let pivot = matrix[(k, k)];
            for j in 0..m {
                let mut sum = x[(k, j)];
                for i in k + 1..n {
                    sum -= matrix[(k, i)] * x[(i, j)];
                }
                x[(k, j)] = sum / pivot;
            }
        }
        let mut y = self.d.map(|d| C64::new(d, 0.0));
        for i in 0..y.nrows() {
            for j in 0..m {
                for k in 0..n {
                    y[(i, j)] += x[(k, j)] * self.c[(i, k)];
                }
            }
        }
        y
    }
}

/// Eigenvalues of a square matrix; `None` when the iteration does not converge.
#[must_use]
pub fn eigenvalues(a: &DMatrix<f64>) -> Option<Vec<C64>> {
    if a.nrows() == 0 {
        return Some(Vec::new());
    }
    if !a.iter().all(|x| x.is_finite()) {
        return None;
    }
    let mut balanced = a.clone();
    let _ = balancing::balance_parlett_reinsch(&mut balanced);
    let schur = Schur::try_new(balanced, 1.0e-15, 200 * a.nrows())?;
    Some(schur.complex_eigenvalues().iter().copied().collect())
}

/// Largest magnitude of the eigenvalues; infinite when they cannot be found.
#[must_use]
pub fn spectral_radius(a: &DMatrix<f64>) -> f64 {
    eigenvalues(a).map_or(f64::INFINITY, |all| {
        all.iter().fold(0.0, |most, z| f64::max(most, z.norm()))
    })
}
