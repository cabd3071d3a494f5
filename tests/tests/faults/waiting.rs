//! What a wrong accelerometer does until it is found: where travel is in doubt the motor keeps its current
//! ([`firmware::agree::State::compare_travel`]). The limits are those of the campaign, our own.

use host_sim::campaign::case;
use host_sim::campaign::plan::Plan;
use host_sim::campaign::start::Start;
use host_sim::design;
use host_sim::fault::catalogue::by_name;
use host_sim::rig::Rig;

/// A sign of the seat's accelerometer that has turned makes the seat run away with an e-folding time of 5 ms, and is found after
/// 15 to 20 ms. If the motor did not wait, the peak would be 1.01 to 2.8 times its limit in all twelve cases.
#[test]
fn a_turned_sign_is_found_before_it_does_harm() {
    let rig = Rig::default_machine().unwrap();
    let parameters = design::parameters(&rig).unwrap();
    let plan = Plan {
        floors: vec!["hauler".to_owned(), "loader".to_owned()],
        levels: vec![1.0],
        onsets_s: vec![10.0, 11.37],
        ..Plan::whole()
    };
    let mut held = 0;
    for place in plan.places().unwrap() {
        let start = Start::ride(&rig, &parameters, &place, 3.0).unwrap();
        let case = case::ride(&start, by_name("seat-accel-sign").unwrap()).unwrap();
        assert!(case.is_dangerous(), "{}", case.id);
        assert!(case.share_of_limit() < 1.3, "{}: {}", case.id, case.why());
        held += u32::from(case.limits_hold());
    }
    assert!(held >= 10, "{held} of 12");
}
