//! Every reason for which the commissioning test gives up, and that it stays given up, in the safe state.

use firmware::commission::{DRIVING, Reason, State};
use firmware::{Commission, DriveFrame, Fault, Marks, SensorFrame, Switches};
use host_sim::commission::{Spec, Wrong, run};
use host_sim::design;
use host_sim::rig::Rig;

fn rig() -> Rig {
    Rig::default_machine().expect("the default rig")
}

/// In the rest check, and in a motion, s: the arming switch goes on at 0.2 s, rest takes 3 s.
const AT_REST_S: f64 = 1.0;
const MOVING_S: f64 = 8.0;

/// The reason and the time of the end, when frames are meddled with.
fn ended(spec: &Spec, meddle: impl FnMut(f64, &mut SensorFrame)) -> (Option<Reason>, f64) {
    let mut run = run(&rig(), spec, meddle).expect("a run");
    let reason = run.aborted();
    assert!(!run.commission.may_arm() || reason.is_none());
    if let Some(reason) = reason {
        assert!(run.commission.result().is_none());
        // Given up is given up, whatever comes.
        let calm = SensorFrame {
            switches: Switches(Switches::ARM | Switches::STOP_CIRCUIT),
            supply: 4800,
            ..SensorFrame::default()
        };
        for n in 0..6000_u16 {
            let mut frame = calm;
            frame.sequence = n;
            (frame.floor_accel, frame.seat_accel) = ((n % 3) as i16, (n % 5) as i16);
            if n < 100 {
                frame.switches = Switches(0);
            }
            let drive = run.commission.step(&frame);
            assert_eq!(
                (drive.current_command, drive.outputs),
                (0, DriveFrame::DAMP)
            );
            assert_eq!(run.commission.state(), State::Aborted(reason));
        }
    }
    (reason, run.seconds)
}

/// Switches, at rest and in motion: on the very step.
#[test]
fn switches_end_it_at_once() {
    for at_s in [AT_REST_S, MOVING_S] {
        for (flip, reason) in [
            (Switches::ARM, Reason::Disarmed),
            (Switches::STOP_CIRCUIT, Reason::StopCircuit),
            (Switches::OCCUPANT, Reason::Occupied),
        ] {
            let (why, ended_s) = ended(&Spec::of(1), |time, frame| {
                if time >= at_s {
                    frame.switches.0 ^= flip;
                }
            });
            assert_eq!(why, Some(reason));
            assert!(ended_s < at_s + 0.0025, "{ended_s}");
        }
    }
}

/// Readings that are absurd, missing, stuck or late: the vet stage's faults, within its own ten steps.
#[test]
fn absurd_readings_end_it() {
    type Meddle = fn(&mut SensorFrame);
    let cases: [(Fault, Meddle); 10] = [
        (Fault::FloorAccel, |f| f.floor_accel = i16::MAX),
        (Fault::SeatAccel, |f| f.seat_accel = i16::MIN),
        (Fault::SeatAccel, |f| f.marks.0 |= Marks::SEAT_ACCEL),
        (Fault::Travel, |f| f.travel = i16::MAX),
        (Fault::Travel, |f| f.marks.0 |= Marks::TRAVEL),
        (Fault::Supply, |f| f.supply = 1000),
        (Fault::CoilTemperature, |f| f.coil_temperature = i16::MAX),
        (Fault::Late, |f| f.marks.0 |= Marks::LATE),
        (Fault::Output, |f| f.marks.0 |= Marks::OUTPUT),
        (Fault::Sequence, |f| f.sequence = 7),
    ];
    for at_s in [AT_REST_S, MOVING_S] {
        for (fault, meddle) in cases {
            let (why, ended_s) = ended(&Spec::of(2), |time, frame| {
                if time >= at_s {
                    meddle(frame);
                }
            });
            let Some(Reason::Fault(faults)) = why else {
                panic!("{fault:?}: {why:?}");
            };
            assert!(faults.has(fault), "{fault:?}: {faults:?}");
            assert!(ended_s < at_s + 0.015, "{fault:?}: {ended_s}");
        }
    }
    // While it drives, too much current as well.
    let (why, _) = ended(&Spec::of(2), |time, frame| {
        if time >= MOVING_S {
            frame.current = i16::MAX;
        }
    });
    assert!(
        matches!(why, Some(Reason::Fault(f)) if f.has(Fault::Current)),
        "{why:?}"
    );
}

/// A seat away from mid travel, by 9 mm on the travel sensor.
// Demonstrates: commission-level
#[test]
fn a_seat_that_is_not_level() {
    let (why, ended_s) = ended(&Spec::of(1), |_, f| f.travel = f.travel.saturating_add(450));
    assert_eq!(why, Some(Reason::NotLevel));
    assert!(ended_s < 0.25, "{ended_s}");
}

/// Travel beyond the bound: the reading drifts away by 3 mm a second.
// Demonstrates: commission-travel
#[test]
fn travel_beyond_its_bound() {
    let (why, _) = ended(&Spec::of(1), |time, frame| {
        let drift = 150.0 * (time - 4.0).max(0.0);
        frame.travel = frame.travel.saturating_add(drift as i16);
    });
    assert_eq!(why, Some(Reason::Travel));
}

/// A rolling machine: 0.6 m/s2 at 2 Hz, 0.42 r.m.s., on both accelerometers; at rest and in motion.
// Demonstrates: commission-floor
#[test]
fn a_floor_that_moves() {
    for from_s in [0.0, MOVING_S] {
        let (why, ended_s) = ended(&Spec::of(1), |time, frame| {
            if time >= from_s {
                let sway = (150.0 * (std::f64::consts::TAU * 2.0 * time).sin()) as i16;
                frame.floor_accel = frame.floor_accel.saturating_add(sway);
                frame.seat_accel = frame.seat_accel.saturating_add(sway);
            }
        });
        assert_eq!(why, Some(Reason::FloorMoves), "{from_s}");
        assert!(ended_s < from_s + 3.5, "{ended_s}");
    }
    // A floor of 600 kg gives way too much.
    let soft = Spec {
        floor_kg: 600.0,
        ..Spec::of(1)
    };
    assert_eq!(ended(&soft, |_, _| {}).0, Some(Reason::FloorMoves));
}

/// A motor of a fifth of its force cannot move the seat; nor does a travel sensor that hangs.
#[test]
fn too_little_motion() {
    let weak = Spec {
        wrong: Wrong::parse("force-constant:0.2"),
        ..Spec::of(1)
    };
    assert_eq!(ended(&weak, |_, _| {}).0, Some(Reason::NoMotion));
    let (why, _) = ended(&Spec::of(1), |_, frame| frame.travel = 3);
    assert_eq!(why, Some(Reason::NoMotion));
}

/// A current sensor that hangs says nothing about force.
#[test]
fn nothing_to_determine_it_by() {
    let (why, _) = ended(&Spec::of(1), |_, frame| frame.current = 5);
    assert_eq!(why, Some(Reason::Undetermined));
}

/// An arming switch that is on from the beginning starts nothing; off and on does.
#[test]
fn the_arming_switch_must_go_on() {
    let parameters = design::parameters(&rig()).expect("parameters");
    let mut test = Commission::new(&parameters).expect("a test");
    let mut step = |n: u16, switches: u8| {
        let drive = test.step(&SensorFrame {
            sequence: n,
            floor_accel: (n % 3) as i16,
            seat_accel: (n % 5) as i16,
            supply: 4800,
            switches: Switches(switches),
            ..SensorFrame::default()
        });
        (test.state(), drive)
    };
    let ready = Switches::ARM | Switches::STOP_CIRCUIT;
    for n in 0..5000 {
        let (state, drive) = step(n, ready);
        assert_eq!((state, drive.outputs), (State::Waiting, DriveFrame::DAMP));
    }
    assert_eq!(step(5000, Switches::STOP_CIRCUIT).0, State::Waiting);
    assert_eq!(step(5001, ready).0, State::Rest);
    let mut n = 5002;
    let (state, drive) = loop {
        let (state, drive) = step(n, ready);
        if state != State::Rest {
            break (state, drive);
        }
        assert_eq!(
            (drive.current_command, drive.outputs),
            (0, DriveFrame::DAMP)
        );
        n += 1;
    };
    assert_eq!(n - 5002, 2999);
    assert_eq!(state, State::Motion(0));
    assert_eq!((drive.mode, drive.outputs), (DRIVING, DriveFrame::ENABLE));
}
