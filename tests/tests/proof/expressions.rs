//! Whole expressions in the proof's intervals: random ones and the law's own, against what the controller's
//! arithmetics compute (f32, Q24, f64) and, where there is no root, against the exact value (num-rational).

use becalm_tests::proof::{Arithmetic, Expression, Numbers, Op, encloses, exact};
use firmware::arrest::{Ahead, Config};
use host_sim::proof::interval::{Exact, Fixed, Interval, Single};
use host_sim::rig::Rig;
use shared_math::Scalar;

/// A box and points in it.
fn boxed<R: Arithmetic>(n: &mut Numbers, most: f64) -> ([Interval<R>; 3], [[f64; 3]; 5]) {
    let wide = most * n.between(-20.0, 0.0).exp2();
    let ends: [[f64; 2]; 3] = std::array::from_fn(|_| {
        let a = n.between(-most, most);
        [R::nearest(a), R::nearest(a + n.between(0.0, wide))]
    });
    let points = std::array::from_fn(|k| {
        ends.map(|[lo, hi]| match k {
            0 => lo,
            1 => hi,
            _ => R::nearest(n.between(lo, hi)).clamp(lo, hi),
        })
    });
    (ends.map(|[lo, hi]| Interval::new(lo, hi)), points)
}

/// Random expressions on random boxes; with `exactly` the exact values, too.
fn expressions_enclosed<R: Arithmetic>(seed: u64, rounds: usize, exactly: bool) {
    let mut n = Numbers(seed);
    let (mut telling, mut exact_ones) = (0, 0);
    // A root has no rational value.
    let rational = Op::ALL.map(|op| if op == Op::Sqrt { Op::Mul } else { op });
    let ops = if exactly { rational } else { Op::ALL };
    for _ in 0..rounds {
        let expression = Expression::random(&mut n, &ops, 6);
        let (intervals, points) = boxed::<R>(&mut n, 8.0);
        let result = expression.at(&intervals);
        telling += usize::from(result.is_finite() && result.hi() - result.lo() < 100.0);
        for point in points {
            let computed = expression.at(&point.map(R::number)).to_f64();
            assert!(
                result.contains(computed),
                "{}: {computed} is not in {result:?}, at {point:?}: {expression:?}",
                R::NAME
            );
        }
        let value = |point: [f64; 3]| expression.exactly(&point.map(exact));
        if exactly && let Some(answer) = value(points[4]) {
            let point = points[4];
            exact_ones += 1;
            assert!(
                encloses(&result, &answer),
                "{}: exact value is not in {result:?}, at {point:?}: {expression:?}",
                R::NAME
            );
        }
    }
    // Not all of them are everything.
    assert!(2 * telling > rounds, "{telling} of {rounds} tell anything");
    assert!(
        !exactly || 2 * exact_ones > rounds,
        "{exact_ones} of {rounds} exact"
    );
}

#[test]
fn expressions_of_exact_enclosed() {
    expressions_enclosed::<Exact>(0xB234_5678_9ABC_DEF1, 1_000, true);
    expressions_enclosed::<Exact>(0xB334_5678_9ABC_DEF1, 8_000, false);
}

#[test]
fn expressions_of_single_enclosed() {
    expressions_enclosed::<Single>(0xC234_5678_9ABC_DEF1, 1_000, true);
    expressions_enclosed::<Single>(0xD234_5678_9ABC_DEF1, 8_000, false);
}

#[test]
fn expressions_of_fixed_enclosed() {
    expressions_enclosed::<Fixed>(0xE234_5678_9ABC_DEF1, 8_000, false);
}

/// The arrest of the default rig.
fn law<S: Scalar>() -> Config<S> {
    let rig = Rig::default_machine().expect("the default rig");
    rig.firmware
        .arrest
        .build(&rig.firmware.timing)
        .expect("parameters")
}

const fn ahead<S: Copy>([travel, travel_rate, floor_accel]: [S; 3]) -> Ahead<S> {
    Ahead {
        travel,
        travel_rate,
        floor_accel,
    }
}

/// The law's own code on boxes of states, and its code on the states in them.
fn limits_enclosed<R: Arithmetic>(seed: u64) {
    // Travel and rate beyond what the seat can do, and the floor's accelerations that are followed.
    const SCALE: [f64; 3] = [0.08, 2.0, 15.0];
    let (enclosing, computing) = (law::<Interval<R>>(), law::<R::Number>());
    let mut n = Numbers(seed);
    for _ in 0..20_000 {
        let widths = SCALE.map(|s| s * n.between(-24.0, 0.0).exp2());
        let ends: [[f64; 2]; 3] = std::array::from_fn(|k| {
            let a = n.between(-SCALE[k], SCALE[k]);
            [R::nearest(a), R::nearest(a + widths[k])]
        });
        let (lower, upper) =
            enclosing.limits(&ahead(ends.map(|[lo, hi]| Interval::<R>::new(lo, hi))));
        for _ in 0..5 {
            let state = ends.map(|[lo, hi]| match n.below(4) {
                0 => lo,
                1 => hi,
                _ => R::nearest(n.between(lo, hi)).clamp(lo, hi),
            });
            let (low, high) = computing.limits(&ahead(state.map(R::number)));
            assert!(
                lower.contains(low.to_f64()) && upper.contains(high.to_f64()),
                "{}: {low:?} to {high:?} at {state:?}; {lower:?}, {upper:?} on {ends:?}",
                R::NAME
            );
        }
        // The clamp bounds it, whatever the box.
        assert!(
            upper.is_finite() && lower.is_finite(),
            "{upper:?}, {lower:?}"
        );
    }
}

#[test]
fn limits_of_the_law_enclosed() {
    limits_enclosed::<Single>(0xF234_5678_9ABC_DEF1);
    limits_enclosed::<Fixed>(0x1334_5678_9ABC_DEF1);
}

/// At single states the law's intervals are narrow.
fn limits_narrow_at_points<R: Arithmetic>(seed: u64, most: f64) {
    let law = law::<Interval<R>>();
    let mut n = Numbers(seed);
    let mut widest: f64 = 0.0;
    for _ in 0..10_000 {
        let state = [
            n.between(-0.04, 0.04),
            n.between(-1.0, 1.0),
            n.between(-15.0, 15.0),
        ];
        let point = |x: f64| Interval::<R>::point(R::nearest(x));
        let (lower, upper) = law.limits(&ahead(state.map(point)));
        for side in [lower, upper] {
            widest = widest.max(side.hi() - side.lo());
        }
    }
    assert!(widest > 0.0 && widest < most, "{}: {widest} wide", R::NAME);
}

/// The bounds by hand, for g = 60, A = 6.3, speeds v up to 1 and W^2 = 0.0016 + 12.6 d above 0.044. In fixed point the
/// distance is right to a step either way, which is 13 steps of W^2 and with the rest a width of 1.6e-6, in W 4e-6;
/// times g + A v / W^2 = 200 this is 8e-4. In f32 the errors are relative, some four units of 1.2e-7 in W, at most
/// 1.05: 200 times 4e-7 is 8e-5.
#[test]
fn limits_of_the_law_narrow_at_points() {
    limits_narrow_at_points::<Single>(0x2334_5678_9ABC_DEF1, 1.0e-4);
    limits_narrow_at_points::<Fixed>(0x3334_5678_9ABC_DEF1, 1.0e-3);
}
