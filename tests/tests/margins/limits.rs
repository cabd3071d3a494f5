//! The default rig's margins against the register's limits, over the whole grid of operating points.

use host_sim::limits::constant as limit;
use host_sim::margins::limits::Limits;
use host_sim::margins::point::Bench;
use host_sim::margins::study::{self, StudySpec};
use host_sim::rig::Rig;

/// Held against the register's own numbers, one by one, not by the code that the command uses. How each margin is worked
/// out is checked in `margins_reference` (python-control) and `margins_poles`.
// Demonstrates: gain-margin-up, gain-margin-down, phase-margin, disk-margin, delay-margin, largest-pole
#[test]
fn the_default_rig_keeps_its_margins() {
    let rig = Rig::default_machine().expect("the default rig");
    let bench = Bench::new(&rig).expect("a bench");
    let spec = StudySpec {
        draws: 0,
        ..StudySpec::default()
    };
    let study = study::run(&bench, &spec, || true, |_| ()).expect("a study");
    let worst = study.worst(false);
    assert!(
        worst.gain_margin_up_db >= limit::GAIN_MARGIN_UP,
        "{worst:?}"
    );
    assert!(
        worst.gain_margin_down_db >= limit::GAIN_MARGIN_DOWN,
        "{worst:?}"
    );
    assert!(worst.phase_margin_deg >= limit::PHASE_MARGIN, "{worst:?}");
    assert!(worst.disk_margin >= limit::DISK_MARGIN, "{worst:?}");
    assert!(worst.delay_margin_s >= limit::DELAY_MARGIN, "{worst:?}");
    let slowest = study
        .points
        .iter()
        .fold(0.0, |m: f64, p| m.max(p.largest_pole));
    assert!(slowest < limit::LARGEST_POLE, "{slowest}");
    // What the command judges by is the same.
    assert_eq!(study.broken(&Limits::default()), Vec::<String>::new());
    assert!(study.points.len() > 100);
}
