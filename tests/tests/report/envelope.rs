//! The envelope of the ride report: nothing that was sampled lies outside it.

use host_sim::report::envelope::Envelope;
use proptest::prelude::*;

proptest! {
    /// Every sample lies in its bucket, whatever the length and the number of buckets.
    #[test]
    fn every_sample_lies_inside(
        samples in prop::collection::vec(-1.0e3..1.0e3_f64, 1..4000),
        capacity in 2_usize..200,
    ) {
        let mut envelope = Envelope::<2>::new(capacity);
        for &x in &samples {
            envelope.push(&[x, -2.0 * x]);
        }
        let buckets: Vec<_> = envelope.buckets().collect();
        prop_assert!(buckets.len() <= capacity + 1);
        prop_assert!(envelope.width().is_power_of_two());
        for (i, x) in samples.iter().enumerate() {
            let bucket = buckets[i / envelope.width()];
            prop_assert!(bucket.least[0] <= *x && *x <= bucket.greatest[0]);
            prop_assert!(bucket.least[1] <= -2.0 * x && -2.0 * x <= bucket.greatest[1]);
        }
        let least = samples.iter().copied().fold(f64::INFINITY, f64::min);
        let greatest = samples.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        prop_assert_eq!(envelope.range(0), Some((least, greatest)));
    }

    /// The line that is drawn reaches both extremes, in order of time.
    #[test]
    fn the_line_reaches_the_extremes(samples in prop::collection::vec(-50.0..50.0_f64, 1..3000)) {
        let mut envelope = Envelope::<1>::new(64);
        for &x in &samples {
            envelope.push(&[x]);
        }
        let line = envelope.trace(0, 10.0, 0.001, 2.0);
        let (least, greatest) = envelope.range(0).unwrap();
        prop_assert!(line.iter().any(|p| p.1 == 2.0 * least));
        prop_assert!(line.iter().any(|p| p.1 == 2.0 * greatest));
        prop_assert!(line.windows(2).all(|w| w[0].0 < w[1].0));
        let end = 10.0 + samples.len() as f64 * 0.001 + envelope.width() as f64 * 0.001;
        prop_assert!(line.iter().all(|p| p.0 >= 10.0 && p.0 <= end));
    }
}

/// One sample among a million stands out by its full height.
#[test]
fn a_peak_of_one_sample_survives() {
    let mut envelope = Envelope::<1>::new(960);
    for i in 0..1_000_000_u32 {
        envelope.push(&[if i == 654_321 {
            81.5
        } else {
            (f64::from(i) * 0.01).sin()
        }]);
    }
    assert!(envelope.buckets().count() <= 961);
    let tall: Vec<_> = envelope
        .trace(0, 0.0, 0.001, 1.0)
        .into_iter()
        .filter(|p| p.1 > 2.0)
        .collect();
    assert_eq!(tall.len(), 1);
    assert_eq!(tall[0].1, 81.5);
    let width_s = envelope.width() as f64 * 0.001;
    assert!((tall[0].0 - 654.321).abs() <= width_s, "{:?}", tall[0]);
}

/// NaN is passed over; a signal of nothing but NaN has no range and no line.
#[test]
fn nan_is_passed_over() {
    let mut envelope = Envelope::<2>::new(8);
    for i in 0..100_u32 {
        envelope.push(&[f64::NAN, if i % 3 == 0 { f64::NAN } else { f64::from(i) }]);
    }
    assert_eq!(envelope.range(0), None);
    assert!(envelope.trace(0, 0.0, 1.0, 1.0).is_empty());
    assert_eq!(envelope.range(1), Some((1.0, 98.0)));
}
