//! Forecast of an autoregression's integral, prepared a little a step.
//!
//! Of `x[n] = a1 x[n-1] + ... + aP x[n-P]` with the past `x[0], x[-1], ...` the expected values are
//! `x[n] = sum over i of h[n-i] c_i`, where `h` is the recursion's response to a unit
//! (`h[0] = 1`, `h[m] = a1 h[m-1] + ... + aP h[m-P]`) and `c_i = a_i x[0] + a_(i+1) x[-1] + ...` for
//! `i = 1..P` (textbook material). The response depends on the coefficients alone, which change slowly: it
//! is worked out over many steps, and a step costs a few products for each time asked for.

use crate::delay::push_front;
use crate::{Flag, Plain, Scalar, Turn, dot_from, plain};

/// The response is kept this much smaller than it is: of a resonant recursion it grows into the hundreds,
/// beyond fixed point, while the values forecast stay small.
const UNIT: i32 = 64;

/// Coefficients and the running sum of their response.
#[derive(Clone, Copy, Debug)]
#[repr(C)]
struct Prepared<S, const P: usize, const H: usize> {
    coefficients: [S; P],
    /// Half an interval times `2 (h[0] + ... + h[m-1]) + h[m]`, by [`UNIT`]: the trapezoid rule.
    sums: [S; H],
}

plain!([S: Plain, const P: usize, const H: usize] Prepared<S, P, H> { coefficients, sums });

/// A forecast of order `P` over up to `H - 1` samples: one response in use, one in the making.
#[derive(Clone, Copy, Debug)]
#[repr(C)]
pub struct Forecast<S, const P: usize, const H: usize> {
    /// The odd one is in use.
    turned: Flag,
    /// Samples of the other one that are worked out.
    done: u32,
    response: [S; P],
    sum: S,
    even: Prepared<S, P, H>,
    odd: Prepared<S, P, H>,
}

plain!([S: Plain, const P: usize, const H: usize] Forecast<S, P, H> {
    turned, done, response, sum, even, odd
});

impl<S: Scalar, const P: usize, const H: usize> Default for Forecast<S, P, H> {
    fn default() -> Self {
        const { assert!(P >= 1 && H > P) };
        let nothing = Prepared {
            coefficients: [S::ZERO; P],
            sums: [S::ZERO; H],
        };
        Self {
            even: nothing,
            odd: nothing,
            turned: Flag::new(false),
            done: 0,
            response: [S::ZERO; P],
            sum: S::ZERO,
        }
    }
}

impl<S: Scalar, const P: usize, const H: usize> Forecast<S, P, H> {
    /// Takes the response that is done into use, if it is whole, and begins with new coefficients.
    #[inline]
    pub fn begin(&mut self, coefficients: &[S; P]) {
        self.turned = Flag::new(self.turned.holds() ^ (self.done as usize == H));
        self.done = 0;
        self.response = [S::ZERO; P];
        self.sum = S::ZERO;
        let next = if self.turned.holds() {
            &mut self.even
        } else {
            &mut self.odd
        };
        next.coefficients = *coefficients;
    }

    /// Works out `COUNT` more samples of the response; nothing when fewer are left. `half` is half the interval between samples, s.
    #[inline]
    pub fn work<const COUNT: usize>(&mut self, half: S) {
        let next = if self.turned.holds() {
            &mut self.even
        } else {
            &mut self.odd
        };
        let done = self.done as usize;
        let Some(places) = next.sums.get_mut(done..done.saturating_add(COUNT)) else {
            return;
        };
        let mut start = if done == 0 {
            S::from_q24((1 << 24) / UNIT)
        } else {
            S::ZERO
        };
        let (coefficients, mut response, mut sum) = (next.coefficients, self.response, self.sum);
        for slot in places {
            // The unit comes with the very first sample, before which all are zero.
            let h = dot_from(start, &coefficients, &response);
            start = S::ZERO;
            push_front(&mut response, h);
            let part = half * h;
            *slot = sum + part;
            sum = sum + part + part;
        }
        (self.response, self.sum) = (response, sum);
        self.done += COUNT as u32;
    }

    /// The expected integrals over the next `PER`, `2 PER` ... intervals, of them every other one as the
    /// `turn` says, by the trapezoid rule; before the first response is done the signal is taken to fall to
    /// zero. `recent` is `x[0], x[-1] ...`.
    #[inline]
    pub fn integral<const N: usize, const PER: usize>(
        &self,
        recent: &[S; P],
        half: S,
        turn: Turn,
    ) -> [S; N] {
        const { assert!(2 * N * PER < H) };
        let ready = if self.turned.holds() {
            &self.odd
        } else {
            &self.even
        };
        let mut drive = [S::ZERO; P];
        for (i, slot) in drive.iter_mut().enumerate() {
            let mut products =
                (ready.coefficients.iter().skip(i).zip(recent)).map(|(&a, &x)| (a, x));
            *slot = products.next().map_or(S::ZERO, |(a, x)| a * x);
            for (a, x) in products {
                *slot = *slot + a * x;
            }
        }
        let unit = S::from_f32(UNIT as f32);
        let now = half * recent.first().copied().unwrap_or(S::ZERO);
        // Counted, not chosen, so that all places lie at fixed distances from one.
        let later = turn as usize * PER;
        core::array::from_fn(|i| {
            let mut sum = S::ZERO;
            let end = later + (2 * i + 1) * PER;
            for (n, &c) in drive.iter().enumerate() {
                // Before the first sample there was nothing.
                let response = ready.sums.get(end.wrapping_sub(n + 1)).copied();
                sum = sum + c * response.unwrap_or(S::ZERO);
            }
            now + unit * sum
        })
    }

    /// The coefficients in use.
    #[must_use]
    pub const fn coefficients(&self) -> &[S; P] {
        let ready = if self.turned.holds() {
            &self.odd
        } else {
            &self.even
        };
        &ready.coefficients
    }
}
