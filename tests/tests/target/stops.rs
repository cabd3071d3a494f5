//! Stops and seat peaks on the six invented machine floors. Our own targets.
//!
//! Levels 2.5 and 4 by seeds 1 to 10, level 1 by seeds 1 to 3.

use becalm_tests::target::{FLOORS, LOADS, assert_none, for_all, rig, spec};
use host_sim::limits::constant as limit;
use host_sim::ride;
use std::sync::OnceLock;

/// What one ride came to.
struct Outcome {
    name: String,
    contacts: u32,
    contact_speed_mps: f64,
    peak_mps2: f64,
    travel_mm: f64,
}

/// Every floor and load at a level.
fn outcomes(level: f64) -> Vec<Outcome> {
    let rig = rig();
    let mut specs = Vec::new();
    for floor in FLOORS {
        let seeds = if level > 1.0 { 10 } else { 3 };
        for (body, kg) in LOADS {
            for seed in 1..=seeds {
                let mut spec = spec(floor, level, seed);
                (spec.body, spec.occupant_kg) = (body, kg);
                specs.push(spec);
            }
        }
    }
    let all = for_all(&specs, |spec| {
        let figures = ride::run(&rig, spec, |_| true).expect("a ride");
        Outcome {
            name: format!(
                "{} level {level} {} {} kg seed {}",
                spec.floor.name,
                spec.body.name(),
                spec.occupant_kg,
                spec.floor.seed
            ),
            contacts: figures.travel.stop_contacts,
            contact_speed_mps: figures.travel.contact_speed_max_mps,
            peak_mps2: figures.seat.peak_mps2,
            travel_mm: 1000.0 * figures.travel.peak_m,
        }
    });
    let worst = |of: fn(&Outcome) -> f64| all.iter().map(of).fold(f64::MIN, f64::max);
    println!(
        "level {level}: {} rides, {} contacts, fastest {:.3} m/s, seat peak {:.1} m/s2, travel {:.1} mm",
        all.len(),
        all.iter().map(|o| o.contacts).sum::<u32>(),
        worst(|o| o.contact_speed_mps),
        worst(|o| o.peak_mps2),
        worst(|o| o.travel_mm),
    );
    all
}

fn middle() -> &'static [Outcome] {
    static DONE: OnceLock<Vec<Outcome>> = OnceLock::new();
    DONE.get_or_init(|| outcomes(2.5))
}

fn assert_no_contact(outcomes: &[Outcome]) {
    let failures: Vec<_> = outcomes
        .iter()
        .filter(|o| f64::from(o.contacts) > limit::STOP_CONTACTS)
        .map(|o| {
            format!(
                "{}: {} at {:.3} m/s",
                o.name, o.contacts, o.contact_speed_mps
            )
        })
        .collect();
    assert_none("stop contacts", &failures);
}

// Demonstrates: stop-contacts
#[test]
fn no_contact_at_level_1() {
    assert_no_contact(&outcomes(1.0));
}

// Demonstrates: stop-contacts
#[test]
fn no_contact_at_level_2_5() {
    assert_no_contact(middle());
}

// Demonstrates: stop-contacts
#[test]
fn no_contact_at_level_4() {
    assert_no_contact(&outcomes(4.0));
}

// Demonstrates: seat-peak
#[test]
fn seat_peak_at_level_2_5() {
    let failures: Vec<_> = middle()
        .iter()
        .filter(|o| o.peak_mps2 > limit::SEAT_PEAK)
        .map(|o| format!("{}: {:.1} m/s2", o.name, o.peak_mps2))
        .collect();
    assert_none("seat peaks above the limit", &failures);
}
