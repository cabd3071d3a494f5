//! Wide whole numbers: quotients and roots against the core library's, roots in single precision against the processor's.

use proptest::prelude::{ProptestConfig, any};
use proptest::proptest;
use shared_math::whole::{divide, root, root_f32};

const EDGES: [u64; 14] = [
    0,
    1,
    2,
    3,
    4,
    (1 << 24) - 1,
    1 << 24,
    (1 << 32) - 1,
    1 << 32,
    1 << 55,
    0xFFFF_FFFE_0000_0000,
    // The largest square, and the number below it.
    0xFFFF_FFFE_0000_0001,
    u64::MAX - 1,
    u64::MAX,
];

/// A quotient below 2^32 is the core library's.
fn check_quotient(dividend: u64, divisor: u32) {
    // With what would be too large taken off.
    let high = (dividend >> 32) % u64::from(divisor);
    let dividend = high << 32 | dividend & 0xFFFF_FFFF;
    assert_eq!(
        u64::from(divide(dividend, divisor)),
        dividend / u64::from(divisor),
        "{dividend} / {divisor}"
    );
}

fn check_root_f32(x: f32) {
    assert_eq!(root_f32(x).to_bits(), x.sqrt().to_bits(), "{x:e}");
}

#[test]
fn quotients_and_roots_at_the_edges() {
    for x in EDGES {
        assert_eq!(u64::from(root(x)), x.isqrt(), "{x}");
        for divisor in [
            1,
            2,
            0xFFFF,
            0x1_0000,
            0x1_0001,
            0x7FFF_FFFF,
            1 << 31,
            u32::MAX,
        ] {
            check_quotient(x, divisor);
        }
        assert_eq!(divide(x, 0), 0);
    }
    for x in [
        1.0,
        2.0,
        4.0,
        f32::MIN_POSITIVE,
        f32::MAX,
        1.0 - f32::EPSILON / 2.0,
    ] {
        check_root_f32(x);
    }
    assert_eq!(root_f32(0.0).to_bits(), 0);
    assert_eq!(root_f32(f32::MIN_POSITIVE / 2.0).to_bits(), 0);
    assert!(root_f32(f32::INFINITY).is_infinite() && root_f32(f32::NAN).is_nan());
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 200_000,
        failure_persistence: None,
        rng_seed: proptest::test_runner::RngSeed::Fixed(754),
        ..ProptestConfig::default()
    })]

    /// Numbers of every length.
    #[test]
    fn quotients_and_roots(x in any::<u64>(), short in 0_u32..64, divisor in 1_u32.., shorter in 0_u32..32) {
        let x = x >> short;
        assert_eq!(u64::from(root(x)), x.isqrt(), "{x}");
        check_quotient(x, (divisor >> shorter).max(1));
    }

    /// Every normal number, zero or above, has a root.
    #[test]
    fn roots_in_single_precision(bits in 0x0080_0000_u32..0x7F80_0000) {
        check_root_f32(f32::from_bits(bits));
    }
}
