//! What each fault leads to, how soon, and how it is left, by frames alone. The times are those of the
//! parameter table; what they must be is our own rule.

use becalm_tests::modes::{ALL_ON, Feed, HAND_OVER_STEPS, about, mode, parameters, steps};
use firmware::{DriveFrame, Fault, Faults, Mode, SensorFrame, Switches};

/// Open stop circuit, bad supply: Damped at once, or by way of Settle, and back only when all has been well for `clear_s`.
// Demonstrates: clear-time
#[test]
fn damped_returns_only_after_its_time() {
    let p = parameters();
    let clear = steps(p.supervise.clear_s);
    let fault = p.vet.fault_steps;
    type Change = fn(&mut SensorFrame);
    let causes: [(&str, Change, Change, u32); 3] = [
        (
            "stop circuit",
            |f| f.switches.0 &= !Switches::STOP_CIRCUIT,
            |f| f.switches.0 |= Switches::STOP_CIRCUIT,
            0,
        ),
        (
            "low supply",
            |f| f.supply = 3000,
            |f| f.supply = 4800,
            fault,
        ),
        (
            "high supply",
            |f| f.supply = 6800,
            |f| f.supply = 4800,
            fault,
        ),
    ];
    for (name, breaks, mends, noticed) in causes {
        let mut feed = Feed::active();
        breaks(&mut feed.frame);
        if noticed == 0 {
            assert_eq!(feed.until(Mode::Damped, 100), 1, "{name}");
        } else {
            about(feed.until(Mode::Settle, 100), noticed, name);
            let took = feed.until(Mode::Damped, HAND_OVER_STEPS);
            assert!(took >= steps(p.supervise.lead_out_s) - 2, "{name}: {took}");
        }
        feed.holds(Mode::Damped, 3000);
        // Well for a little less than the time, then bad again: it counts anew.
        mends(&mut feed.frame);
        feed.holds(Mode::Damped, clear - 3);
        breaks(&mut feed.frame);
        feed.holds(Mode::Damped, 100);
        mends(&mut feed.frame);
        let back = feed.until(Mode::Passive, 5000);
        about(back, noticed + clear, name);
        feed.until(Mode::Rise, 10);
        feed.until(Mode::Active, 2000);
    }
}

/// Repeated frames, each equal to the last but for nothing: the number shows it.
#[test]
fn repeated_frames_damp() {
    let p = parameters();
    let n = p.vet.sequence_strikes;
    let forgotten = n * p.vet.forgive_steps;
    let mut feed = Feed::active();
    let release = steps(p.supervise.release_s) + 1;
    let mut until = |wanted| {
        for k in 1..=100 {
            feed.frame.sequence = 7;
            let drive = feed.step();
            if mode(&drive) == wanted {
                assert!(Faults(drive.faults).has(Fault::Sequence));
                return k;
            }
        }
        panic!("{} not reached", wanted.name());
    };
    about(until(Mode::Release), n, "repeated frames");
    about(until(Mode::Damped), release, "current led to zero");
    // In order again.
    let back = feed.until(Mode::Passive, 5000);
    about(
        back,
        forgotten + steps(p.supervise.clear_s),
        "in order again",
    );
}

/// One lost frame is no fault.
#[test]
fn one_lost_frame_is_forgiven() {
    let mut feed = Feed::active();
    for _ in 0..20 {
        feed.frame.sequence = feed.frame.sequence.wrapping_add(1);
        feed.holds(Mode::Active, 50);
    }
}

/// How a breakage shows in the frame of step n since then.
type Break = fn(&mut SensorFrame, i16);

/// What breaks, how, and after how many steps at most it must be a fault.
fn breakages() -> Vec<(Fault, &'static str, Break, u32)> {
    let p = parameters().vet;
    let fault = p.fault_steps;
    let stuck = p.stuck_steps;
    vec![
        (
            Fault::FloorAccel,
            "out of range",
            |f, _| f.floor_accel = i16::MAX,
            fault,
        ),
        (
            Fault::FloorAccel,
            "stuck",
            |f, _| f.floor_accel = 3,
            stuck + fault,
        ),
        (
            Fault::FloorAccel,
            "jumping",
            |f, n| f.floor_accel = if n % 2 == 0 { 10_000 } else { -10_000 },
            fault,
        ),
        (
            Fault::SeatAccel,
            "out of range",
            |f, _| f.seat_accel = i16::MIN,
            fault,
        ),
        (
            Fault::SeatAccel,
            "stuck",
            |f, _| f.seat_accel = -2,
            stuck + fault,
        ),
        (
            Fault::SeatAccel,
            "jumping",
            |f, n| f.seat_accel = if n % 2 == 0 { 10_000 } else { -10_000 },
            fault,
        ),
        (
            Fault::Travel,
            "out of range",
            |f, _| f.travel = i16::MAX,
            fault,
        ),
        (
            Fault::Travel,
            "jumping",
            |f, n| f.travel = if n % 2 == 0 { 500 } else { -500 },
            fault,
        ),
        (
            Fault::Current,
            "out of range",
            |f, _| f.current = 25_000,
            fault,
        ),
        (
            Fault::CoilTemperature,
            "open",
            |f, _| f.coil_temperature = i16::MAX,
            fault,
        ),
        (
            Fault::CoilTemperature,
            "short",
            |f, _| f.coil_temperature = -500,
            fault,
        ),
        // The travel sensor runs away at 3 m/s while both accelerometers see nothing: no accelerometer could do that.
        (Fault::Travel, "runs away", |f, n| f.travel = 150 * n, 20),
        // The floor's accelerometer and travel do not say the same, and nobody knows which is wrong.
        (
            Fault::CrossCheck,
            "floor accelerometer 2 m/s2 off",
            |f, _| f.floor_accel += 500,
            20,
        ),
    ]
}

/// The mode that a fault leads to at once.
fn first_mode(fault: Fault) -> Mode {
    match fault {
        Fault::FloorAccel | Fault::SeatAccel | Fault::Current => Mode::Limp,
        Fault::Travel => Mode::Settle,
        Fault::CoilTemperature | Fault::CrossCheck => Mode::Release,
        _ => Mode::Fault,
    }
}

/// Each breakage is a fault within its stated steps, leads to the mode that it must, and stays a fault whatever
/// comes but disarming. Release lasts its time.
// Demonstrates: release-time
#[test]
fn fault_comes_in_time_and_stays() {
    let p = parameters();
    let release = steps(p.supervise.release_s) + 1;
    for (fault, how, breaks, most) in breakages() {
        let what = format!("{fault:?} {how}");
        let mut feed = Feed::active();
        let well = feed.frame;
        let mut last = DriveFrame::default();
        let mut after = 0;
        for n in 0..=most as i16 {
            let mut frame = feed.frame;
            // The other accelerometer keeps its noise.
            frame.floor_accel = [1, -2, 0, 4, -3][n as usize % 5];
            frame.seat_accel = [-1, 3, 0, -4, 2][n as usize % 5];
            breaks(&mut frame, n);
            last = feed.step_exactly(&frame);
            after = n as u32 + 1;
            if mode(&last) != Mode::Active {
                break;
            }
        }
        println!("{what}: {after} steps");
        let first = first_mode(fault);
        assert_eq!(mode(&last), first, "{what}");
        assert_eq!(last.faults, fault as u16, "{what}: {:#x}", last.faults);

        let restore = |feed: &mut Feed| {
            feed.frame = SensorFrame {
                sequence: feed.frame.sequence,
                current: feed.frame.current,
                ..well
            }
        };
        match first {
            Mode::Release => {
                // What broke is well again, yet Fault follows.
                restore(&mut feed);
                about(feed.until(Mode::Fault, 100), release, &what);
            }
            Mode::Settle => {
                // All sensors show next to nothing here: travel may be swapped with one, and it is Release a step later.
                restore(&mut feed);
                about(feed.until(Mode::Fault, 100), release + 1, &what);
            }
            Mode::Limp => {
                restore(&mut feed);
                feed.holds(Mode::Limp, 3000);
                assert_eq!(feed.step().faults, fault as u16, "{what}");
                // The occupant leaves: the load is handed over as ever, but Fault is the end of it.
                feed.frame.switches = Switches(ALL_ON & !Switches::OCCUPANT);
                feed.until(Mode::Settle, 200);
                let took = feed.until(Mode::Fault, HAND_OVER_STEPS);
                assert!(took >= steps(p.supervise.lead_out_s) - 2, "{what}: {took}");
            }
            _ => restore(&mut feed),
        }
        for switches in [
            ALL_ON,
            Switches::ARM | Switches::STOP_CIRCUIT,
            Switches::ARM,
            ALL_ON,
        ] {
            feed.frame.switches = Switches(switches);
            feed.holds(Mode::Fault, 1500);
        }
        // Too short to count.
        feed.frame.switches = Switches(ALL_ON & !Switches::ARM);
        feed.holds(Mode::Fault, 40);
        feed.frame.switches = Switches(ALL_ON);
        feed.holds(Mode::Fault, 1000);
    }
}

/// Riding on with one accelerometer lost, whichever.
fn limping(lost: Fault) -> Feed {
    let mut feed = Feed::active();
    for n in 0..10 {
        let mut frame = feed.frame;
        frame.floor_accel = n;
        frame.seat_accel = -n;
        if lost == Fault::FloorAccel {
            frame.floor_accel = i16::MAX;
        } else {
            frame.seat_accel = i16::MAX;
        }
        feed.step_exactly(&frame);
    }
    assert_eq!(feed.cycle.mode(), Mode::Limp);
    feed
}

/// With one accelerometer lost nothing else may go wrong.
#[test]
fn limp_bears_nothing_more() {
    type Change = fn(&mut SensorFrame);
    let release_s = parameters().supervise.release_s;
    let worse: [(&str, Change, Mode); 5] = [
        (
            "stop circuit",
            |f| f.switches.0 &= !Switches::STOP_CIRCUIT,
            Mode::Fault,
        ),
        ("supply", |f| f.supply = 3000, Mode::Fault),
        ("hot", |f| f.coil_temperature = 1500, Mode::Fault),
        ("coil", |f| f.coil_temperature = i16::MAX, Mode::Release),
        ("travel", |f| f.travel = i16::MAX, Mode::Release),
    ];
    for lost in [Fault::FloorAccel, Fault::SeatAccel] {
        for (name, change, then) in worse {
            let mut feed = limping(lost);
            feed.holds(Mode::Limp, 500);
            change(&mut feed.frame);
            let mut after = 1;
            while after <= 100 && mode(&feed.step()) == Mode::Limp {
                after += 1;
            }
            assert_eq!(feed.cycle.mode(), then, "{name}");
            assert!(after <= parameters().vet.fault_steps + 1, "{name}: {after}");
            if then == Mode::Release {
                about(feed.until(Mode::Fault, 100), steps(release_s) + 1, name);
            }
            feed.holds(Mode::Fault, 500);
        }
        // The other accelerometer too.
        let mut feed = limping(lost);
        feed.frame.seat_accel = i16::MAX;
        feed.frame.floor_accel = i16::MAX;
        feed.until(Mode::Release, 10);
        about(feed.until(Mode::Fault, 100), steps(release_s) + 1, "both");
    }
}

/// Limp is left by disarming; armed anew before the load is handed over, it limps on. Then the machine can be used.
#[test]
fn limp_is_left_by_disarming() {
    for lost in [Fault::FloorAccel, Fault::SeatAccel] {
        let mut feed = limping(lost);
        feed.holds(Mode::Limp, 500);
        feed.frame.switches = Switches(ALL_ON & !Switches::ARM);
        feed.until(Mode::Settle, 100);
        feed.holds(Mode::Settle, 100);
        feed.frame.switches = Switches(ALL_ON);
        feed.until(Mode::Limp, 100);
        feed.frame.switches = Switches(ALL_ON & !Switches::ARM);
        feed.until(Mode::Settle, 100);
        feed.until(Mode::Fault, HAND_OVER_STEPS);
        assert_eq!(feed.until(Mode::Off, 2), 1);
        assert_eq!(feed.step().faults, 0);
        feed.frame.switches = Switches(ALL_ON);
        feed.until(Mode::Active, 3000);
    }
}

/// In Release the current only falls, to nothing at the end, and an open stop circuit ends it at once.
#[test]
fn release_leads_the_current_to_zero() {
    // Caught as it rises: the law presses.
    let loaded = || {
        let mut feed = Feed::at(-2050);
        feed.frame.switches = Switches(ALL_ON);
        feed.until(Mode::Rise, 200);
        feed.holds(Mode::Rise, 100);
        let size = feed.step().current_command.unsigned_abs();
        assert!(size > 400, "{size}");
        feed
    };
    let mut feed = loaded();
    feed.frame.coil_temperature = i16::MAX;
    let mut last = loop {
        let drive = feed.step();
        if mode(&drive) == Mode::Release {
            break drive;
        }
        assert_eq!(mode(&drive), Mode::Rise);
    };
    let first = last.current_command;
    loop {
        let drive = feed.step();
        if mode(&drive) == Mode::Fault {
            break;
        }
        assert_eq!(mode(&drive), Mode::Release);
        let (now, before) = (drive.current_command, last.current_command);
        assert!(
            now.unsigned_abs() <= before.unsigned_abs(),
            "{now} {before}"
        );
        assert!(now == 0 || (now > 0) == (before > 0), "{now} {before}");
        last = drive;
    }
    let left = f64::from(last.current_command) / f64::from(first);
    println!("{first} counts, {left:.4} of it at the end");
    // Four time constants and the stages after them.
    assert!((0.0..0.03).contains(&left), "{left}");

    let mut feed = loaded();
    feed.frame.coil_temperature = i16::MAX;
    feed.until(Mode::Release, 10);
    feed.holds(Mode::Release, 3);
    feed.frame.switches = Switches(ALL_ON & !Switches::STOP_CIRCUIT);
    assert_eq!(mode(&feed.step()), Mode::Fault);
}

/// Disarming clears nothing while the sensor is still broken.
#[test]
fn broken_machine_cannot_be_armed() {
    let mut feed = Feed::active();
    feed.frame.coil_temperature = i16::MAX;
    feed.until(Mode::Fault, 100);
    for switches in [ALL_ON & !Switches::ARM, ALL_ON, Switches::ARM, ALL_ON] {
        feed.frame.switches = Switches(switches);
        for _ in 0..1500 {
            let drive = feed.step();
            assert!(Faults(drive.faults).has(Fault::CoilTemperature));
            assert!(matches!(mode(&drive), Mode::Off | Mode::Fault), "{drive:?}");
        }
    }
}

/// The stop circuit acts in the very step, from every mode that drives.
#[test]
fn stop_circuit_acts_at_once() {
    let open = Switches(ALL_ON & !Switches::STOP_CIRCUIT);
    let mut rise = Feed::at(-2050);
    rise.frame.switches = Switches(ALL_ON);
    rise.until(Mode::Rise, 200);
    let mut derated = Feed::active();
    derated.frame.coil_temperature = 1300;
    derated.until(Mode::Derated, 10);
    let mut settle = Feed::active();
    settle.frame.switches = Switches(ALL_ON & !Switches::OCCUPANT);
    settle.until(Mode::Settle, 200);
    let mut beyond = Feed::active();
    // Floor and seat together, harder than the proof assumes; at 4 mm/s2 a count.
    for accel in (0..=4500).step_by(500) {
        (beyond.frame.floor_accel, beyond.frame.seat_accel) = (accel, accel);
        beyond.step();
    }
    assert_eq!(beyond.cycle.mode(), Mode::Beyond);
    for mut feed in [rise, Feed::active(), derated, settle, beyond] {
        assert!(feed.cycle.mode().drives());
        feed.frame.switches = open;
        assert_eq!(mode(&feed.step()), Mode::Damped);
    }
}

/// Left by disarming, once what broke is well again; the machine can then be used.
#[test]
fn fault_is_left_by_disarming() {
    for how in [i16::MAX, -500] {
        let mut feed = Feed::active();
        feed.frame.coil_temperature = how;
        feed.until(Mode::Fault, 100);
        feed.frame.coil_temperature = 250;
        feed.holds(Mode::Fault, 3000);
        feed.frame.switches = Switches(ALL_ON & !Switches::ARM);
        feed.until(Mode::Off, 100);
        feed.holds(Mode::Off, 100);
        assert_eq!(feed.step().faults, 0);
        feed.frame.switches = Switches(ALL_ON);
        feed.until(Mode::Active, 3000);
    }
}

/// Not one step less than `clear_s`.
#[test]
fn damped_lasts_its_full_time() {
    let mut feed = Feed::active();
    feed.frame.switches = Switches(ALL_ON & !Switches::STOP_CIRCUIT);
    feed.until(Mode::Damped, 10);
    feed.frame.switches = Switches(ALL_ON);
    let back = feed.until(Mode::Passive, 5000);
    assert!(
        back >= steps(parameters().supervise.clear_s),
        "{back} steps"
    );
}
