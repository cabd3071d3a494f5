//! Soft entering and leaving on a still floor: no step in seat acceleration above 0.5 m/s2. Our own
//! target. A step: the largest change within 20 ms; the largest magnitude is held to the same.

mod modes_support;

use host_sim::body::BodyKind;
use modes_support::{Machine, Seen, rig, roughness};

/// Light, middle and heavy occupant, rigid and seated, both signs of the machine's errors.
fn everybody() -> impl Iterator<Item = (BodyKind, f64, u64)> {
    [BodyKind::TwoMass, BodyKind::Rigid]
        .into_iter()
        .flat_map(|kind| {
            [40.0, 80.0, 130.0]
                .into_iter()
                .flat_map(move |kg| [1, 2].map(|seed| (kind, kg, seed)))
        })
}

fn report(what: &str, who: (BodyKind, f64, u64), seen: &[Seen]) -> (f64, f64) {
    let (peak, change) = roughness(seen);
    println!(
        "{what}: {} {} kg seed {}: peak {peak:.2}, change in 20 ms {change:.2} m/s2, {:.2} s, travel {:.1} to {:.1} mm",
        who.0.name(),
        who.1,
        who.2,
        seen.len() as f64 * 0.001,
        seen.first().map_or(0.0, |s| 1000.0 * s.travel),
        seen.last().map_or(0.0, |s| 1000.0 * s.travel),
    );
    (peak, change)
}

/// Rising from the lower stop meets no stop, and the seat comes to mid travel within 10 mm.
#[test]
fn rise_meets_no_stop() {
    for who in everybody() {
        let (kind, kg, seed) = who;
        let mut machine = Machine::new(&rig(), kind, kg, seed);
        let seen = machine.still(20.0, |_| true);
        report("risen", who, &seen);
        let last = seen.last().copied().expect("steps");
        assert!(seen[0].travel < -0.045, "it starts on the stop");
        assert!(
            last.contacts == 0 && last.travel.abs() < 0.01,
            "{who:?} {last:?}"
        );
    }
}
