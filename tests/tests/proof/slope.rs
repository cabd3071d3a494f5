//! Derivative enclosures against exact derivatives of polynomials, quotients and roots, against exact secants
//! (mean-value theorem; all in rational numbers, num-rational), and against secants of the law itself.

use becalm_tests::proof::{Expression, Numbers, Op, encloses, encloses_root, exact};
use firmware::arrest::{Ahead, Config};
use host_sim::proof::certify::{floor_pushes, travel_brakes};
use host_sim::proof::claim::Claim;
use host_sim::proof::interval::{Exact, Interval};
use host_sim::proof::law::Law;
use host_sim::proof::slope::Slope;
use host_sim::rig::Rig;
use num_rational::BigRational;
use num_traits::{Signed, Zero};
use shared_math::Scalar;

/// A box of the argument, and points in it.
fn variable(n: &mut Numbers, from: f64, to: f64) -> (Slope, [f64; 4]) {
    let lo = n.between(from, to);
    let hi = match n.below(3) {
        0 => lo,
        1 => lo + (to - lo) * n.between(-20.0, 0.0).exp2(),
        _ => n.between(lo, to),
    };
    let inside = n.between(lo, hi);
    (Slope::variable(lo, hi), [lo, hi, inside, 0.5 * (lo + hi)])
}

#[test]
fn polynomials_enclosed() {
    let mut n = Numbers(0x1234_5678_9ABC_DEF1);
    for _ in 0..1_000 {
        let coefficients: Vec<f32> = (0..=n.below(7))
            .map(|_| n.between(-3.0, 3.0) as f32)
            .collect();
        let (argument, points) = variable(&mut n, -3.0, 3.0);
        // Horner's scheme, highest power first.
        let result = coefficients
            .iter()
            .fold(Slope::ZERO, |sum, c| sum * argument + Slope::from_f32(*c));
        for x in points {
            let x = exact(x);
            let (mut value, mut derivative) = (BigRational::zero(), BigRational::zero());
            for c in &coefficients {
                derivative = &derivative * &x + &value;
                value = &value * &x + exact((*c).into());
            }
            assert!(
                encloses(&result.value, &value),
                "{coefficients:?} at {x}: {result:?}"
            );
            assert!(
                encloses(&result.slope, &derivative),
                "{coefficients:?} at {x}: {result:?}"
            );
        }
    }
}

/// (a + b x) / (c + d x): its derivative is (b c - a d) / (c + d x)^2.
#[test]
fn quotients_enclosed() {
    let mut n = Numbers(0x2234_5678_9ABC_DEF1);
    let mut tight = 0;
    for _ in 0..2_000 {
        let [a, b, c, d]: [f32; 4] = std::array::from_fn(|_| n.between(-3.0, 3.0) as f32);
        let (argument, points) = variable(&mut n, -3.0, 3.0);
        let line = |a: f32, b: f32| Slope::from_f32(a) + Slope::from_f32(b) * argument;
        let result = line(a, b).div(line(c, d));
        tight += usize::from(result.slope.surely_finite());
        let [a, b, c, d] = [a, b, c, d].map(|x| exact(x.into()));
        for x in points {
            let x = exact(x);
            let divisor = &c + &d * &x;
            if divisor.is_zero() {
                continue;
            }
            let value = (&a + &b * &x) / &divisor;
            let derivative = (&b * &c - &a * &d) / (&divisor * &divisor);
            assert!(encloses(&result.value, &value), "at {x}: {result:?}");
            assert!(encloses(&result.slope, &derivative), "at {x}: {result:?}");
        }
    }
    assert!(tight > 1_000, "{tight} of 2000 are bounded");
}

/// sqrt(p + q x): its derivative d has 4 d^2 (p + q x) = q^2, and the sign of q; left of the root's own zero it is 0.
#[test]
fn roots_enclosed() {
    let mut n = Numbers(0x3234_5678_9ABC_DEF1);
    let (mut positive, mut below) = (0, 0);
    for _ in 0..2_000 {
        let [p, q]: [f32; 2] = std::array::from_fn(|_| n.between(-3.0, 3.0) as f32);
        let (argument, points) = variable(&mut n, -3.0, 3.0);
        let result = Scalar::sqrt(Slope::from_f32(p) + Slope::from_f32(q) * argument);
        let [p, q] = [p, q].map(|x| exact(x.into()));
        for x in points {
            let x = exact(x);
            let inner = &p + &q * &x;
            if inner.is_positive() {
                positive += 1;
                assert!(encloses_root(&result.value, &inner), "at {x}: {result:?}");
                // The magnitude of the derivative is the root of this.
                let square = &q * &q / (exact(4.0) * &inner);
                let magnitude = if q.is_negative() {
                    Interval::new(-result.slope.hi(), -result.slope.lo())
                } else {
                    result.slope
                };
                assert!(encloses_root(&magnitude, &square), "at {x}: {result:?}");
            } else if inner.is_negative() {
                below += 1;
                assert!(
                    result.value.contains(0.0) && result.slope.contains(0.0),
                    "{result:?}"
                );
            }
        }
    }
    assert!(positive > 1_000 && below > 1_000, "{positive} and {below}");
}

/// Continuous expressions of one argument: each secant's slope is in the hull of the slopes between its ends.
#[test]
fn secants_of_expressions_enclosed() {
    const OPS: [Op; 10] = [
        Op::Add,
        Op::Sub,
        Op::Neg,
        Op::Mul,
        Op::Min,
        Op::Max,
        Op::Abs,
        Op::Limit,
        Op::DeadZone,
        Op::Add,
    ];
    let mut n = Numbers(0x4234_5678_9ABC_DEF1);
    let (mut telling, mut bent) = (0, 0);
    for _ in 0..1_500 {
        let expression = Expression::random(&mut n, &OPS, 5);
        let (argument, points) = variable(&mut n, -2.0, 2.0);
        let [a, b]: [f32; 2] = std::array::from_fn(|_| n.between(-2.0, 2.0) as f32);
        let result = expression.at(&[argument, Slope::from_f32(a), argument + Slope::from_f32(b)]);
        let at = |x: f64| {
            let x = exact(x);
            let third = &x + exact(b.into());
            let value = expression.exactly(&[x, exact(a.into()), third]);
            value.expect("no quotient in it")
        };
        let values = points.map(at);
        telling += usize::from(result.slope.surely_finite() && result.slope.lo() != 0.0);
        let mut secants = Vec::new();
        for (x, value) in points.iter().zip(&values) {
            assert!(
                encloses(&result.value, value),
                "{expression:?} at {x}: {result:?}"
            );
            for (y, other) in points.iter().zip(&values) {
                if x != y {
                    let secant = (value - other) / (exact(*x) - exact(*y));
                    let shown = || format!("{expression:?} from {x} to {y}: {result:?}");
                    assert!(encloses(&result.slope, &secant), "{}", shown());
                    secants.push(secant);
                }
            }
        }
        bent += usize::from(secants.iter().any(|s| *s != secants[0]));
    }
    assert!(
        telling > 500 && bent > 300,
        "{telling} tell anything, {bent} bent"
    );
}

/// The sides of a kink, and of a branch that is not decided.
#[test]
fn kinks_have_both_slopes() {
    let x = Slope::variable(-1.0, 2.0);
    let half = Slope::from_f32(0.5);
    let three = Slope::from_f32(3.0);
    let near = |i: Interval<Exact>, lo: f64, hi: f64| {
        let small = 1.0e-12;
        assert!(
            (i.lo() - lo).abs() < small && (i.hi() - hi).abs() < small,
            "{i:?}"
        );
        assert!(i.lo() <= lo && i.hi() >= hi, "{i:?}");
    };
    near(Scalar::abs(x).slope, -1.0, 1.0);
    near(Scalar::min(x, half).slope, 0.0, 1.0);
    near(Scalar::max(three * x, x).slope, 1.0, 3.0);
    near(x.limit(-half, half).slope, 0.0, 1.0);
    near(x.limit(-three, three).slope, 1.0, 1.0);
    near(Scalar::min(x, three).slope, 1.0, 1.0);
    near(Scalar::max(x, three).slope, 0.0, 0.0);
    near(Slope::select_ge(x, -three, three * x, x).slope, 3.0, 3.0);
    near(Slope::select_ge(x, three, three * x, x).slope, 1.0, 1.0);
    near(Slope::select_ge(x, half, three * x, x).slope, 1.0, 3.0);
    // Finite for some arguments only: then either may come.
    let maybe = half.div(x).finite_or(three * x);
    assert!(
        maybe.slope.contains(3.0) && maybe.slope.contains(-2.0) && maybe.slope.contains(-0.125)
    );
    assert!(
        maybe.value.contains(0.25) && maybe.value.contains(6.0),
        "{maybe:?}"
    );
}

/// At a point the derivative is as narrow as rounding allows: 3 x^2 of x^3, 1 / (2 sqrt x), -1 / x^2.
#[test]
fn points_stay_narrow() {
    let mut n = Numbers(0x5234_5678_9ABC_DEF1);
    for _ in 0..1_000 {
        let at = n.between(0.2, 5.0);
        let x = Slope::variable(at, at);
        let near = |i: Interval<Exact>, expected: f64| {
            let within = 16.0 * f64::EPSILON * expected.abs();
            let held = i.lo() <= expected + within && i.hi() >= expected - within;
            assert!(held && i.hi() - i.lo() <= within, "{i:?}, {expected}");
        };
        near((x * x * x).slope, 3.0 * at * at);
        near(Scalar::sqrt(x).slope, 0.5 / at.sqrt());
        near(Slope::ONE.div(x).slope, -1.0 / (at * at));
    }
}

fn rig() -> Rig {
    Rig::default_machine().expect("the default rig")
}

/// The arrest of the default rig.
fn law<S: Scalar>() -> Config<S> {
    let rig = rig();
    rig.firmware
        .arrest
        .build(&rig.firmware.timing)
        .expect("parameters")
}

/// What is permitted less the floor's acceleration never rises with that acceleration, and falls no faster than it.
#[test]
fn floor_never_pushes() {
    let within = |i: Interval<Exact>| {
        assert!(
            i.lo() >= -1.0 - 1.0e-12 && i.hi() <= 1.0e-12 && !i.may_be_nan(),
            "{i:?}"
        );
        assert!(i.contains(-1.0) && i.contains(0.0), "{i:?}");
    };
    for most in [0.1, 1.0, 3.0] {
        within(floor_pushes(&law::<Slope>(), &Claim::of(&rig()), most));
    }
    // On random boxes of states.
    let law = law::<Slope>();
    let mut n = Numbers(0x6234_5678_9ABC_DEF1);
    for _ in 0..2_000 {
        let travel = [n.between(-0.06, 0.06), n.between(-0.06, 0.06)];
        let rate = [n.between(-2.0, 2.0), n.between(-2.0, 2.0)];
        let floor = [n.between(-30.0, 30.0), n.between(-30.0, 30.0)];
        let ahead = Ahead {
            travel: Slope::constant(travel[0], travel[1]),
            travel_rate: Slope::constant(rate[0], rate[1]),
            floor_accel: Slope::variable(floor[0], floor[1]),
        };
        let (lower, upper) = law.limits(&ahead);
        for side in [lower, upper] {
            let slope = (side - ahead.floor_accel).slope;
            assert!(
                slope.lo() >= -1.0 - 1.0e-12 && slope.hi() <= 1.0e-12,
                "{slope:?}"
            );
        }
    }
}

/// A law that follows more of the floor than there is.
struct Eager<S>(Config<S>);

impl<S: Scalar + Sync> Law<S> for Eager<S> {
    fn limits(&self, ahead: &Ahead<S>) -> (S, S) {
        self.0.limits(&Ahead {
            floor_accel: S::from_f32(1.01) * ahead.floor_accel,
            ..*ahead
        })
    }
    fn profile_braking(&self) -> f64 {
        self.0.braking().to_f64()
    }
}

#[test]
fn law_that_pushes_is_seen() {
    let slope = floor_pushes(&Eager(law::<Slope>()), &Claim::of(&rig()), 1.0);
    assert!(slope.hi() > 0.009 && slope.hi() < 0.011, "{slope:?}");
}

/// What is permitted toward an end falls as it comes nearer: by the clamp's formula at most
/// d/dx of g (W - u - v) - A v / W with W = sqrt((vc + u)^2 + 2 A d), which is -(g + A v / W^2) A / W.
#[test]
fn the_nearer_the_end_the_less_is_permitted() {
    let claim = Claim::of(&rig());
    let (law, arrest) = (law::<Slope>(), rig().firmware.arrest);
    let (a, g, end) = (
        f64::from(arrest.braking_mps2),
        f64::from(arrest.approach_ps),
        f64::from(arrest.touch_mps + arrest.allowance_mps),
    );
    for most in [0.1, 1.0, 10.0] {
        let slope = travel_brakes(&law, &claim, most);
        let steepest = -(g + a * most / (end * end)) * a / end;
        assert!(!slope.may_be_nan() && slope.hi() <= 1.0e-12, "{slope:?}");
        // It is met at the end itself.
        assert!(
            (slope.lo() / steepest - 1.0).abs() < 1.0e-5,
            "{slope:?} {steepest}"
        );
    }
    // One that lets go near an end.
    let slope = travel_brakes(&Loose(law), &claim, 1.0);
    assert!(slope.hi() > 1.0, "{slope:?}");
}

/// A law that takes the end for farther the nearer it is.
struct Loose<S>(Config<S>);

impl<S: Scalar + Sync> Law<S> for Loose<S> {
    fn limits(&self, ahead: &Ahead<S>) -> (S, S) {
        self.0.limits(&Ahead {
            travel: -ahead.travel,
            ..*ahead
        })
    }

    fn profile_braking(&self) -> f64 {
        self.0.braking().to_f64()
    }
}

/// The law's slopes to travel and to rate hold the secants of its own code in f64.
#[test]
fn secants_of_the_law_enclosed() {
    const SCALE: [f64; 3] = [0.05, 1.0, 15.0];
    let (enclosing, computing) = (law::<Slope>(), law::<f64>());
    let mut n = Numbers(0x7234_5678_9ABC_DEF1);
    let mut moved = 0;
    for round in 0..6_000 {
        let along = round % 3;
        let at: [f64; 3] = std::array::from_fn(|k| n.between(-SCALE[k], SCALE[k]));
        let span = SCALE[along] * n.between(-8.0, -1.0).exp2();
        let state = |x: f64| {
            let mut s = at;
            s[along] += x;
            let [travel, travel_rate, floor_accel] = s;
            computing.limits(&Ahead {
                travel,
                travel_rate,
                floor_accel,
            })
        };
        let mut arguments = at.map(|x| Slope::constant(x, x));
        arguments[along] = Slope::variable(at[along], at[along] + span);
        let [travel, travel_rate, floor_accel] = arguments;
        let (lower, upper) = enclosing.limits(&Ahead {
            travel,
            travel_rate,
            floor_accel,
        });
        let (a, b) = (n.between(0.0, 0.4) * span, n.between(0.6, 1.0) * span);
        let (from, to) = (state(a), state(b));
        // Sums below 1000 round by less than 1e-12 in f64.
        let error = 1.0e-12 / (b - a);
        for (side, from, to) in [(lower, from.0, to.0), (upper, from.1, to.1)] {
            let secant = (to - from) / (b - a);
            moved += usize::from(secant != 0.0);
            let held = side.slope.lo() - error <= secant && secant <= side.slope.hi() + error;
            assert!(
                held,
                "argument {along} from {at:?} on by {span}: {secant}, {:?}",
                side.slope
            );
            assert!(
                side.value.contains(from) && side.value.contains(to),
                "{:?}",
                side.value
            );
        }
    }
    assert!(moved > 3_000, "{moved} of 12000 change at all");
}
