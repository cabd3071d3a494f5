//! Current and command disagree: is it the sensor or the motor? The seat's acceleration tells. Our own targets.

use becalm_tests::faults::{fault, rig};
use firmware::{Fault, Faults, Mode};
use host_sim::floor::FloorSpec;
use host_sim::ride::{self, RideSpec};

const ONSET_S: f64 = 10.0;
/// From the first fault bit to the one that blames the motor.
const DECIDED_S: f64 = 0.002;

/// Answers from the onset on: time since it, mode, faults.
fn after(name: &str, floor: &str, occupant_kg: f64) -> Vec<(f64, Mode, Faults)> {
    let spec = RideSpec {
        occupant_kg,
        seconds: ONSET_S + 3.0,
        faults: vec![fault(&format!("{name}:onset={ONSET_S}"))],
        ..RideSpec::on(FloorSpec::named(floor))
    };
    let mut seen = Vec::new();
    ride::run(&rig(), &spec, |sample| {
        let mode = Mode::from_code(sample.drive.mode).expect("a mode");
        if sample.time_s >= ONSET_S {
            seen.push((sample.time_s - ONSET_S, mode, Faults(sample.drive.faults)));
        }
        true
    })
    .expect("a ride");
    seen
}

/// The seat rides on without its current sensor, on every floor, and nothing else is blamed.
#[test]
fn a_broken_sensor_is_done_without() {
    for name in ["current-dead", "current-stuck", "current-sign"] {
        for (floor, kg) in [("hauler", 80.0), ("loader", 130.0), ("compact", 40.0)] {
            let seen = after(name, floor, kg);
            let first = seen.iter().position(|(.., faults)| faults.any());
            let first = first.unwrap_or_else(|| panic!("{name} on {floor}: not noticed"));
            for (s, mode, faults) in &seen[first..] {
                assert_eq!(
                    (*mode, *faults),
                    (Mode::Limp, Faults(Fault::Current as u16)),
                    "{name} on {floor}, {s:.3} s"
                );
            }
        }
    }
}

/// From a travel that disagrees to the end of the current that is led to zero: `release_s`, and a step.
const RELEASED_S: f64 = 0.052;

/// A motor that does not obey is not driven on: it is blamed together with the current, within a look of the check; or the
/// seat is shaken so hard that travel and accelerometers disagree before, and the current is led to zero.
#[test]
fn a_motor_that_does_not_obey_is_not_driven_on() {
    let mut blamed = 0;
    for (name, floor, kg) in [
        ("motor-reversed", "hauler", 40.0),
        ("motor-reversed", "loader", 80.0),
        ("current-loop-stuck", "hauler", 80.0),
        ("current-loop-stuck", "loader", 130.0),
    ] {
        let seen = after(name, floor, kg);
        let when = |bit: Fault| seen.iter().find(|(.., f)| f.has(bit)).map(|(s, ..)| *s);
        let what = format!("{name} on {floor}");
        let off_s = match (when(Fault::Current), when(Fault::CrossCheck)) {
            (current_s, Some(crossed_s)) if current_s.is_none_or(|s| crossed_s < s) => {
                crossed_s + RELEASED_S
            }
            (current_s, _) => {
                let current_s = current_s.expect(&what);
                let force_s = when(Fault::Force).expect(&what);
                assert!(
                    force_s - current_s <= DECIDED_S,
                    "{what}: {current_s} {force_s}"
                );
                blamed += 1;
                force_s
            }
        };
        let driven = seen.iter().any(|(s, mode, _)| *s >= off_s && mode.drives());
        assert!(!driven, "{what}");
    }
    assert!(blamed >= 2, "{blamed}");
}
