//! Every mode is reached and left as the diagram of the supervisor says, by frames alone. The times are
//! those of the parameter table; what they must be is our own rule.

use becalm_tests::modes::{ALL_ON, Feed, HAND_OVER_STEPS, about, mode, parameters, steps};
use firmware::{Cycle, DriveFrame, Fault, Mode, SensorFrame, Switches};
use host_sim::limits::constant;

/// Whatever the first frame holds, the seat is braked, nothing else is put out, and the mode is off.
#[test]
fn first_output_is_the_safe_one() {
    let healthy = SensorFrame {
        supply: 4800,
        coil_temperature: 250,
        switches: Switches(ALL_ON),
        ..SensorFrame::default()
    };
    let p = parameters();
    let full = SensorFrame::from_bytes([0xFF; SensorFrame::BYTES]);
    for frame in [healthy, full, SensorFrame::default()] {
        let mut cycle = Cycle::<f32>::new(&parameters()).expect("a cycle");
        assert_eq!(cycle.mode(), Mode::Off);
        let drive = cycle.step(&frame);
        // The share of the brake, which moves no faster than this.
        let share = f32::from(drive.current_command) / 32767.0;
        let most = p.timing.step_s / p.brake.slew_s;
        assert!((0.0..=most).contains(&share), "{drive:?}");
        assert_eq!(drive.outputs, DriveFrame::DAMP, "{drive:?}");
        assert_eq!(mode(&drive), Mode::Off);
    }
}

// Demonstrates: rise-time
#[test]
fn off_passive_rise_active() {
    let p = parameters().supervise;
    // Just off the lower stop, where it stays: the rise ends by time.
    let mut feed = Feed::at(-2050);
    feed.holds(Mode::Off, 500);
    feed.frame.switches = Switches(Switches::ARM | Switches::STOP_CIRCUIT);
    about(feed.until(Mode::Passive, 200), steps(p.switch_s), "arming");
    feed.holds(Mode::Passive, 500);
    feed.frame.switches = Switches(ALL_ON);
    about(
        feed.until(Mode::Rise, 200),
        steps(p.switch_s),
        "sitting down",
    );
    about(
        feed.until(Mode::Active, 4000),
        steps(p.rise_max_s),
        "rising",
    );
    feed.holds(Mode::Active, 2000);

    // At mid travel it ends at once.
    let mut feed = Feed::new();
    feed.frame.switches = Switches(ALL_ON);
    feed.until(Mode::Rise, 200);
    about(feed.until(Mode::Active, 10), 1, "already up");
}

/// Power comes back while the arming switch is on: nothing starts until it has been off.
#[test]
fn arming_switch_left_on_starts_nothing() {
    let mut feed = Feed::at_reset();
    feed.frame.switches = Switches(ALL_ON);
    feed.holds(Mode::Off, 5000);
    // Nothing else that comes and goes does either.
    for switches in [
        Switches::ARM,
        Switches::ARM | Switches::STOP_CIRCUIT,
        ALL_ON,
    ] {
        feed.frame.switches = Switches(switches);
        feed.holds(Mode::Off, 1000);
    }
    feed.frame.switches = Switches(ALL_ON & !Switches::ARM);
    feed.holds(Mode::Off, 100);
    feed.frame.switches = Switches(ALL_ON);
    about(
        feed.until(Mode::Passive, 100),
        steps(parameters().supervise.switch_s),
        "armed anew",
    );
    feed.until(Mode::Active, 100);
}

/// A switch that bounces for less than its time changes nothing.
#[test]
fn bouncing_switches() {
    let p = parameters().supervise;
    let short = steps(p.switch_s) - 2;
    let mut feed = Feed::active();
    for off in [Switches::ARM, Switches::OCCUPANT] {
        for _ in 0..5 {
            feed.frame.switches = Switches(ALL_ON & !off);
            feed.holds(Mode::Active, short);
            feed.frame.switches = Switches(ALL_ON);
            feed.holds(Mode::Active, short);
        }
    }
}

// Demonstrates: derate-from, clear-time, coil-hot, coil-cool
#[test]
fn heat_derates_and_gives_back() {
    let p = parameters();
    let between = 0.5 * (p.limit.derate_from_c + p.limit.derate_to_c);
    let counts = |c: f32| (0.01 * c / p.calibrate.coil_temperature.per_count).round() as i16;
    let mut feed = Feed::active();
    feed.frame.coil_temperature = counts(between);
    about(feed.until(Mode::Derated, 10), 2, "derating");
    feed.holds(Mode::Derated, 2000);
    // Up to where the coil is too hot it does not trip.
    let (hot_c, cool_c) = (constant::COIL_HOT as f32, constant::COIL_COOL as f32);
    feed.frame.coil_temperature = counts(hot_c - 0.5);
    feed.holds(Mode::Derated, 2000);
    feed.frame.coil_temperature = counts(hot_c + 0.5);
    // The coil is looked at in every other step.
    assert!(feed.until(Mode::Release, 2) <= 2);
    about(
        feed.until(Mode::Damped, 100),
        steps(p.supervise.release_s) + 1,
        "current led to zero",
    );
    assert_eq!(feed.step().faults, Fault::Hot as u16);
    // Not before it is cooler than that by far.
    feed.frame.coil_temperature = counts(cool_c + 0.5);
    feed.holds(Mode::Damped, 3000);
    feed.frame.coil_temperature = counts(cool_c - 0.5);
    about(
        feed.until(Mode::Passive, 3000),
        steps(p.supervise.clear_s),
        "cooler",
    );
    feed.until(Mode::Derated, 3000);
    feed.holds(Mode::Derated, 2000);
    feed.frame.coil_temperature = counts(p.limit.derate_from_c - 5.0);
    about(feed.until(Mode::Active, 10), 2, "cooled down");
}

/// Between the two thresholds the mode stays what it was.
#[test]
fn derating_has_hysteresis() {
    let p = parameters();
    let at = |share: f32| {
        let c = p.limit.derate_to_c - share * (p.limit.derate_to_c - p.limit.derate_from_c);
        (0.01 * c / p.calibrate.coil_temperature.per_count).round() as i16
    };
    let middle = at(0.5 * (p.supervise.derated_below + p.supervise.active_above));
    let mut feed = Feed::active();
    feed.frame.coil_temperature = middle;
    feed.holds(Mode::Active, 1000);
    feed.frame.coil_temperature = at(0.5);
    feed.until(Mode::Derated, 10);
    feed.frame.coil_temperature = middle;
    feed.holds(Mode::Derated, 1000);
}

// Demonstrates: settle-time
#[test]
fn settle_hands_over_and_takes_back() {
    for (off, end) in [
        (Switches::OCCUPANT, Mode::Passive),
        (Switches::ARM, Mode::Off),
    ] {
        let p = parameters().supervise;
        let mut feed = Feed::active();
        feed.frame.switches = Switches(ALL_ON & !off);
        about(feed.until(Mode::Settle, 200), steps(p.switch_s), "leaving");
        // Back while it settles.
        feed.holds(Mode::Settle, 100);
        feed.frame.switches = Switches(ALL_ON);
        about(
            feed.until(Mode::Active, 200),
            steps(p.switch_s),
            "back again",
        );
        feed.run(2000);
        feed.frame.switches = Switches(ALL_ON & !off);
        feed.until(Mode::Settle, 200);
        let took = feed.until(end, HAND_OVER_STEPS);
        let least = steps(p.lead_out_s) - 2;
        let most = steps(p.settle_max_s) + steps(p.lead_out_s) + 2;
        assert!((least..=most).contains(&took), "{took}");
        feed.holds(end, 500);
    }
}
