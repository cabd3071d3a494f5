//! What each fault leads to, how soon, and how it is left, by frames alone. The times are those of the
//! parameter table; what they must be is our own rule.

mod modes_support;

use firmware::{DriveFrame, Fault, Faults, Mode, SensorFrame, Switches};
use modes_support::{ALL_ON, Feed, about, mode, parameters, steps};

/// Open stop circuit, bad supply, frames out of order: Damped at once or within the stated steps, and
/// back only when all has been well for `clear_s`.
#[test]
fn damped_returns_only_after_its_time() {
    let p = parameters();
    let clear = steps(p.supervise.clear_s);
    let fault = u32::from(p.vet.fault_steps);
    type Change = fn(&mut SensorFrame);
    let causes: [(&str, Change, Change, u32, u32); 3] = [
        (
            "stop circuit",
            |f| f.switches.0 &= !Switches::STOP_CIRCUIT,
            |f| f.switches.0 |= Switches::STOP_CIRCUIT,
            1,
            0,
        ),
        (
            "low supply",
            |f| f.supply = 3000,
            |f| f.supply = 4800,
            fault,
            fault,
        ),
        (
            "high supply",
            |f| f.supply = 6800,
            |f| f.supply = 4800,
            fault,
            fault,
        ),
    ];
    for (name, breaks, mends, to_damped, to_clear) in causes {
        let mut feed = Feed::active();
        breaks(&mut feed.frame);
        about(feed.until(Mode::Damped, 100), to_damped, name);
        feed.holds(Mode::Damped, 3000);
        // Well for a little less than the time, then bad again: it counts anew.
        mends(&mut feed.frame);
        feed.holds(Mode::Damped, to_clear + clear - to_damped - 3);
        breaks(&mut feed.frame);
        feed.holds(Mode::Damped, 100);
        mends(&mut feed.frame);
        let back = feed.until(Mode::Passive, 5000);
        about(back, to_clear + clear, name);
        feed.until(Mode::Rise, 10);
        feed.until(Mode::Active, 2000);
    }
}

/// Repeated frames, each equal to the last but for nothing: the number shows it.
#[test]
fn repeated_frames_damp() {
    let p = parameters();
    let n = u32::from(p.vet.sequence_strikes);
    let forgotten = n * u32::from(p.vet.forgive_steps);
    let mut feed = Feed::active();
    let mut damped_after = 0;
    for k in 1..=100 {
        feed.frame.sequence = 7;
        let drive = feed.step();
        if mode(&drive) == Mode::Damped {
            assert!(Faults(drive.faults).has(Fault::Sequence));
            damped_after = k;
            break;
        }
    }
    about(damped_after, n, "repeated frames");
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
    let fault = u32::from(p.fault_steps);
    let stuck = u32::from(p.stuck_steps);
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
        // The travel sensor runs away at 3 m/s while both accelerometers see nothing.
        (
            Fault::CrossCheck,
            "travel runs away",
            |f, n| f.travel = 150 * n - 3200,
            40,
        ),
    ]
}

/// Each breakage is a fault within its stated steps, and stays one whatever comes but disarming.
#[test]
fn fault_comes_in_time_and_stays() {
    let p = parameters();
    let (travel, arrest) = (p.calibrate.travel, p.arrest);
    for (fault, how, breaks, most) in breakages() {
        let what = format!("{fault:?} {how}");
        let mut feed = Feed::active();
        let well = feed.frame;
        if fault == Fault::CrossCheck {
            // From the far end, slowly enough to be believed.
            for n in 0..3200 {
                feed.frame.travel = -n;
                let now = mode(&feed.step());
                // Further out than where the arrest lets the seat rest, it is astray: no proof covers that.
                let outside = f32::from(n) * travel.per_count > arrest.rest_m;
                assert!(
                    now == Mode::Active || outside && now == Mode::Beyond,
                    "{what} {n}: {now:?}"
                );
            }
        }
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
            if mode(&last) == Mode::Fault {
                break;
            }
        }
        println!("{what}: {after} steps");
        assert_eq!(mode(&last), Mode::Fault, "{what}");
        assert_eq!(last.faults, fault as u16, "{what}: {:#x}", last.faults);

        feed.frame = SensorFrame {
            sequence: feed.frame.sequence,
            ..well
        };
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
    let mut rise = Feed::new();
    rise.frame.travel = -2250;
    rise.frame.switches = Switches(ALL_ON);
    rise.until(Mode::Rise, 200);
    let mut derated = Feed::active();
    derated.frame.coil_temperature = 1300;
    derated.until(Mode::Derated, 10);
    let mut settle = Feed::active();
    settle.frame.switches = Switches(ALL_ON & !Switches::OCCUPANT);
    settle.until(Mode::Settle, 200);
    for mut feed in [rise, Feed::active(), derated, settle] {
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
