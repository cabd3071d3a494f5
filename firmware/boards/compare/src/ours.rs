//! Our side: a configuration, a state and a step for each thing compared.
//!
//! Each is given a plain C entry that is never inlined, because the C side is called that way too.
//! In the law itself these steps are inlined and cost less.

use firmware::estimate::predicted;
use shared_math::{Lag, Observer, ObserverGains};

/// Coefficients of a cascade of `N` second-order sections: b0, b1, b2, -a1, -a2 of each.
pub struct Cascade<const N: usize>(pub [[f32; 5]; N]);

/// Its state, direct form II transposed.
pub struct CascadeState<const N: usize>(pub [[f32; 2]; N]);

impl<const N: usize> Cascade<N> {
    /// One sample through all sections.
    #[inline(always)]
    pub fn step(&self, state: &mut CascadeState<N>, x: f32) -> f32 {
        let sections = self.0.iter().zip(&mut state.0);
        sections.fold(x, |x, (&[b0, b1, b2, a1, a2], [s1, s2])| {
            let y = *s1 + b0 * x;
            *s1 = *s2 + b1 * x + a1 * y;
            *s2 = b2 * x + a2 * y;
            y
        })
    }
}

/// A cascade with its state, for the entry.
pub struct Filter<const N: usize>(pub Cascade<N>, pub CascadeState<N>);

/// Entry of the cascade.
#[inline(never)]
pub extern "C" fn cascade<const N: usize>(filter: &mut Filter<N>, x: f32) -> f32 {
    filter.0.step(&mut filter.1, x)
}

/// A lag with its output, for the entry.
pub struct Pole(pub Lag<f32>, pub f32);

/// Entry of the lag.
#[inline(never)]
pub extern "C" fn lag(pole: &mut Pole, x: f32) -> f32 {
    pole.0.step(&mut pole.1, x)
}

/// Constants of the law's observer.
pub struct ObserverConfig {
    /// Control period, s.
    pub step: f32,
    /// Half its square, s^2.
    pub half_step_squared: f32,
    /// Gains; rows and columns as in `firmware::estimate::Parameters`.
    pub gains: ObserverGains<f32, 6, 2>,
}

/// Its state: floor displacement, velocity, bias; travel, rate, bias of the seat.
pub struct ObserverState {
    /// The states.
    pub observer: Observer<f32, 6>,
    /// Last accelerations of floor and seat, m/s^2.
    pub last: [f32; 2],
}

impl ObserverConfig {
    /// One step with the lines of `firmware::estimate`: input are floor and seat acceleration and
    /// travel, the answer is the travel estimated.
    #[inline(always)]
    pub fn step(&self, state: &mut ObserverState, input: &[f32; 3]) -> f32 {
        let &[floor_accel, seat_accel, travel] = input;
        let [_, _, bf, _, _, bs] = state.observer.state;
        let mean = |a: f32, b: f32| (a + b) * 0.5;
        let floor = mean(state.last[0], floor_accel) - bf;
        let relative = mean(state.last[1], seat_accel) - bs - floor;
        state.last = [floor_accel, seat_accel];
        state.observer.state = predicted(
            &state.observer.state,
            [floor, relative],
            self.step,
            self.half_step_squared,
        );
        let innovation = [-state.observer.state[0], travel - state.observer.state[3]];
        state.observer.correct(&self.gains, &innovation);
        state.observer.state[3]
    }
}

/// The observer with its state, for the entry.
pub struct Seat(pub ObserverConfig, pub ObserverState);

/// Entry of the observer.
#[inline(never)]
pub extern "C" fn observer(seat: &mut Seat, input: &[f32; 3]) -> f32 {
    seat.0.step(&mut seat.1, input)
}

/// What calling an entry costs.
#[inline(never)]
pub extern "C" fn nothing<T>(_: &mut T, x: f32) -> f32 {
    x
}

/// What calling the observer's entry costs, and one load.
#[inline(never)]
pub extern "C" fn nothing_by_address<T>(_: &mut T, input: &[f32; 3]) -> f32 {
    input[2]
}
