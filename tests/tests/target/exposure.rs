//! Daily exposure on the invented machine floors at level 1, against Directive 2002/44/EC.

use becalm_tests::target::{FLOORS, assert_none, for_all, rig, spec};
use host_sim::exposure::daily::{REFERENCE_DAY_S, daily_vdv_mps175, partial_a8_mps2};
use host_sim::limits::constant::{
    EXPOSURE_ACTION_A8, EXPOSURE_ACTION_VDV, EXPOSURE_LIMIT_A8, EXPOSURE_LIMIT_VDV,
};
use host_sim::ride;

/// Eight hours like the ride of any floor, seeds 1 to 3, stay below the action values, and so below the limit values.
/// The values are those of Directive 2002/44/EC, Article 3(2), as many summaries print them (from memory; the register
/// holds them), A(8) = a sqrt(8 h / 8 h), daily VDV = VDV (8 h / T)^(1/4).
// Demonstrates: exposure-action-a8, exposure-limit-a8, exposure-action-vdv, exposure-limit-vdv
#[test]
fn daily_exposure_at_level_1() {
    assert_eq!((EXPOSURE_ACTION_A8, EXPOSURE_LIMIT_A8), (0.5, 1.15));
    assert_eq!((EXPOSURE_ACTION_VDV, EXPOSURE_LIMIT_VDV), (9.1, 21.0));
    let rig = rig();
    let mut specs = Vec::new();
    for floor in FLOORS {
        specs.extend((1..=3).map(|seed| spec(floor, 1.0, seed)));
    }
    let days = for_all(&specs, |spec| {
        let seat = ride::run(&rig, spec, |_| true).expect("a ride").seat;
        let seconds = spec.seconds - spec.skip_s;
        let vdv = daily_vdv_mps175(seat.vdv_mps175, seconds, REFERENCE_DAY_S).expect("a day");
        let by_hand = seat.vdv_mps175 * (28_800.0 / seconds).powf(0.25);
        assert!((vdv / by_hand - 1.0).abs() < 1.0e-12, "{vdv} {by_hand}");
        let a8 = partial_a8_mps2(seat.weighted_rms_mps2, REFERENCE_DAY_S).expect("a day");
        assert!((a8 - seat.weighted_rms_mps2).abs() < 1.0e-12);
        (a8, vdv)
    });
    let failures: Vec<_> = specs
        .iter()
        .zip(&days)
        .filter(|(_, (a8, vdv))| !(*a8 <= EXPOSURE_ACTION_A8 && *vdv <= EXPOSURE_ACTION_VDV))
        .map(|(spec, day)| format!("{} seed {}: {day:?}", spec.floor.name, spec.floor.seed))
        .collect();
    let worst = |of: fn(&(f64, f64)) -> f64| days.iter().map(of).fold(0.0, f64::max);
    println!(
        "worst day: A(8) {:.3} m/s2, VDV {:.2} m/s1.75",
        worst(|d| d.0),
        worst(|d| d.1)
    );
    assert_none("daily exposure", &failures);
}
