//! Sensors lost while the seat isolates, in closed loop: Limp rides on and ends softly, Release lets go softly. Our own
//! targets.

use becalm_tests::modes::{Machine, Seen, parameters, rig, roughness, steps};
use firmware::{Marks, Mode, Switches};
use host_sim::body::BodyKind;
use host_sim::limits::constant;
use host_sim::modes::proof::Stated;

/// Light, middle and heavy occupant, rigid and seated, both signs of the machine's errors; isolating and levelled.
fn everybody() -> impl Iterator<Item = (String, Machine)> {
    [BodyKind::TwoMass, BodyKind::Rigid]
        .into_iter()
        .flat_map(|kind| {
            [40.0, 80.0, 130.0]
                .into_iter()
                .flat_map(move |kg| [1, 2].map(|seed| (kind, kg, seed)))
        })
        .map(|(kind, kg, seed)| {
            let mut machine = Machine::new(&rig(), kind, kg, seed);
            let seen = machine.still(20.0, |_| true);
            assert_eq!(seen.last().map(|s| s.mode), Some(Mode::Active));
            (format!("{} {kg} kg seed {seed}", kind.name()), machine)
        })
}

const DISPENSABLE: [u8; 3] = [Marks::FLOOR_ACCEL, Marks::SEAT_ACCEL, Marks::CURRENT];

/// Rides on a floor that sways with `peak` m/s2 at `hz`.
fn swaying(machine: &mut Machine, peak: f64, hz: f64, seconds: f64) -> Vec<Seen> {
    let begin_s = machine.time_s();
    let floor = |t: f64| {
        let s = t - begin_s;
        peak * (s / 2.0).min(1.0) * (core::f64::consts::TAU * hz * s).sin()
    };
    let mut seen = Vec::new();
    while machine.time_s() < begin_s + seconds {
        let t = machine.time_s();
        seen.push(machine.step((floor(t), floor(t + 0.001))));
    }
    seen
}

const STEP_MPS2: f64 = constant::SOFT_STEP;

/// On a still floor nobody feels more of it than a soft start may show, and the seat stays where it was.
fn assert_rests(mark: u8) {
    let mut failures = Vec::new();
    for (who, mut machine) in everybody() {
        machine.marks = Marks(mark);
        let seen = machine.still(10.0, |_| true);
        let (peak, change) = roughness(&seen);
        let last = seen.last().expect("steps");
        let told = format!(
            "{who}: {}, peak {peak:.2}, change in 20 ms {change:.2} m/s2, travel {:.1} mm",
            last.mode.name(),
            1000.0 * last.travel
        );
        println!("{told}");
        let soft = peak <= STEP_MPS2 && change <= STEP_MPS2;
        if !(soft && last.mode == Mode::Limp && last.travel.abs() < 0.01) {
            failures.push(told);
        }
    }
    assert!(failures.is_empty(), "\n  {}", failures.join("\n  "));
}

// Demonstrates: soft-step
#[test]
fn floor_accelerometer_lost_at_rest() {
    assert_rests(Marks::FLOOR_ACCEL);
}

// Demonstrates: soft-step
#[test]
fn seat_accelerometer_lost_at_rest() {
    assert_rests(Marks::SEAT_ACCEL);
}

// Demonstrates: soft-step
#[test]
fn current_sensor_lost_at_rest() {
    assert_rests(Marks::CURRENT);
}

/// Rides on over a swaying floor within the stated steps; disarmed then, it is Off in time, by way of Settle and Fault.
#[test]
fn dispensable_sensor_lost_on_the_way() {
    let p = parameters();
    let noticed = p.vet.fault_steps as usize;
    let config = p.supervise.build(&p.timing).expect("a configuration");
    let to_off = Stated::of(&config.thresholds()).to_off;
    for mark in DISPENSABLE {
        // A load that the law takes for sprung though it is rigid looks like a motor that pushes, and without the current
        // sensor that is not driven on.
        let rides_on = |who: &str| mark != Marks::CURRENT || who.starts_with("two-mass");
        for (who, mut machine) in everybody().filter(|(who, _)| rides_on(who)) {
            swaying(&mut machine, 2.0, 2.0, 10.0);
            machine.marks = Marks(mark);
            let seen = swaying(&mut machine, 2.0, 2.0, 20.0);
            let limps = seen.iter().skip(noticed - 1);
            assert!(limps.clone().all(|s| s.mode == Mode::Limp), "{who}");
            // The current is no part of the law: isolation stays as it was.
            let isolation = if mark == Marks::CURRENT { 1.0 } else { 0.0 };
            assert!(limps.clone().all(|s| s.isolation == isolation), "{who}");
            machine.switches &= !Switches::ARM;
            let seen = machine.still(15.0, |s| s.mode != Mode::Off);
            let last: Vec<_> = seen.iter().rev().take(3).map(|s| s.mode).collect();
            assert_eq!(last, [Mode::Off, Mode::Fault, Mode::Settle], "{who}");
            assert!(seen.len() as u32 <= to_off, "{who}: {}", seen.len());
        }
    }
}

/// What leads to Release lets go of a levelled seat softly, and ends where it must.
// Demonstrates: release-time, soft-step
#[test]
fn released_softly() {
    for (who, mut machine) in everybody() {
        machine.marks = Marks(Marks::COIL_TEMPERATURE);
        let seen = machine.still(3.0, |_| true);
        let released = seen.iter().filter(|s| s.mode == Mode::Release).count();
        let release_s = parameters().supervise.release_s;
        assert_eq!(released as u32, steps(release_s) + 1, "{who}");
        assert_eq!(seen.last().map(|s| s.mode), Some(Mode::Fault), "{who}");
        let (peak, change) = roughness(&seen);
        assert!(
            peak <= STEP_MPS2 && change <= STEP_MPS2,
            "{who}: {peak} {change}"
        );
    }
}

/// With the supply out of its band, or without travel, by the accelerometers alone, the seat is set down softly, and ends
/// Damped or in Fault; isolation fades at once.
#[test]
fn set_down_softly() {
    let p = parameters();
    let most_s = p.supervise.settle_max_s + p.supervise.lead_out_s;
    // At rest a tenth of all accelerometers read like travel by chance: nothing is relied upon then.
    let mut alike = 0;
    for (mark, end) in [(Marks::SUPPLY, Mode::Damped), (Marks::TRAVEL, Mode::Fault)] {
        for (who, mut machine) in everybody() {
            machine.marks = Marks(mark);
            let seen = machine.still(f64::from(most_s) + 0.1, |_| true);
            let modes = seen.chunk_by(|a, b| a.mode == b.mode);
            let modes: Vec<Mode> = modes.map(|same| same[0].mode).collect();
            if mark == Marks::TRAVEL && modes == [Mode::Active, Mode::Settle, Mode::Release, end] {
                alike += 1;
            } else {
                assert_eq!(modes, [Mode::Active, Mode::Settle, end], "{who}");
            }
            let (peak, change) = roughness(&seen);
            assert!(
                peak <= STEP_MPS2 && change <= STEP_MPS2,
                "{who}: {peak} {change}"
            );
        }
    }
    assert!(alike <= 3, "{alike} of 12");
}
