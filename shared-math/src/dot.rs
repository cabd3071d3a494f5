//! Scalar product with a fixed order of sums.

use crate::Scalar;

/// `sum_i a[i] b[i]`, added up in four interleaved partial sums, the same on
/// every machine: the parts do not wait for each other.
#[inline(always)]
pub fn dot<S: Scalar, const N: usize>(a: &[S; N], b: &[S; N]) -> S {
    let mut parts = [S::ZERO; 4];
    let (a_chunks, a_rest) = a.as_chunks::<4>();
    let (b_chunks, b_rest) = b.as_chunks::<4>();
    for (x, y) in a_chunks.iter().zip(b_chunks) {
        for ((part, &x), &y) in parts.iter_mut().zip(x).zip(y) {
            *part = *part + x * y;
        }
    }
    for ((part, &x), &y) in parts.iter_mut().zip(a_rest).zip(b_rest) {
        *part = *part + x * y;
    }
    let [p, q, r, s] = parts;
    (p + q) + (r + s)
}
