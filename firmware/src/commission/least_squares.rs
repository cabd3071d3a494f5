//! Linear least squares with four unknowns: rows are rotated into a triangle one by one (Givens).
//!
//! Unlike the normal equations, rotations do not square the condition of the problem, which single
//! precision could not afford. Textbook: Golub and Van Loan, Matrix Computations, chapter 5 (from memory).

use shared_math::Scalar;

/// Unknowns.
pub const UNKNOWNS: usize = 4;
/// A row: coefficients and, last, the right-hand side.
pub type Row = [f32; UNKNOWNS + 1];

/// The rows so far, as a triangle.
#[derive(Clone, Copy, Debug, Default)]
pub struct LeastSquares {
    triangle: [Row; UNKNOWNS],
    squares: f32,
    rows: u16,
    spoiled: bool,
}

impl LeastSquares {
    /// Adds the row `coefficients . x = right-hand side`.
    pub fn add(&mut self, row: Row) {
        let mut row = row;
        // The root below takes what is no number for nothing.
        self.spoiled |= !row.iter().all(|x| x.is_finite());
        for (i, pivot) in self.triangle.iter_mut().enumerate() {
            let [a, b] = [&*pivot, &row].map(|r| r.get(i).copied().unwrap_or(0.0));
            let length = Scalar::sqrt(a * a + b * b);
            if length > 0.0 {
                let (cos, sin) = (a / length, b / length);
                for (p, r) in pivot.iter_mut().zip(row.iter_mut()).skip(i) {
                    (*p, *r) = (cos * *p + sin * *r, cos * *r - sin * *p);
                }
            }
        }
        let [.., left] = row;
        self.squares += left * left;
        self.rows = self.rows.saturating_add(1);
    }

    /// The unknowns, and the root of the mean square of what the rows are missed by. `None` when the rows do
    /// not determine every unknown, or a number is not finite.
    #[must_use]
    pub fn solve(&self) -> Option<([f32; UNKNOWNS], f32)> {
        if self.spoiled {
            return None;
        }
        let mut x = [0.0_f32; UNKNOWNS];
        for (i, row) in self.triangle.iter().enumerate().rev() {
            let [coefficients @ .., right] = row;
            let known: f32 = coefficients
                .iter()
                .zip(&x)
                .skip(i + 1)
                .map(|(a, x)| a * x)
                .sum();
            let pivot = coefficients.get(i).copied()?;
            let value = (right - known) / pivot;
            if !value.is_finite() {
                return None;
            }
            *x.get_mut(i)? = value;
        }
        let miss =
            Scalar::sqrt(self.squares / f32::from(if self.rows == 0 { 1 } else { self.rows }));
        miss.is_finite().then_some((x, miss))
    }
}
