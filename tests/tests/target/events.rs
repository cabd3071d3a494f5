//! Single floor events. Our own targets: no standard sets limits on them.

use becalm_tests::target::{LOADS, assert_none, for_all, rig, spec};
use host_sim::body::BodyKind;
use host_sim::limits::constant as limit;
use host_sim::ride::{self, Sample};
use host_sim::rig::Rig;

/// Event and largest seat acceleration for the default occupant, m/s2: our own targets.
const EDGE: (&str, f64) = ("edge:at=12", limit::EDGE_PEAK);
const BUMP: (&str, f64) = ("bump:at=12", limit::BUMP_PEAK);
const STEEP_EDGE: (&str, f64) = ("edge:at=12,flank=0.08", limit::STEEP_EDGE_PEAK);
const SHORT_BUMP: (&str, f64) = ("bump:at=12,time=0.3", limit::SHORT_BUMP_PEAK);

/// What an event did, worst over seeds 1 to 10.
#[derive(Clone, Copy, Debug, Default)]
struct Outcome {
    peak_mps2: f64,
    floor_peak_mps2: f64,
    travel_m: f64,
    contacts: u32,
    contact_speed_mps: f64,
    /// Most meetings with one and the same stop in one ride: two are a rebound.
    same_stop: u32,
}

/// Counts meetings with each stop: in touch beyond the face, parted 0.1 mm before it.
struct Meetings {
    travel_m: f64,
    touching: [bool; 2],
    count: [u32; 2],
}

impl Meetings {
    fn look(&mut self, s: &Sample) {
        for (side, travel) in [s.travel, -s.travel].into_iter().enumerate() {
            if travel > self.travel_m {
                self.count[side] += u32::from(!self.touching[side]);
                self.touching[side] = true;
            } else if travel < self.travel_m - 1.0e-4 {
                self.touching[side] = false;
            }
        }
    }
}

fn outcome(rig: &Rig, event: &str, body: BodyKind, kg: f64) -> Outcome {
    let specs: Vec<_> = (1..=10)
        .map(|seed| {
            let mut spec = spec(event, 1.0, seed);
            (spec.seconds, spec.skip_s) = (16.0, 11.5);
            (spec.body, spec.occupant_kg) = (body, kg);
            spec
        })
        .collect();
    let rides = for_all(&specs, |spec| {
        let mut meetings = Meetings {
            travel_m: rig.seat.travel_m,
            touching: [false; 2],
            count: [0; 2],
        };
        let figures = ride::run(rig, spec, |s| {
            if s.time_s >= spec.skip_s {
                meetings.look(s);
            }
            true
        })
        .expect("a ride");
        (figures, meetings.count)
    });
    let mut worst = Outcome::default();
    for (figures, meetings) in &rides {
        let travel = &figures.travel;
        worst.peak_mps2 = worst.peak_mps2.max(figures.seat.peak_mps2);
        worst.floor_peak_mps2 = worst.floor_peak_mps2.max(figures.floor.peak_mps2);
        worst.travel_m = worst.travel_m.max(travel.peak_m);
        worst.contacts = worst.contacts.max(travel.stop_contacts);
        worst.contact_speed_mps = worst.contact_speed_mps.max(travel.contact_speed_max_mps);
        worst.same_stop = worst.same_stop.max(meetings[0].max(meetings[1]));
    }
    println!(
        "{event:22} {:8} {kg:4.0} kg: seat peak {:5.1} m/s2 (floor {:4.1}), travel {:4.1} mm, contacts {} at {:.3} m/s, same stop {}",
        body.name(),
        worst.peak_mps2,
        worst.floor_peak_mps2,
        1000.0 * worst.travel_m,
        worst.contacts,
        worst.contact_speed_mps,
        worst.same_stop,
    );
    worst
}

/// The default occupant: 80 kg, two-mass body.
fn default_occupant((event, aim_mps2): (&str, f64)) {
    let o = outcome(&rig(), event, BodyKind::TwoMass, 80.0);
    assert_eq!(o.contacts, 0, "{o:?}");
    assert!(o.peak_mps2 <= aim_mps2, "{o:?}");
    // The floor does more than that: the event is one.
    assert!(o.floor_peak_mps2 > aim_mps2, "{o:?}");
}

// Demonstrates: edge-peak
#[test]
fn edge() {
    default_occupant(EDGE);
}

// Demonstrates: bump-peak
#[test]
fn bump() {
    default_occupant(BUMP);
}

// Demonstrates: short-bump-peak
#[test]
fn short_bump() {
    default_occupant(SHORT_BUMP);
}

// Demonstrates: bump-peak-any
#[test]
fn bump_under_any_load() {
    for (body, kg) in LOADS {
        let o = outcome(&rig(), BUMP.0, body, kg);
        assert!(
            o.peak_mps2 <= limit::BUMP_PEAK_ANY,
            "{} {kg} kg: {o:?}",
            body.name()
        );
    }
}

/// No load from 40 to 130 kg meets a stop, rigid or seated, and none is shaken harder than the floor.
// Judges: edge-peak-any, short-bump-peak-any
#[test]
fn other_loads_meet_no_stop() {
    let rig = rig();
    let mut failures = Vec::new();
    for (event, _) in [EDGE, BUMP, SHORT_BUMP] {
        for (body, kg) in LOADS {
            let o = outcome(&rig, event, body, kg);
            if o.contacts > 0 || o.peak_mps2 >= o.floor_peak_mps2 {
                failures.push(format!("{event} {} {kg} kg: {o:?}", body.name()));
            }
        }
    }
    assert_none("events", &failures);
}

/// The steep edge: no load is thrown back at a stop that it has met.
// Judges: steep-edge-peak-any
#[test]
fn no_rebound() {
    let rig = rig();
    let mut failures = Vec::new();
    for (body, kg) in LOADS {
        let o = outcome(&rig, STEEP_EDGE.0, body, kg);
        if o.same_stop > 1 || o.contacts > 2 || o.peak_mps2 >= o.floor_peak_mps2 {
            failures.push(format!("{} {kg} kg: {o:?}", body.name()));
        }
    }
    assert_none("steep edge", &failures);
}

// Demonstrates: steep-edge-peak
#[test]
fn steep_edge() {
    default_occupant(STEEP_EDGE);
}
