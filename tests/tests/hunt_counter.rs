//! Rigs that are broken on purpose: the hunt finds a floor within the claim's bounds on which a stop is met too fast.
//! Bounds and touch speed are those that the certificate claims for the rig.

use host_sim::hunt::counter::Effort;
use host_sim::hunt::search::Find;
use host_sim::hunt::{counter_example, keep};
use host_sim::proof::claim::Claim;
use host_sim::ride;
use host_sim::rig::Rig;

fn find(rig: &Rig, threads: usize) -> Option<Find> {
    let effort = Effort { rides: 0, threads };
    counter_example(rig, &Claim::of(rig), effort, || true).unwrap()
}

/// The default rig with one thing broken has a counter-example, whose ride from its file is the same; the
/// floor keeps the claim's bounds.
fn breaks(change: impl Fn(&mut Rig)) {
    let mut rig = Rig::default_machine().unwrap();
    change(&mut rig);
    let claim = Claim::of(&rig);
    let find = find(&rig, 2).expect("a counter-example");
    assert!(find.figures.contact_speed_mps > claim.touch_mps);
    assert!(find.machine.occupant_kg >= claim.occupant_min_kg);
    assert!(find.machine.occupant_kg <= claim.occupant_max_kg);
    for pair in find.knots.samples(rig.timing.step_s).unwrap().windows(2) {
        let jerk = (pair[1] - pair[0]) / rig.timing.step_s;
        assert!(pair[0].abs() <= claim.floor_accel_mps2 + 1e-6);
        assert!(jerk.abs() <= claim.floor_jerk_mps3 + 1e-3);
    }
    let folder = tempfile::tempdir().unwrap();
    let csv = folder.path().join("find.csv");
    std::fs::write(&csv, find.knots.csv("a find")).unwrap();
    let summary = ride::run(&rig, &keep::ride(&find, &csv), |_| true).unwrap();
    assert_eq!(
        summary.travel.contact_speed_max_mps,
        find.figures.contact_speed_mps
    );
    println!(
        "{:.3} m/s, {} kg, {}, seed {}",
        find.figures.contact_speed_mps,
        find.machine.occupant_kg,
        find.machine.body.name(),
        find.machine.seed
    );
}

#[test]
fn a_motor_that_pushes_the_other_way() {
    breaks(|rig| rig.actuator.force_constant_npa *= -1.0);
}

#[test]
fn half_the_current() {
    breaks(|rig| {
        rig.actuator.current_max_a *= 0.5;
        rig.firmware.limit.current_max_a *= 0.5;
    });
}

#[test]
fn a_clamp_that_is_too_narrow() {
    breaks(|rig| rig.firmware.arrest.accel_max_mps2 *= 0.7);
}

/// Nothing is found where nothing is broken; and the answer does not depend on the number of threads.
#[test]
fn the_sound_rig_has_none() {
    let rig = Rig::default_machine().unwrap();
    assert!(find(&rig, 2).is_none());
    let mut rig = rig;
    rig.firmware.arrest.accel_max_mps2 *= 0.7;
    let (one, three) = (find(&rig, 1).unwrap(), find(&rig, 3).unwrap());
    assert_eq!(
        (&one.knots, one.figures, one.machine),
        (&three.knots, three.figures, three.machine)
    );
}
