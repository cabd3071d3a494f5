//! A whole board of drivers under the task: buses that fail, are late or send anything. The machine
//! and its parts are invented.

use becalm_tests::brakes::LET_GO_STEPS;
use becalm_tests::drivers::machine::{Errors, Shared, World, board, board_in};
use embedded_hal::spi;
use firmware::drivers::{DriverError, DriverErrors};
use firmware::{Board, DriveFrame, Fault, Faults, Marks, Mode, Parameters, Switches, Tally, Task};
use host_sim::design;
use host_sim::rig::Rig;
use proptest::prelude::{ProptestConfig, any};
use proptest::{collection, proptest};

fn parameters() -> Parameters {
    design::parameters(&Rig::default_machine().expect("the default rig")).expect("parameters")
}

fn tick(task: &mut Task<f32>, board: &mut impl Board, world: &Shared) -> DriveFrame {
    let drive = task.tick(board);
    // To the beginning of the next period.
    let mut w = world.borrow_mut();
    w.now_us = (w.now_us / 1000 + 1) * 1000;
    // Armed after the start, as the law demands.
    w.armed = true;
    drive
}

fn active() -> (Task<f32>, impl Board + Errors, Shared) {
    active_at(0)
}

/// A task that isolates, at this travel.
fn active_at(travel: i16) -> (Task<f32>, impl Board + Errors, Shared) {
    let (mut board, world) = board();
    world.borrow_mut().travel = travel;
    let mut task = Task::start(&mut board, &parameters()).expect("a task");
    for _ in 0..3000 {
        tick(&mut task, &mut board, &world);
    }
    assert_eq!(task.cycle().mode(), Mode::Active);
    assert_eq!(task.tally(), Tally::default());
    let w = world.borrow();
    assert!(w.enable && !w.damp && w.refreshes == 3000);
    drop(w);
    (task, board, world)
}

/// Bus, ready bit and analog inputs that fail from some tick on: that sensor's fault stands in the stated step and
/// the tally counts every sample. Without one accelerometer the seat rides on; without travel the current is led to
/// zero first; without current it is let go, then it brakes.
#[test]
fn a_sensor_that_fails_is_a_fault_in_the_stated_step() {
    type Break = fn(&mut World);
    let cases: [(Break, &[Fault], Mode); 4] = [
        (|w| w.floor_fails = true, &[Fault::FloorAccel], Mode::Limp),
        (|w| w.floor_stuck = true, &[Fault::FloorAccel], Mode::Limp),
        (|w| w.travel_fails = true, &[Fault::Travel], Mode::Settle),
        (
            |w| w.analog_fails = true,
            &[Fault::Current, Fault::Supply, Fault::CoilTemperature],
            Mode::Fault,
        ),
    ];
    for (fail, faults, mode) in cases {
        let (mut task, mut board, world) = active();
        fail(&mut world.borrow_mut());
        let stated = parameters().vet.fault_steps;
        for n in 1..=stated {
            let drive = tick(&mut task, &mut board, &world);
            let w = world.borrow();
            let over = n == stated;
            for fault in faults {
                assert_eq!(Faults(drive.faults).has(*fault), over, "{fault:?} {n}");
            }
            let lets_go = over && mode == Mode::Fault;
            assert_eq!((w.enable, w.damp), (!lets_go, false), "{faults:?} {n}");
        }
        assert_eq!(task.cycle().mode(), mode);
        assert_eq!(task.tally().sensor_errors, stated);
        let limps = mode == Mode::Limp;
        // All sensors of this board show nothing: travel may be swapped with an accelerometer, and is released a step later.
        let released = 1 + (parameters().supervise.release_s / parameters().timing.step_s) as u32;
        // Step in which it came to Fault.
        let stopped = if mode == Mode::Settle {
            released + 1
        } else {
            0
        };
        for n in 1..=500 {
            let drive = tick(&mut task, &mut board, &world);
            let drives = limps || mode == Mode::Settle && n <= released;
            assert_eq!(drive.has(DriveFrame::ENABLE), drives, "{faults:?} {n}");
            let let_go = n < stopped + LET_GO_STEPS;
            let brakes = !drives && !let_go;
            assert_eq!(drive.has(DriveFrame::DAMP), brakes, "{faults:?} {n}");
        }
        let end = if limps { Mode::Limp } else { Mode::Fault };
        assert_eq!(task.cycle().mode(), end);
        assert_eq!(task.tally().sensor_errors, stated + 500);
        let w = world.borrow();
        let expected = match (w.floor_fails, w.floor_stuck) {
            (true, _) => Some(DriverError::Spi(spi::ErrorKind::Other)),
            (_, true) => Some(DriverError::NotReady),
            _ => None,
        };
        assert_eq!(board.errors().floor_accel, expected);
    }
}

/// One bad reading fewer than makes a fault, further from mid travel than the largest believable
/// jump: the first good reading afterwards is not taken for one, because the mark stands beside the
/// last good count.
#[test]
fn a_short_failure_is_borne() {
    let p = parameters();
    let travel = 300;
    assert!(f32::from(travel) * p.calibrate.travel.per_count > p.vet.travel_jump_m);
    let (mut task, mut board, world) = active_at(travel);
    for _ in 0..3 {
        world.borrow_mut().travel_fails = true;
        for _ in 1..p.vet.fault_steps {
            let drive = tick(&mut task, &mut board, &world);
            assert_eq!(drive.faults, 0);
        }
        world.borrow_mut().travel_fails = false;
        let drive = tick(&mut task, &mut board, &world);
        assert_eq!((drive.faults, drive.has(DriveFrame::ENABLE)), (0, true));
    }
}

/// The count beside a mark is the last good one.
#[test]
fn a_mark_stands_beside_the_last_good_count() {
    let (mut board, world) = board();
    world.borrow_mut().travel = 1500;
    let good = board.sample();
    assert_eq!((good.travel, good.marks), (1500, Marks(0)));
    let all = Switches::OCCUPANT | Switches::STOP_CIRCUIT;
    assert_eq!(good.switches, Switches(all));
    world.borrow_mut().travel_fails = true;
    world.borrow_mut().floor_fails = true;
    world.borrow_mut().analog_fails = true;
    let bad = board.sample();
    let marks = Marks::FLOOR_ACCEL
        | Marks::TRAVEL
        | Marks::CURRENT
        | Marks::SUPPLY
        | Marks::COIL_TEMPERATURE;
    assert_eq!(bad.marks, Marks(marks));
    assert_eq!(
        (
            bad.travel,
            bad.floor_accel,
            bad.supply,
            bad.coil_temperature
        ),
        (1500, good.floor_accel, 4800, 250)
    );
}

/// A bus that gives up in time costs nothing but its reading. One whose bound is longer than
/// the period makes the answers late too: the watchdog is not refreshed then.
#[test]
fn transfers_that_time_out() {
    for (bound_us, late) in [(300, false), (1200, true)] {
        let (mut task, mut board, world) = active();
        world.borrow_mut().bound_us = bound_us;
        world.borrow_mut().floor_fails = true;
        let before = world.borrow().refreshes;
        for _ in 0..parameters().vet.fault_steps {
            tick(&mut task, &mut board, &world);
        }
        let steps = parameters().vet.fault_steps;
        let tally = task.tally();
        assert_eq!(tally.sensor_errors, steps);
        assert_eq!(tally.late, if late { steps } else { 0 });
        let refreshed = world.borrow().refreshes - before;
        assert_eq!(refreshed, if late { 0 } else { steps });
        // Late answers let nothing ride on.
        let put_out = || (world.borrow().enable, world.borrow().damp);
        assert_eq!(put_out(), (!late, false));
        for _ in 0..LET_GO_STEPS {
            tick(&mut task, &mut board, &world);
        }
        assert_eq!(put_out(), (!late, late));
    }
}

/// A sensor that does not answer at the start: no drive, ever, though it answers later; the cause
/// can be seen.
#[test]
fn a_sensor_that_does_not_start() {
    let world = Shared::default();
    world.borrow_mut().floor_fails = true;
    let mut board = board_in(&world);
    let expected = DriverErrors {
        floor_accel: Some(DriverError::Spi(spi::ErrorKind::Other)),
        ..DriverErrors::default()
    };
    assert_eq!(*board.errors(), expected);
    world.borrow_mut().floor_fails = false;
    let mut task = Task::start(&mut board, &parameters()).expect("a task");
    for _ in 0..3000 {
        let drive = tick(&mut task, &mut board, &world);
        assert!(!drive.has(DriveFrame::ENABLE) && !world.borrow().enable);
    }
    assert_eq!(task.tally().sensor_errors, 3000);
    assert_eq!(board.errors().floor_accel, Some(DriverError::NotStarted));
    assert!(Faults(task.tick(&mut board).faults).has(Fault::FloorAccel));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    /// Any bytes from the buses give a frame whose marks are sensors' alone, and an answer;
    /// enable and damp are never on together (the pins assert it).
    #[test]
    fn any_bytes_give_a_frame(
        bytes in collection::vec(any::<u8>(), 0..600),
        ticks in 1_usize..80,
    ) {
        let (mut board, world) = board();
        let mut task = Task::<f32>::start(&mut board, &parameters()).expect("a task");
        world.borrow_mut().bytes = bytes.into();
        world.borrow_mut().any_bytes = true;
        for _ in 0..ticks {
            let frame = board.sample();
            assert!(!frame.marks.any_of(Marks::OUTPUT | Marks::LATE));
            let drive = tick(&mut task, &mut board, &world);
            assert!(!(drive.has(DriveFrame::ENABLE) && drive.has(DriveFrame::DAMP)));
            assert!(world.borrow().duty <= 10_000);
        }
    }
}
