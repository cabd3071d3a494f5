//! The residual of the load that the dossier tells is the one that the firmware judges: ridden again with bounds just above it
//! nothing is blamed, with bounds just below it the motor is. (A bound on travel also cuts what corrects the observer, so that a
//! ride with another one is another ride; a current's residual is a few counts.) Our own rule.

use becalm_tests::dossier::made;
use firmware::{Fault, Faults};
use host_sim::floor::FloorSpec;
use host_sim::limits::constant;
use host_sim::ride::{self, RideSpec};
use host_sim::rig::Rig;
use serde_json::Value;

/// The faults told in the first of the dossier's rides, with another rig.
fn told(rig: &Rig) -> Faults {
    let spec = RideSpec {
        seconds: 8.0,
        skip_s: 4.0,
        ..RideSpec::on(FloorSpec {
            level: 2.5,
            seed: 1,
            ..FloorSpec::named("hauler")
        })
    };
    let mut told = Faults::default();
    ride::run(rig, &spec, |s| {
        told.0 |= s.drive.faults;
        true
    })
    .expect("a ride");
    told
}

// Demonstrates: load-change, load-mass
#[test]
fn bounds_just_below_a_residual_blame_and_just_above_do_not() {
    let made = made();
    let text = std::fs::read_to_string(made.folder.path().join("rides.json")).expect("rides");
    let raw: Value = serde_json::from_str(&text).expect("JSON");
    let ride = &raw["rides"][0];
    assert_eq!(ride["seed"].as_u64(), Some(1));
    let found = |name: &str| {
        let value = ride["extremes"]["residuals"][name].as_f64();
        value.unwrap_or_else(|| panic!("{name}"))
    };
    println!("{}", ride["extremes"]);
    let change = found("load_change_n") / constant::LOAD_CHANGE;
    for (factor, wrong) in [(1.02, false), (0.98, true)] {
        let mut rig = made.rig.clone();
        let agree = &mut rig.firmware.agree;
        agree.load_change_n = (factor * change * constant::LOAD_CHANGE) as f32;
        agree.load_mass_kg = (factor * change * constant::LOAD_MASS) as f32;
        // Before it isolates the whole load counts.
        agree.load_n = 1.0e5;
        assert_eq!(told(&rig).has(Fault::Force), wrong, "load {change}");
    }
    assert_eq!(told(&made.rig), Faults::default());
}
