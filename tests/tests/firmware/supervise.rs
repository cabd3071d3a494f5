//! Times and thresholds of the modes, at the bounds of the register, by the state machine alone. Our own rules.

use becalm_tests::brakes::LET_GO_STEPS;
use firmware::supervise::{Config, Input, Lift, Permit, State};
use firmware::{DriveFrame, Fault, Faults, Mode, Switches};
use host_sim::limits::constant;
use host_sim::rig::Rig;

/// Everything, as a count of 2^-24.
const FULL: f64 = 16_777_216.0;
const ALL_ON: Switches = Switches(Switches::ARM | Switches::OCCUPANT | Switches::STOP_CIRCUIT);

/// A count of 2^-24 of a unit.
fn q(x: f64) -> i32 {
    (x * FULL).round() as i32
}

fn step_s() -> f64 {
    let rig = Rig::default_machine().expect("the default rig");
    f64::from(rig.firmware.timing.step_s)
}

/// Periods of a time.
fn periods(time_s: f64) -> u32 {
    (time_s / step_s()).round() as u32
}

struct Seat {
    config: Config,
    state: State,
    input: Input,
}

impl Seat {
    /// After one period with all switches off but the stop circuit; cool, at mid travel, at rest.
    fn off() -> Self {
        let rig = Rig::default_machine().expect("the default rig");
        let built = rig.firmware.supervise.build(&rig.firmware.timing);
        let mut seat = Self {
            config: built.expect("a configuration"),
            state: State::default(),
            input: Input {
                switches: Switches(Switches::STOP_CIRCUIT),
                faults: Faults::default(),
                travel: 0,
                travel_rate: 0,
                heat_share: q(1.0),
                static_force: 0,
                beyond: false,
            },
        };
        assert_eq!(seat.step().mode, Mode::Off);
        seat
    }

    fn step(&mut self) -> Permit {
        self.state.step(&self.config, &self.input)
    }

    /// Periods until something is so, itself counted.
    fn until(&mut self, what: &str, so: impl Fn(&Permit) -> bool) -> u32 {
        let found = (1..=100_000).find(|_| so(&self.step()));
        found.unwrap_or_else(|| panic!("{what}: still {}", self.state.mode().name()))
    }

    /// Goes on to a mode with all switches on.
    fn on_to(mut self, mode: Mode) -> Self {
        self.input.switches = ALL_ON;
        self.until(mode.name(), |p| p.mode == mode);
        self
    }

    /// Isolating with all of it.
    fn isolating() -> Self {
        let mut seat = Self::off().on_to(Mode::Active);
        seat.until("isolation", |p| p.isolation == q(1.0));
        seat
    }
}

fn to_the_period(what: &str, found: u32, stated_s: f64) {
    let stated = periods(stated_s);
    assert!(
        found.abs_diff(stated) <= 1,
        "{what}: {found}, stated {stated}"
    );
}

// Demonstrates: switch-time
#[test]
fn a_switch_counts_after_its_time() {
    let armed = Switches(Switches::ARM | Switches::STOP_CIRCUIT);
    let mut seat = Seat::off();
    seat.input.switches = armed;
    let found = seat.until("armed", |p| p.mode == Mode::Passive);
    to_the_period("arming", found, constant::SWITCH_TIME);
    seat.input.switches = ALL_ON;
    let found = seat.until("seated", |p| p.mode == Mode::Rise);
    to_the_period("sitting down", found, constant::SWITCH_TIME);
    // A period less, again and again.
    let mut seat = Seat::off();
    for _ in 0..100 {
        seat.input.switches = armed;
        for _ in 1..periods(constant::SWITCH_TIME) {
            assert_eq!(seat.step().mode, Mode::Off);
        }
        seat.input.switches = Switches(Switches::STOP_CIRCUIT);
        seat.step();
    }
}

// Demonstrates: risen-travel, risen-rate
#[test]
fn the_rise_ends_near_mid_travel_and_at_rest() {
    for side in [1.0, -1.0] {
        for (travel, rate, ends) in [
            (0.999, 0.999, true),
            (1.001, 0.0, false),
            (0.0, 1.001, false),
        ] {
            let mut seat = Seat::off();
            seat.input.travel = q(1.0);
            let mut seat = seat.on_to(Mode::Rise);
            seat.input.travel = q(side * travel * constant::RISEN_TRAVEL);
            seat.input.travel_rate = q(-side * rate * constant::RISEN_RATE);
            let mode = if ends { Mode::Active } else { Mode::Rise };
            assert_eq!(seat.step().mode, mode, "{travel} {rate}");
        }
    }
}

/// Isolation fades in after the rise; in Settle it fades out at once, and the force once the height adjuster has rested.
// Demonstrates: lead-in-time, lead-out-time, level-rest
#[test]
fn authority_rises_and_falls_in_its_times() {
    let mut seat = Seat::off().on_to(Mode::Active);
    let found = seat.until("isolation", |p| p.isolation == q(1.0));
    to_the_period("fading in", found, constant::LEAD_IN_TIME);
    seat.input.switches = Switches(Switches::ARM | Switches::STOP_CIRCUIT);
    seat.until("leaving", |p| p.mode == Mode::Settle);
    let (mut isolation, mut whole, mut fading) = (1, 1, 0);
    loop {
        let p = seat.step();
        if !p.drives {
            break;
        }
        isolation += u32::from(p.isolation > 0);
        whole += u32::from(p.force == q(1.0));
        fading += u32::from(p.force < q(1.0));
    }
    to_the_period("isolation", isolation, constant::LEAD_OUT_TIME);
    to_the_period("whole force", whole, constant::LEVEL_REST);
    to_the_period("fading force", fading, constant::LEAD_OUT_TIME);
}

/// Who rests on the lower stop stays in Passive until the seat is afloat.
// Demonstrates: afloat-travel
#[test]
fn the_support_lifts_before_the_motor() {
    let mut seat = Seat::off();
    seat.input.switches = ALL_ON;
    seat.input.travel = q(-1.001 * constant::AFLOAT_TRAVEL);
    for _ in 0..20_000 {
        let permit = seat.step();
        assert!(!permit.drives && permit.force == 0, "{permit:?}");
    }
    assert_eq!(seat.state.mode(), Mode::Passive);
    seat.input.travel = q(-0.999 * constant::AFLOAT_TRAVEL);
    assert_eq!(seat.step().mode, Mode::Rise);
}

/// The height adjuster lifts while the seat does not rise, no longer than it may, and anew for the next occupant; never with
/// the stop circuit open, with nobody seated or where the seat is driven.
// Demonstrates: risen-rate, rise-time
#[test]
fn the_height_adjuster_lifts_for_its_time() {
    let resting = || {
        let mut seat = Seat::off();
        seat.input.travel = q(-1.0);
        seat.on_to(Mode::Passive)
    };
    let (slow, fast) = (
        q(0.4995 * constant::RISEN_RATE),
        q(0.5005 * constant::RISEN_RATE),
    );
    let mut seat = resting();
    seat.until("seated", |p| p.seated);
    let mut lift = Lift::default();
    assert!(lift.step(&seat.config, &seat.state, slow, false));
    assert_eq!(lift.outputs(), DriveFrame::DAMP | DriveFrame::LEVEL_UP);
    assert!(!lift.step(&seat.config, &seat.state, fast, false));
    assert_eq!(lift.outputs(), DriveFrame::DAMP);
    for unfit in [
        Switches(Switches::ARM | Switches::OCCUPANT),
        Switches(Switches::ARM | Switches::STOP_CIRCUIT),
        Switches(Switches::OCCUPANT | Switches::STOP_CIRCUIT),
    ] {
        seat.input.switches = unfit;
        for _ in 0..periods(constant::SWITCH_TIME) {
            seat.step();
        }
        assert!(!lift.step(&seat.config, &seat.state, slow, false));
        assert_eq!(lift.outputs(), DriveFrame::DAMP);
        seat = resting();
        seat.until("seated", |p| p.seated);
        let found = (0..100_000).find(|_| !lift.step(&seat.config, &seat.state, slow, false));
        to_the_period("lift", found.expect("an end"), constant::RISE_TIME);
        assert!((0..10_000).all(|_| !lift.step(&seat.config, &seat.state, slow, false)));
    }
    let seat = Seat::off().on_to(Mode::Rise);
    assert!(!lift.step(&seat.config, &seat.state, slow, false));
}

/// A motor that was driven when the seat came to Fault is let go for three steps, then it brakes. One that was not, and one
/// that the stop circuit takes away, brake at once.
#[test]
fn a_driven_motor_is_let_go_before_it_brakes() {
    let fails = |from: Mode| {
        let mut seat = Seat::off().on_to(from);
        seat.input.faults = Faults(Fault::Output as u16);
        seat
    };
    let brakes = |seat: &mut Seat, lift: &mut Lift, drove: bool| {
        let mode = seat.step().mode;
        lift.step(&seat.config, &seat.state, 0, drove);
        (mode, lift.outputs())
    };
    let mut lift = Lift::default();
    let mut seat = fails(Mode::Active);
    for n in 0..100 {
        let outputs = if n < LET_GO_STEPS {
            0
        } else {
            DriveFrame::DAMP
        };
        let found = brakes(&mut seat, &mut lift, n == 0);
        assert_eq!(found, (Mode::Fault, outputs), "step {n}");
    }
    let mut seat = fails(Mode::Passive);
    let found = brakes(&mut seat, &mut lift, false);
    assert_eq!(found, (Mode::Fault, DriveFrame::DAMP));
    let mut seat = Seat::off().on_to(Mode::Active);
    seat.input.switches = Switches(Switches::ARM | Switches::OCCUPANT);
    let found = brakes(&mut seat, &mut lift, true);
    assert_eq!(found, (Mode::Damped, DriveFrame::DAMP));
}

/// From the rise on: the sooner the motor carries nothing, the less falls when it must let go.
// Demonstrates: level-force
#[test]
fn the_adjuster_moves_above_its_force() {
    for side in [1, -1] {
        let force = |share: f64| q(f64::from(side) * share * 1.0e-3 * constant::LEVEL_FORCE);
        // Who has just been weighed is levelled as far as it goes: to three tenths of it.
        for (mode, part) in [(Mode::Rise, 0.3), (Mode::Active, 1.0)] {
            let mut seat = Seat::off();
            // Far from mid travel, so that the rise goes on.
            seat.input.travel = q(1.0);
            let mut seat = seat.on_to(mode);
            seat.input.static_force = force(0.999 * part);
            for _ in 0..1000 {
                assert_eq!(seat.step().level, 0);
            }
            seat.input.static_force = force(1.001 * part);
            assert_eq!(i32::from(seat.step().level), side);
        }
    }
}

// Demonstrates: derated-below, active-above
#[test]
fn heat_changes_the_mode_at_its_shares() {
    let mut seat = Seat::isolating();
    seat.input.heat_share = q(1.001 * constant::DERATED_BELOW);
    for _ in 0..5000 {
        assert_eq!(seat.step().mode, Mode::Active);
    }
    seat.input.heat_share = q(0.999 * constant::DERATED_BELOW);
    assert_eq!(seat.step().mode, Mode::Derated);
    seat.input.heat_share = q(0.999 * constant::ACTIVE_ABOVE);
    for _ in 0..5000 {
        assert_eq!(seat.step().mode, Mode::Derated);
    }
    seat.input.heat_share = q(1.001 * constant::ACTIVE_ABOVE);
    assert_eq!(seat.step().mode, Mode::Active);
}

// Demonstrates: proved-floor-reading, proved-mass, astray-near
#[test]
fn what_was_not_proved_is_said() {
    let config = Seat::off().config;
    for side in [1.0, -1.0] {
        let (floor, astray) = (
            side * constant::PROVED_FLOOR_READING,
            side * constant::ASTRAY_NEAR,
        );
        assert!(!config.load_beyond(q(0.999 * floor), 0));
        assert!(config.load_beyond(q(1.001 * floor), 0));
        assert!(!config.motion_beyond(q(0.999 * astray)));
        assert!(config.motion_beyond(q(1.001 * astray)));
    }
    let tonnes = 1.0e-3 * constant::PROVED_MASS;
    assert!(!config.load_beyond(0, q(0.999 * tonnes)));
    assert!(config.load_beyond(0, q(1.001 * tonnes)));
    // Beyond is entered at once, and left when all has held for its time.
    let mut seat = Seat::isolating();
    seat.input.beyond = true;
    assert_eq!(seat.step().mode, Mode::Beyond);
    seat.input.beyond = false;
    let found = seat.until("held", |p| p.mode == Mode::Active);
    to_the_period("held again", found, constant::CLEAR_TIME);
}
