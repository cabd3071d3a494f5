//! The proof's intervals against exact rational results (num-rational) and against what the controller's own
//! arithmetics really compute (f32, Q24; f64 for the exact ones). Every bound here is one of these two or an IEEE 754
//! property (a correctly rounded result is within one unit in the last place).

use becalm_tests::proof::{Arithmetic, Numbers, Op, encloses, encloses_root, exact};
use host_sim::proof::interval::{Exact, Fixed, Interval, Single};
use num_rational::BigRational;
use shared_math::{Q24, Scalar};

/// An interval with numbers of the type that lie inside it, its ends among them where they are numbers of the type.
struct Operand<R> {
    interval: Interval<R>,
    inside: [f64; 3],
}

fn operand<R: Arithmetic>(n: &mut Numbers) -> Operand<R> {
    let one = R::any(n);
    let mut inside = match n.below(3) {
        0 => [one; 3],
        // Some neighbours.
        1 => {
            let near = |x: f64| R::nearest(x + R::unit(x) * 2.0);
            [one, near(one), near(near(one))]
        }
        _ => [one, R::any(n), R::any(n)],
    };
    if inside.iter().any(|x| x.is_infinite()) {
        inside = [one; 3];
    }
    inside.sort_by(f64::total_cmp);
    // Ends that are no numbers of the controller's type, too.
    let interval = match n.below(3) {
        0 if inside[0].is_normal() && inside[2].is_normal() => {
            let (lo, hi) = (inside[0].next_down(), inside[2].next_up());
            Interval::new(lo.max(f64::MIN), hi.min(f64::MAX))
        }
        _ => Interval::new(inside[2], inside[0]),
    };
    Operand { interval, inside }
}

/// Every operation, on random operands: the exact result and the controller's are inside.
fn operations_enclose<R: Arithmetic>(seed: u64, rounds: usize) {
    let mut n = Numbers(seed);
    let (mut exact_ones, mut saturated) = (0, 0);
    for round in 0..rounds {
        let x: [Operand<R>; 4] = std::array::from_fn(|_| operand(&mut n));
        let op = Op::ALL[round % Op::ALL.len()];
        let result = op.on(&x.each_ref().map(|x| x.interval));
        for pick in 0..4 {
            let values = x
                .each_ref()
                .map(|x| x.inside[if pick == 3 { n.below(3) } else { pick }]);
            let shown = || {
                let intervals = x.each_ref().map(|x| x.interval);
                format!(
                    "{} {op:?} of {values:?} in {intervals:?}: {result:?}",
                    R::NAME
                )
            };
            let computed = op.on(&values.map(R::number)).to_f64();
            assert!(result.contains(computed), "{}: {computed}", shown());

            let rational = values.map(exact);
            let Some(answer) = op.exactly(&rational) else {
                continue;
            };
            let bent = op == Op::DeadZone && !R::holds(&-&rational[1]);
            if bent || !R::holds(&answer) {
                saturated += 1;
                continue;
            }
            exact_ones += 1;
            let inside = if op == Op::Sqrt {
                encloses_root(&result, &answer)
            } else {
                encloses(&result, &answer)
            };
            assert!(inside, "{}: exactly {answer}", shown());
        }
    }
    assert!(exact_ones > rounds, "{exact_ones} of {rounds} exact");
    assert!(saturated < rounds, "{saturated} of {rounds} saturate");
}

#[test]
fn operations_enclose_exact() {
    operations_enclose::<Exact>(0x1234_5678_9ABC_DEF1, 4_000);
}

#[test]
fn operations_enclose_single() {
    operations_enclose::<Single>(0x2234_5678_9ABC_DEF1, 26_000);
}

#[test]
fn operations_enclose_fixed() {
    operations_enclose::<Fixed>(0x3234_5678_9ABC_DEF1, 26_000);
}

/// Results that lie half way or a hair beside half way between two f32: where rounding to nearest decides.
#[test]
fn ties_of_single_enclosed() {
    let half = f64::from(f32::EPSILON) / 2.0;
    for k in 0..64_u32 {
        let a = 1.0 + f64::from(k) * f64::from(f32::EPSILON);
        for b in [
            half,
            half * 1.5,
            half / 2.0,
            half * (1.0 + f64::from(f32::EPSILON)),
        ] {
            for (a, b) in [(a, b), (-a, b), (a, -b), (-a, -b)] {
                let sum = Interval::<Single>::point(a) + Interval::point(b);
                assert!(
                    sum.contains((a as f32 + b as f32).into()),
                    "{a} + {b}: {sum:?}"
                );
                assert!(encloses(&sum, &(exact(a) + exact(b))), "{a} + {b}: {sum:?}");
            }
        }
    }
}

/// Of points of ordinary size the result is as narrow as the arithmetic allows.
fn points_stay_narrow<R: Arithmetic>(seed: u64) {
    let mut n = Numbers(seed);
    for round in 0..20_000 {
        let op = Op::ALL[round % Op::ALL.len()];
        // A product of two of these, and a quotient, stays within 1/64 and 64.
        let x: [f64; 4] = std::array::from_fn(|_| R::nearest(R::ordinary(&mut n) / 2.0));
        let result = op.on(&x.map(Interval::<R>::point));
        assert!(!result.may_be_nan(), "{op:?} of {x:?}: {result:?}");
        // One unit outward on either side of a result that may lie between two numbers; at a power of two the
        // units below are half as large.
        let units = match op {
            Op::Add | Op::Sub | Op::Mul | Op::Div | Op::Sqrt | Op::DeadZone => 3.0,
            _ => 0.0,
        };
        let widest = units * R::unit(result.lo().abs().max(result.hi().abs()));
        let width = result.hi() - result.lo();
        assert!(width <= widest, "{} {op:?} of {x:?}: {result:?}", R::NAME);
    }
}

#[test]
fn points_stay_narrow_in_each() {
    points_stay_narrow::<Exact>(0x4234_5678_9ABC_DEF1);
    points_stay_narrow::<Single>(0x5234_5678_9ABC_DEF1);
    points_stay_narrow::<Fixed>(0x6234_5678_9ABC_DEF1);
}

/// The ends of wide results are those of the corners (each of these operations has its extremes there).
fn corners_reached<R: Arithmetic>(seed: u64) {
    const OPS: [Op; 9] = [
        Op::Add,
        Op::Sub,
        Op::Neg,
        Op::Mul,
        Op::Div,
        Op::Sqrt,
        Op::Min,
        Op::Max,
        Op::Abs,
    ];
    let mut n = Numbers(seed);
    for round in 0..20_000 {
        let op = OPS[round % OPS.len()];
        let x: [f64; 4] = std::array::from_fn(|_| R::nearest(R::ordinary(&mut n) / 2.0));
        let (a, b) = (Interval::<R>::new(x[0], x[1]), Interval::new(x[2], x[3]));
        if op == Op::Div && b.contains(0.0) {
            continue;
        }
        let result = op.on(&[a, b, b, b]);
        let corners = [0, 1].map(|p| [2, 3].map(|q| op.on(&[x[p], x[q], 0.0, 0.0])));
        let mut least = corners
            .as_flattened()
            .iter()
            .copied()
            .fold(f64::INFINITY, f64::min);
        let most = corners
            .as_flattened()
            .iter()
            .copied()
            .fold(f64::NEG_INFINITY, f64::max);
        if op == Op::Abs && a.contains(0.0) {
            least = 0.0;
        }
        let (below, above) = (2.5 * R::unit(least), 2.5 * R::unit(most));
        assert!(
            result.lo() >= least - below && result.hi() <= most + above,
            "{} {op:?} of {a:?}, {b:?}: {result:?}, corners {least} to {most}",
            R::NAME
        );
    }
}

#[test]
fn corners_reached_in_each() {
    corners_reached::<Exact>(0x7234_5678_9ABC_DEF1);
    corners_reached::<Single>(0x8234_5678_9ABC_DEF1);
    corners_reached::<Fixed>(0x9234_5678_9ABC_DEF1);
}

/// Every operation on every pair of hulls of special numbers, as the arithmetic itself computes it.
fn specials_enclosed<R: Arithmetic>(special: &[f64]) {
    let pairs = || (0..special.len()).flat_map(|a| (0..=a).map(move |b| [special[a], special[b]]));
    let hull = |p: [f64; 2]| Interval::<R>::point(p[0]).hull(Interval::point(p[1]));
    let mut computed = [0; Op::ALL.len()];
    for a in pairs() {
        for b in pairs() {
            for (op, computed) in Op::ALL.into_iter().zip(&mut computed) {
                // The third and fourth operand, where there are any, are the first ones once more.
                let result = op.on(&[hull(a), hull(b), hull(a), hull(b)]);
                for k in 0..16 {
                    let value = |pair: [f64; 2], bit: usize| R::number(pair[k >> bit & 1]);
                    let x = [value(a, 0), value(b, 1), value(a, 2), value(b, 3)];
                    let number = op.on(&x);
                    assert!(
                        result.contains(number.to_f64()),
                        "{} {op:?} of {x:?}, {a:?} and {b:?}: {number:?} is not in {result:?}",
                        R::NAME
                    );
                    // Surely finite is a promise.
                    assert!(!result.is_finite() || number.is_finite(), "{op:?} of {x:?}");
                    *computed += 1;
                    if matches!(op, Op::Neg | Op::Sqrt | Op::Abs) && k > 0 {
                        break;
                    }
                }
            }
        }
    }
    assert!(
        computed.iter().all(|n| *n > 2 * special.len()),
        "{computed:?}"
    );
}

#[test]
fn specials_of_single_enclosed() {
    let least = f64::from(f32::from_bits(1));
    specials_enclosed::<Single>(&[
        f64::NAN,
        f64::INFINITY,
        f64::NEG_INFINITY,
        f32::MAX.into(),
        f32::MIN.into(),
        f32::MIN_POSITIVE.into(),
        least,
        -least,
        0.0,
        -0.0,
        1.0,
        -1.0,
        3.0,
    ]);
}

#[test]
fn specials_of_exact_enclosed() {
    specials_enclosed::<Exact>(&[
        f64::NAN,
        f64::INFINITY,
        f64::NEG_INFINITY,
        f64::MAX,
        f64::MIN,
        f64::from_bits(1),
        0.0,
        -0.0,
        1.0,
        -3.0,
    ]);
}

#[test]
fn specials_of_fixed_enclosed() {
    let step = becalm_tests::proof::STEP;
    specials_enclosed::<Fixed>(&[
        -128.0,
        step - 128.0,
        128.0 - step,
        -step,
        0.0,
        step,
        1.0,
        -1.0,
        -3.0,
    ]);
}

/// NaN in each of three operands of `limit`, and in each of four of `select_ge`, on their own.
#[test]
fn nan_in_any_place_enclosed() {
    let all = [f32::NAN, f32::INFINITY, f32::NEG_INFINITY, -1.0, 0.0, 2.0];
    let count = all.len();
    for k in 0..count.pow(4) {
        let x = [0, 1, 2, 3].map(|place| all[k / count.pow(place) % count]);
        let intervals = x.map(|x| Interval::<Single>::point(x.into()));
        for op in [Op::Limit, Op::SelectGe] {
            let (result, number) = (op.on(&intervals), op.on(&x));
            assert!(
                result.contains(number.into()),
                "{op:?} of {x:?}: {result:?}"
            );
        }
    }
    // What the flag says.
    assert!(Interval::<Single>::point(f64::NAN).may_be_nan());
    assert!(Interval::<Single>::anything().contains(f64::NAN));
    assert!(!Interval::<Single>::new(-1.0, 1.0).contains(f64::NAN));
    assert!(Interval::<Single>::new(-1.0, 1.0).is_finite());
    // An end that is no number bounds nothing.
    for odd in [
        Interval::<Single>::new(f64::NAN, 1.0),
        Interval::new(1.0, f64::NAN),
    ] {
        assert!(odd.contains(-7.0) && odd.contains(f64::NAN), "{odd:?}");
    }
}

/// The fixed-point type has no NaN; an interval that was marked so all the same must not lose its numbers: the
/// magnitude of -128 is not 128 but the largest number.
#[test]
fn marked_fixed_keeps_saturating() {
    fn least_magnitude<S: Scalar>() -> (S, S) {
        let large = Scalar::abs(Scalar::div(S::ONE, S::ZERO)) + S::from_f32(127.9);
        let least = large * S::from_f32(-1.5);
        (least, Scalar::abs(least))
    }
    let (least, magnitude) = least_magnitude::<Interval<Fixed>>();
    let (number, computed) = least_magnitude::<Q24>();
    assert_eq!(number.to_bits(), i32::MIN);
    assert!(least.may_be_nan() && least.contains(-128.0), "{least:?}");
    assert!(
        magnitude.contains(computed.to_f64()),
        "{computed:?} is not in {magnitude:?}"
    );
}

/// Constants as each arithmetic keeps them.
#[test]
fn constants_enclosed() {
    let mut n = Numbers(0xA234_5678_9ABC_DEF1);
    for _ in 0..20_000 {
        let x = <Single as Arithmetic>::any(&mut n) as f32;
        let bits = n.bits() as i32;
        assert!(Interval::<Single>::from_f32(x).contains(x.into()));
        assert!(Interval::<Exact>::from_f32(x).contains(x.into()));
        let fixed = Interval::<Fixed>::from_f32(x);
        assert!(fixed.contains(Q24::from_f32(x).to_f64()), "{x}: {fixed:?}");
        assert_eq!(fixed.lo(), fixed.hi(), "{x}");
        assert!(
            Interval::<Single>::from_q24(bits).contains(f32::from_q24(bits).into()),
            "{bits}"
        );
        let count = exact(f64::from(bits) * becalm_tests::proof::STEP);
        assert!(
            encloses(&Interval::<Single>::from_q24(bits), &count),
            "{bits}"
        );
        assert!(
            encloses(&Interval::<Exact>::from_q24(bits), &count),
            "{bits}"
        );
        let fixed = Interval::<Fixed>::from_q24(bits);
        assert!(
            encloses(&fixed, &count) && fixed.lo() == fixed.hi(),
            "{bits}: {fixed:?}"
        );
    }
}

/// Enclosure of one exact value, to show what the helper itself refuses.
#[test]
fn enclosure_is_strict() {
    let third = BigRational::new(1.into(), 3.into());
    let near = 1.0_f64 / 3.0;
    assert!(!encloses(&Interval::<Exact>::point(near), &third));
    assert!(encloses(
        &Interval::<Exact>::new(near, near.next_up()),
        &third
    ));
    let two = exact(2.0);
    let root = 2.0_f64.sqrt();
    assert!(!encloses_root(&Interval::<Exact>::point(root), &two));
    assert!(encloses_root(
        &Interval::<Exact>::new(root.next_down(), root),
        &two
    ));
}
