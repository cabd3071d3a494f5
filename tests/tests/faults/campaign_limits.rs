//! Thresholds by which the campaign judges: the register's numbers, by hand and on real cases.

use firmware::Cycle;
use host_sim::campaign::case::{
    self, CHANGE_ACCEL_MPS2, CHANGE_RATE_MPS, CaseFigures, RATE_ERROR_MPS,
};
use host_sim::campaign::judge::NO_WORSE;
use host_sim::campaign::plan::{Plan, window_s};
use host_sim::campaign::start::Start;
use host_sim::design;
use host_sim::fault::catalogue::by_name;
use host_sim::limits::constant;
use host_sim::rig::Rig;

/// Faults from those that nobody feels to those that everybody does.
const FAULTS: [&str; 6] = [
    "supply-stuck",
    "floor-accel-noise",
    "travel-noise",
    "jitter",
    "travel-delayed",
    "seat-accel-sign",
];

fn cases() -> Vec<CaseFigures> {
    let rig = Rig::default_machine().expect("the default rig");
    let plan = Plan {
        floors: vec!["ballast".to_owned()],
        levels: vec![1.0],
        occupants_kg: vec![80.0],
        onsets_s: vec![10.0],
        ..Plan::whole()
    };
    let place = plan.places().expect("places").remove(0);
    let entries = || FAULTS.iter().map(|name| by_name(name).expect("a fault"));
    let longest = entries().map(window_s).fold(0.0, f64::max);
    let parameters = design::parameters(&rig).expect("parameters");
    assert!(Cycle::<f32>::new(&parameters).is_ok());
    let start = Start::ride(&rig, &parameters, &place, longest).expect("a start");
    entries()
        .map(|entry| case::ride(&start, entry).expect("a case"))
        .collect()
}

// Demonstrates: fault-changes-accel, fault-changes-rate, fault-rate-error, fault-no-worse
#[test]
fn thresholds_of_the_campaign_are_those_of_the_register() {
    assert_eq!(CHANGE_ACCEL_MPS2, constant::FAULT_CHANGES_ACCEL);
    assert_eq!(CHANGE_RATE_MPS, constant::FAULT_CHANGES_RATE);
    assert_eq!(RATE_ERROR_MPS, constant::FAULT_RATE_ERROR);
    assert_eq!(NO_WORSE, constant::FAULT_NO_WORSE);
    let (mut felt, mut not) = (0, 0);
    for case in cases() {
        let differs = case.change_mps2 > constant::FAULT_CHANGES_ACCEL
            || case.change_mps > constant::FAULT_CHANGES_RATE;
        println!(
            "{}: {} m/s2, {} m/s, changes after {:?}",
            case.fault, case.change_mps2, case.change_mps, case.changes_after_s
        );
        assert_eq!(case.changes_after_s.is_some(), differs, "{}", case.fault);
        if differs {
            felt += 1;
        } else {
            not += 1;
        }
    }
    assert!(felt > 0 && not > 0, "{felt} {not}");
}
