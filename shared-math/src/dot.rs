//! Scalar product with a fixed order of sums.

use crate::Scalar;

/// `start + sum_i a[i] b[i]`, added up in two interleaved partial sums, the same on every machine.
#[inline(always)]
pub fn dot_from<S: Scalar, const N: usize>(start: S, a: &[S; N], b: &[S; N]) -> S {
    let mut products = a.iter().zip(b);
    let mut even = start;
    let Some((&x, &y)) = products.next() else {
        return start;
    };
    let mut odd = x * y;
    while let Some((&x, &y)) = products.next() {
        even = even + x * y;
        if let Some((&x, &y)) = products.next() {
            odd = odd + x * y;
        }
    }
    even + odd
}
