//! The law's observer with the gains of the default rig.

use crate::measure::{by_address, report};
use crate::ours::{self, ObserverConfig, ObserverState, Seat};
use crate::signals::ride;
use crate::theirs::{
    self, ObserverByHand, ObserverInstance, ObserverRows, c_observer_by_hand, c_observer_matrices,
    c_observer_rows,
};
use core::array::from_fn;
use mps2::counter::Counter;
use shared_math::{Observer, ObserverGains};

const WHAT: &str = "observer, 6 states";

/// All comparisons of observers; whether all results are equal.
pub fn compare(counter: &mut Counter) -> bool {
    let ride = ride();
    let k = mps2::TABLE.unchecked().estimate.gains;
    let h = mps2::TABLE.unchecked().timing.step_s;
    let q = 0.5 * h * h;

    let seat = || {
        Seat(
            ObserverConfig {
                step: h,
                half_step_squared: q,
                gains: ObserverGains::from_f32(&k),
            },
            ObserverState {
                observer: Observer::default(),
                last: [0.0; 2],
            },
        )
    };
    let our_run = by_address(
        counter,
        [ours::nothing_by_address, ours::observer],
        (&mut seat(), &mut seat()),
        |seat| seat.1.observer.state,
        &ride,
    );

    // The same prediction as matrices.
    let a = [
        [1.0, h, -q, 0.0, 0.0, 0.0],
        [0.0, 1.0, -h, 0.0, 0.0, 0.0],
        [0.0, 0.0, 1.0, 0.0, 0.0, 0.0],
        [0.0, 0.0, q, 1.0, h, -q],
        [0.0, 0.0, h, 0.0, 1.0, -h],
        [0.0, 0.0, 0.0, 0.0, 0.0, 1.0],
    ];
    let b = [[q, 0.0], [h, 0.0], [0.0; 2], [-q, q], [-h, h], [0.0; 2]];
    let c: [[f32; 6]; 2] = [
        [1.0, 0.0, 0.0, 0.0, 0.0, 0.0],
        [0.0, 0.0, 0.0, 1.0, 0.0, 0.0],
    ];

    let mut states = [[0.0_f32; 6]; 4];
    let [one, two, three, four] = states.each_mut().map(|x| x.as_mut_ptr());
    let instance = |state: *mut f32, scratch: *mut f32| ObserverInstance {
        sizes: [6, 2, 2],
        matrices: [
            a.as_ptr().cast(),
            b.as_ptr().cast(),
            c.as_ptr().cast(),
            k.as_ptr().cast(),
        ],
        state,
        scratch,
        last: [0.0; 2],
    };
    let matrices = by_address(
        counter,
        [theirs::nothing_by_address(), c_observer_matrices],
        (&mut instance(one, two), &mut instance(three, four)),
        // SAFETY: six states, owned by `states`.
        |instance| from_fn(|i| unsafe { instance.state.add(i).read() }),
        &ride,
    );

    let instance = || ObserverRows {
        a,
        b,
        k,
        state: [0.0; 6],
        last: [0.0; 2],
    };
    let rows = by_address(
        counter,
        [theirs::nothing_by_address(), c_observer_rows],
        (&mut instance(), &mut instance()),
        |instance| instance.state,
        &ride,
    );

    let instance = || ObserverByHand {
        step: h,
        half_step_squared: q,
        k,
        state: [0.0; 6],
        last: [0.0; 2],
    };
    let by_hand = by_address(
        counter,
        [theirs::nothing_by_address(), c_observer_by_hand],
        (&mut instance(), &mut instance()),
        |instance| instance.state,
        &ride,
    );

    report(WHAT, "matrix-vector products", true, &our_run, &matrices)
        & report(WHAT, "loops over rows, sizes known", true, &our_run, &rows)
        & report(WHAT, "by hand for this size", true, &our_run, &by_hand)
}
