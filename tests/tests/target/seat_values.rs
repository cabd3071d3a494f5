//! SEAT values on the six invented machine floors. Our own targets: no standard asks for them.

use becalm_tests::target::{assert_none, for_all, rig, spec};
use host_sim::limits::SEAT_VALUES;
use host_sim::ride;

/// 80 kg, two-mass body, 60 s, first 5 s left out, mean over seeds 1 to 10.
// Demonstrates: seat-value-hauler-1, seat-value-hauler-2-5, seat-value-loader-1, seat-value-loader-2-5
// Demonstrates: seat-value-grader-1, seat-value-grader-2-5, seat-value-compact-1, seat-value-compact-2-5
// Demonstrates: seat-value-crawler-1, seat-value-crawler-2-5, seat-value-ballast-1, seat-value-ballast-2-5
#[test]
fn seat_values() {
    let rig = rig();
    let seeds = 1..=10;
    let mut failures = Vec::new();
    println!("floor    level  target    mean   worst  passive");
    for (floor, low, high) in SEAT_VALUES {
        for (level, target) in [(1.0, low), (2.5, high)] {
            let specs: Vec<_> = seeds.clone().map(|seed| spec(floor, level, seed)).collect();
            let values = for_all(&specs, |spec| {
                let figures = ride::run(&rig, spec, |_| true).expect("a ride");
                assert_eq!(figures.travel.stop_contacts, 0, "{spec:?}");
                let value = |v: Option<f64>| v.expect("the floor is not still");
                (value(figures.seat_value), value(figures.seat_value_passive))
            });
            let mean = |of: fn(&(f64, f64)) -> f64| {
                values.iter().map(of).sum::<f64>() / values.len() as f64
            };
            let (ours, passive) = (mean(|v| v.0), mean(|v| v.1));
            let worst = values.iter().fold(0.0, |m: f64, v| m.max(v.0));
            println!("{floor:8} {level:5.1} {target:7.3} {ours:7.4} {worst:7.4} {passive:8.3}");
            if ours > target {
                failures.push(format!("{floor} at level {level}: {ours:.4} > {target}"));
            }
            // A seat worse than the passive one helps nobody.
            assert!(worst < passive, "{floor} {level}: {worst} {passive}");
        }
    }
    assert_none("SEAT values", &failures);
}
