//! Travel and accelerometers disagree: is it travel? A jump that no accelerometer makes tells. Then the occupant is set down by the
//! accelerometers alone; else, and when the wires of both are swapped, the current is led to zero. Our own targets.

use becalm_tests::faults::{fault, rig};
use firmware::{Fault, Faults, Mode};
use host_sim::floor::FloorSpec;
use host_sim::limits::constant;
use host_sim::ride::{self, RideSpec};

const ONSET_S: f64 = 10.0;
/// No quiet ones: at rest an accelerometer reads like travel by chance, and then nothing is relied upon.
const PLACES: [(&str, f64); 3] = [("hauler", 80.0), ("loader", 130.0), ("compact", 40.0)];

/// What the firmware said and how the seat fared from the onset on.
struct After {
    /// Modes, one for each change.
    modes: Vec<Mode>,
    /// The faults noticed first, and all but those in Off: there the estimates may be finding their way.
    first: Faults,
    faults: Faults,
    /// From the onset to the first fault, s.
    noticed_s: f64,
    /// Hardest contact with a stop, m/s.
    contact_mps: f64,
}

fn after(name: &str, floor: &str, occupant_kg: f64) -> After {
    ridden(
        &[&format!("{name}:onset={ONSET_S}")],
        floor,
        occupant_kg,
        4.0,
    )
}

/// The same with several faults, for `seconds` from the onset on.
fn ridden(faults: &[&str], floor: &str, occupant_kg: f64, seconds: f64) -> After {
    let spec = RideSpec {
        occupant_kg,
        seconds: ONSET_S + seconds,
        skip_s: ONSET_S,
        faults: faults.iter().map(|text| fault(text)).collect(),
        ..RideSpec::on(FloorSpec::named(floor))
    };
    let mut after = After {
        modes: Vec::new(),
        first: Faults::default(),
        faults: Faults::default(),
        noticed_s: f64::INFINITY,
        contact_mps: 0.0,
    };
    let summary = ride::run(&rig(), &spec, |sample| {
        let since = sample.time_s - ONSET_S;
        if since < 0.0 {
            return true;
        }
        let mode = Mode::from_code(sample.drive.mode).expect("a mode");
        if after.modes.last() != Some(&mode) {
            after.modes.push(mode);
        }
        if !after.first.any() {
            after.first.0 = sample.drive.faults;
        }
        if mode != Mode::Off {
            after.faults.0 |= sample.drive.faults;
        }
        if sample.drive.faults != 0 {
            after.noticed_s = after.noticed_s.min(since);
        }
        true
    })
    .expect("a ride");
    after.contact_mps = summary.travel.contact_speed_max_mps;
    after
}

/// The occupant is set down by the accelerometers, no stop is met, and then it is Fault.
#[test]
fn without_travel_the_occupant_is_set_down() {
    for name in ["travel-dead", "travel-bias", "travel-sign"] {
        for (floor, kg) in PLACES {
            let what = format!("{name} on {floor}");
            let after = after(name, floor, kg);
            assert_eq!(after.faults, Faults(Fault::Travel as u16), "{what}");
            assert!(after.noticed_s <= 0.02, "{what}: {}", after.noticed_s);
            let driving: Vec<Mode> = after.modes.iter().copied().filter(|m| m.drives()).collect();
            assert_eq!(driving, [Mode::Active, Mode::Settle], "{what}");
            assert_eq!(after.modes.last(), Some(&Mode::Fault), "{what}");
            assert_eq!(after.contact_mps, 0.0, "{what}");
        }
    }
}

/// An accelerometer is never taken for travel.
#[test]
fn a_wrong_accelerometer_is_not_laid_to_travel() {
    for sensor in ["floor-accel", "seat-accel"] {
        for wrong in ["bias", "sign", "gain", "drift", "noise", "saturated"] {
            for (floor, kg) in PLACES {
                let after = after(&format!("{sensor}-{wrong}"), floor, kg);
                let first = after.first;
                assert!(
                    !first.has(Fault::Travel),
                    "{sensor}-{wrong} on {floor}: {first:?}"
                );
            }
        }
    }
}

/// With its wires and an accelerometer's swapped, travel jumps too, but the accelerometers are not relied upon.
#[test]
fn swapped_with_an_accelerometer_nothing_is_relied_upon() {
    for name in ["floor-accel-travel-swapped", "seat-accel-travel-swapped"] {
        for (floor, kg) in PLACES {
            let after = after(name, floor, kg);
            let last = after.modes.iter().rfind(|m| m.drives());
            assert_eq!(
                last,
                Some(&Mode::Release),
                "{name} on {floor}: {:?}",
                after.modes
            );
        }
    }
}

/// A sensor that is well again is believed again, where it is by then, once the seat has been disarmed: not before, and on a floor
/// that moves all the while.
#[test]
fn disarmed_travel_that_is_well_again_is_relied_upon_again() {
    for name in ["travel-dead", "travel-bias"] {
        for (floor, kg) in PLACES {
            let broken = format!("{name}:onset={ONSET_S},duration=3");
            let disarmed = format!("disarmed:onset={},duration=1", ONSET_S + 6.0);
            let after = ridden(&[&broken, &disarmed], floor, kg, 12.0);
            let what = format!("{name} on {floor}: {:?} {:?}", after.modes, after.faults);
            assert_eq!(after.faults, Faults(Fault::Travel as u16), "{what}");
            let reset = after.modes.iter().position(|m| *m == Mode::Off);
            let (before, since) = after.modes.split_at(reset.expect(&what));
            assert_eq!(before.last(), Some(&Mode::Fault), "{what}");
            assert!(
                since.starts_with(&[Mode::Off, Mode::Passive, Mode::Rise]),
                "{what}"
            );
            assert!(since.last().is_some_and(|m| m.isolates()), "{what}");
            assert!(after.contact_mps <= constant::STOP_TOUCH_SPEED, "{what}");
        }
    }
}
