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
        b.view_mut((0, 0), (n1, m0)).copy_from(&(&next.a * &self.b));
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
/// n^2 and not n^3. With fewer outputs than inputs it is kept transposed, for the same reason.
#[derive(Clone, Debug)]
pub struct Response {
    /// Row after row, the sign turned.
    minus_h: Vec<f64>,
    b: DMatrix<f64>,
    c: DMatrix<f64>,
    d: DMatrix<f64>,
    transposed: bool,
}

impl Response {
    /// Makes a square system ready.
    #[must_use]
    pub fn new(system: &StateSpace) -> Self {
        let transposed = system.c.nrows() < system.b.ncols();
        let (a, b, c) = if transposed {
            (
                system.a.transpose(),
                system.c.transpose(),
                system.b.transpose(),
            )
        } else {
            (system.a.clone(), system.b.clone(), system.c.clone())
        };
        let (h, b, c) = if a.nrows() < 2 {
            (a, b, c)
        } else {
            let (q, h) = a.hessenberg().unpack();
            (h, q.transpose() * b, c * q)
        };
        Self {
            minus_h: h.transpose().iter().map(|x| -x).collect(),
            b,
            c,
            d: system.d.clone(),
            transposed,
        }
    }

    /// `c (z I - a)^-1 b + d`.
    #[must_use]
    pub fn at(&self, z: C64) -> DMatrix<C64> {
        let (n, m) = self.b.shape();
        // Rows of the matrix with the right-hand sides behind.
        let width = n + m;
        let mut rows = vec![C64::ZERO; n * width];
        for i in 0..n {
            let row = &mut rows[i * width..(i + 1) * width];
            for (x, &h) in row.iter_mut().zip(&self.minus_h[i * n..(i + 1) * n]) {
                x.re = h;
            }
            row[i] += z;
            for j in 0..m {
                row[n + j].re = self.b[(i, j)];
            }
        }
        // Elimination with the larger of two rows as pivot: below the diagonal stands one element.
        for k in 0..n.saturating_sub(1) {
            let (upper, lower) = rows.split_at_mut((k + 1) * width);
            let (upper, lower) = (&mut upper[k * width..], &mut lower[..width]);
            if lower[k].norm_sqr() > upper[k].norm_sqr() {
                upper[k..].swap_with_slice(&mut lower[k..]);
            }
            if lower[k] == C64::ZERO {
                continue;
            }
            let factor = lower[k] / upper[k];
            for (x, &above) in lower[k..].iter_mut().zip(&upper[k..]) {
                *x -= factor * above;
            }
        }
        for k in (0..n).rev() {
            let (before, row) = rows.split_at_mut(k * width);
            let inverse = row[k].inv();
            let solved = &mut row[n..width];
            solved.iter_mut().for_each(|x| *x *= inverse);
            for above in before.chunks_exact_mut(width) {
                let factor = above[k];
                for (x, &y) in above[n..].iter_mut().zip(solved.iter()) {
                    *x -= factor * y;
                }
            }
        }
        let y = DMatrix::from_fn(self.c.nrows(), m, |i, j| {
            (0..n).fold(C64::ZERO, |sum, k| {
                sum + rows[k * width + n + j] * self.c[(i, k)]
            })
        });
        let y = if self.transposed { y.transpose() } else { y };
        y + self.d.map(|d| C64::new(d, 0.0))
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
