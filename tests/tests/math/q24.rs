//! The fixed-point type against exact integer arithmetic (i128), and the floats' own choices.

use proptest::prelude::{ProptestConfig, any};
use proptest::{prop_assert, prop_assert_eq, proptest};
use shared_math::{Q24, Scalar, q24_from_f32, trig};

/// Same cases in every run.
fn fixed_seed(cases: u32) -> ProptestConfig {
    ProptestConfig {
        cases,
        failure_persistence: None,
        rng_seed: proptest::test_runner::RngSeed::Fixed(24),
        ..ProptestConfig::default()
    }
}

fn saturate(x: i128) -> i32 {
    x.clamp(i128::from(i32::MIN), i128::from(i32::MAX)) as i32
}

/// x / 2^shift to the nearest count; a tie goes up.
fn rounded(x: i128, shift: u32) -> i128 {
    if shift == 0 {
        x
    } else {
        (x + (1 << (shift - 1))).div_euclid(1 << shift)
    }
}

/// Bit patterns that break arithmetic, and their neighbours.
const EDGES: [i32; 15] = [
    i32::MIN,
    i32::MIN + 1,
    -(1 << 24) - 1,
    -(1 << 24),
    -(1 << 23),
    -4096,
    -1,
    0,
    1,
    4096,
    1 << 23,
    1 << 24,
    (1 << 24) + 1,
    i32::MAX - 1,
    i32::MAX,
];

fn check_pair(a: i32, b: i32) {
    let (x, y) = (Q24::from_bits(a), Q24::from_bits(b));
    let (wide_a, wide_b) = (i128::from(a), i128::from(b));
    assert_eq!((x + y).to_bits(), saturate(wide_a + wide_b), "{a} + {b}");
    assert_eq!((x - y).to_bits(), saturate(wide_a - wide_b), "{a} - {b}");
    assert_eq!(
        (x * y).to_bits(),
        saturate(rounded(wide_a * wide_b, 24)),
        "{a} * {b}"
    );
    assert_eq!((-x).to_bits(), saturate(-wide_a), "-{a}");
    let quotient = x.div(y).to_bits();
    if b == 0 {
        // Large and finite, or zero.
        let expected = if a == 0 { 0 } else { saturate(wide_a << 24) };
        assert_eq!(quotient, expected, "{a} / 0");
    } else {
        let exact = (wide_a << 24) / wide_b; // toward zero
        assert_eq!(quotient, saturate(exact), "{a} / {b}");
    }
    assert_eq!(Scalar::min(x, y).to_bits(), a.min(b));
    assert_eq!(Scalar::max(x, y).to_bits(), a.max(b));
    assert_eq!(Scalar::abs(x).to_bits(), a.saturating_abs());
    assert_eq!(Q24::select_ge(x, y, x, y).to_bits(), a.max(b));
}

fn check_root(a: i32) {
    let root = i128::from(Q24::from_bits(a).sqrt().to_bits());
    let square = i128::from(a.max(0)) << 24;
    assert!(
        root >= 0 && root * root <= square && (root + 1) * (root + 1) > square,
        "{a}: {root}"
    );
}

#[test]
fn arithmetic_at_the_edges() {
    for a in EDGES {
        for b in EDGES {
            check_pair(a, b);
        }
        check_root(a);
    }
}

proptest! {
    #![proptest_config(fixed_seed(20_000))]

    #[test]
    fn arithmetic_for_all_bit_patterns(a in any::<i32>(), b in any::<i32>(), shift in 0_u32..31) {
        check_pair(a, b);
        check_pair(a, b >> shift);
        check_pair(a >> shift, b);
        check_root(a);
        check_root(a >> shift);
    }

    /// Against f64: half a count for a product, one for a quotient, while nothing saturates.
    #[test]
    fn near_f64(a in -1000.0_f64..1000.0, b in -1000.0_f64..1000.0) {
        let count = 2.0_f64.powi(-24);
        let (x, y) = (Q24::from_f32(a as f32 * 0.01), Q24::from_f32(b as f32 * 0.01));
        let (p, q) = (x.to_f64(), y.to_f64());
        if (p * q).abs() < 127.9 {
            prop_assert!(((x * y).to_f64() - p * q).abs() <= 0.5 * count);
        }
        if q != 0.0 && (p / q).abs() < 127.9 {
            prop_assert!((x.div(y).to_f64() - p / q).abs() <= count);
        }
        prop_assert!((x.sqrt().to_f64() - p.max(0.0).sqrt()).abs() <= count);
    }

    /// Readings enter and commands leave every arithmetic as the same count.
    #[test]
    fn round_trip_of_counts(bits in any::<i32>()) {
        prop_assert_eq!(Q24::from_q24(bits).to_q24(), bits);
        prop_assert_eq!(<f64 as Scalar>::from_q24(bits).to_q24(), bits);
        // Single precision has 24 bits of mantissa: exact up to half a unit, then one count or
        // 2^-24 of the value.
        let single = i64::from(<f32 as Scalar>::from_q24(bits).to_q24());
        let slip = (single - i64::from(bits)).abs();
        let size = i64::from(bits).abs();
        prop_assert!(slip == 0 || size >= 1 << 23, "{bits}: {single}");
        prop_assert!(slip <= 1 + (size >> 24), "{bits}: {single}");
    }

    /// Any float makes a number; finite ones the nearest count, saturating.
    #[test]
    fn from_any_float(pattern in any::<u32>()) {
        let x = f32::from_bits(pattern);
        let ours = Q24::from_f32(x);
        if x.is_nan() {
            prop_assert_eq!(ours, Q24::ZERO);
            prop_assert_eq!(q24_from_f32(x), 0);
        } else if x.is_finite() {
            let scaled = f64::from(x) * 16_777_216.0;
            let nearest = scaled.clamp(f64::from(i32::MIN), f64::from(i32::MAX));
            prop_assert!((f64::from(ours.to_bits()) - nearest).abs() <= 0.5);
            // Commands leave within one count of the nearest.
            prop_assert!((f64::from(q24_from_f32(x)) - nearest).abs() <= 1.0 + nearest.abs() / 16_777_216.0);
        } else {
            prop_assert_eq!(q24_from_f32(x), if x > 0.0 { i32::MAX } else { i32::MIN });
        }
        let _ = (<f64 as Scalar>::to_q24(f64::from(x)), Scalar::sqrt(x), Scalar::abs(x));
    }

    /// min, max and limit of floats: one of the operands, bit for bit, the first at a tie, `b` when
    /// there is no order; the same in both precisions.
    #[test]
    fn float_choices(p in any::<u32>(), q in any::<u32>()) {
        let (a, b) = (f32::from_bits(p), f32::from_bits(q));
        let least = if a <= b { a } else { b };
        let most = if a >= b { a } else { b };
        prop_assert_eq!(Scalar::min(a, b).to_bits(), least.to_bits());
        prop_assert_eq!(Scalar::max(a, b).to_bits(), most.to_bits());
        let (c, d) = (f64::from(a), f64::from(b));
        if !c.is_nan() && !d.is_nan() {
            prop_assert_eq!(Scalar::min(c, d).to_bits(), f64::from(least).to_bits());
            prop_assert_eq!(Scalar::max(c, d).to_bits(), f64::from(most).to_bits());
            let (lo, hi) = (least, most);
            let kept = Scalar::limit(0.5_f32, lo, hi);
            prop_assert!(kept >= lo && kept <= hi);
        }
        let outside = Scalar::dead_zone(a, 2.0);
        if a.is_finite() {
            let expected = if a > 2.0 { a - 2.0 } else if a < -2.0 { a + 2.0 } else { 0.0 };
            prop_assert_eq!(outside, expected);
        }
    }
}

/// What cannot be ordered: the second operand is taken, the other branch of a choice, and a NaN kept
/// within limits is the lower one. `finite_or` is what keeps NaN out.
#[test]
fn nan_and_signed_zeros() {
    fn check<S: Scalar + PartialEq>(nan: S, zero: S, minus: S, one: S, sign: fn(S) -> bool) {
        assert!(Scalar::min(nan, one) == one && Scalar::max(nan, one) == one);
        assert!(!Scalar::min(one, nan).is_finite() && !Scalar::max(one, nan).is_finite());
        assert!(S::select_ge(nan, one, zero, one) == one);
        assert!(S::select_ge(one, nan, zero, one) == one);
        assert!(nan.limit(-one, one) == -one);
        assert!(nan.finite_or(zero) == zero && one.finite_or(zero) == one);
        assert!(nan.to_q24() == 0);
        // Zeros of either sign are equal: the first operand is taken.
        assert!(sign(Scalar::min(minus, zero)) && !sign(Scalar::min(zero, minus)));
        assert!(sign(Scalar::max(minus, zero)) && !sign(Scalar::max(zero, minus)));
        // Crossed limits: the upper one wins.
        assert!(zero.limit(one, -one) == -one);
        assert!(one.sqrt() == one && (-one).sqrt() == zero);
    }
    check(f32::NAN, 0.0, -0.0, 1.0, f32::is_sign_negative);
    check(f64::NAN, 0.0, -0.0, 1.0, f64::is_sign_negative);
    for x in [f32::INFINITY, f32::NEG_INFINITY, f32::NAN] {
        assert_eq!(Scalar::finite_or(x, 3.0), 3.0);
    }
}

/// Largest error over a dense grid of two turns either way against the standard library's sine.
#[test]
fn sine_error_as_stated() {
    let mut worst = 0.0_f64;
    let steps = 2_000_000;
    for i in -steps..=steps {
        let x = (core::f64::consts::TAU * f64::from(i) / f64::from(steps)) as f32;
        worst = worst.max((f64::from(trig::sine(x)) - f64::from(x).sin()).abs());
    }
    println!("largest error of the sine: {worst:e}");
    assert!(worst <= f64::from(trig::SINE_ERROR), "{worst}");
    // The figure is not idle either.
    assert!(worst > 0.1 * f64::from(trig::SINE_ERROR), "{worst}");
}
