//! What the certificate refuses, a ride shows: a floor within the claim's bounds on which a stop is met faster than the
//! touch speed, when the braking is weakened by 30 %, the force halved, the motor's sign turned or the delay is 7 ms
//! where 3 are told. The sound rig has none. (At 6 ms the search finds 0.11 m/s with some parameters and nothing
//! with others: the loop bears a delay of about that.)

use host_sim::hunt::counter::{Effort, counter_example};
use host_sim::hunt::keep;
use host_sim::proof::claim::Claim;
use host_sim::ride;
use host_sim::rig::Rig;

/// What is done to a sound rig.
type Break = fn(&mut Rig);

/// As the command spends.
const EFFORT: Effort = Effort {
    rides: 3000,
    threads: 2,
};

/// The worst contact found, ridden again from its record, m/s; zero when none breaks the claim.
fn shown(name: &str, breaks: Break) -> f64 {
    let mut rig = Rig::default_machine().expect("the default rig");
    let claim = Claim::of(&rig);
    breaks(&mut rig);
    let Some(find) = counter_example(&rig, &claim, EFFORT, || true).expect("a search") else {
        println!("{name}: none");
        return 0.0;
    };
    let folder = tempfile::tempdir().expect("a folder");
    let csv = folder.path().join("floor.csv");
    std::fs::write(&csv, find.knots.csv("test")).expect("a file");
    let summary = ride::run(&rig, &keep::ride(&find, &csv), |_| true).expect("a ride");
    let a = &summary.assumptions;
    // The start of the record lies before the part in which the law isolates: all of it was seen.
    assert!(
        a.floor_acceleration_mps2.seen <= claim.floor_accel_mps2 + 1e-6
            && a.floor_jerk_mps3.seen <= claim.floor_jerk_mps3 * 1.001,
        "{name}: a floor of the claim: {a:?}"
    );
    let contact = summary.travel.contact_speed_max_mps;
    println!(
        "{name}: {:.0} kg {} seed {}: {contact:.3} m/s",
        find.machine.occupant_kg,
        find.machine.body.name(),
        find.machine.seed
    );
    assert!(
        (contact - find.figures.contact_speed_mps).abs() < 1e-9,
        "{name}"
    );
    contact
}

#[test]
fn rides_show_what_is_refused() {
    let touch = Claim::of(&Rig::default_machine().expect("the default rig")).touch_mps;
    let broken: [(&str, Break); 4] = [
        ("clamp 30 % lower", |r| {
            r.firmware.arrest.accel_max_mps2 *= 0.7
        }),
        ("half the force", |r| {
            r.actuator.current_max_a *= 0.5;
            r.firmware.limit.current_max_a *= 0.5;
        }),
        ("delay of 7 ms", |r| r.timing.transport_steps = 6),
        ("motor the wrong way", |r| {
            r.actuator.force_constant_npa = -r.actuator.force_constant_npa;
        }),
    ];
    for (name, breaks) in broken {
        assert!(shown(name, breaks) > touch, "{name}");
    }
}

#[test]
fn the_sound_rig_has_none() {
    assert!(shown("sound", |_| ()) == 0.0);
}
