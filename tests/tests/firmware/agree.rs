//! What is known twice: a residual a thousandth below its bound is believed, and one a thousandth above is blamed. The bounds
//! are the register's; what is worked out for the default rig stands there too. Our own rules.

use firmware::agree::{Config, Input, State};
use firmware::{Fault, Faults, Parameters};
use host_sim::design;
use host_sim::limits::constant;
use host_sim::rig::Rig;
use shared_math::Turn;

fn parameters() -> Parameters {
    design::parameters(&Rig::default_machine().expect("the default rig")).expect("parameters")
}

fn config() -> Config<f64> {
    let p = parameters();
    let built = p
        .agree
        .build(p.calibrate.current.per_count, p.timing.step_s);
    built.expect("bounds")
}

/// A count of 2^-24 of a unit.
fn q(x: f64) -> i32 {
    (x * 16_777_216.0).round() as i32
}

/// Counts of the current sensor.
fn counts(ampere: f64) -> i16 {
    (ampere / f64::from(parameters().calibrate.current.per_count)).round() as i16
}

/// A seat that isolates at mid travel, all in order.
fn sound(turn: Turn) -> Input<f64> {
    Input {
        current: 0,
        command: 0,
        driven: true,
        weighed: true,
        disturbance: 0.0,
        static_force: 0.0,
        seat_accel: 0.0,
        travel: 0,
        turn,
    }
}

/// Steps in which a wrong travel has to be seen in a row: one reading alone makes two.
const TRAVEL_STEPS: usize = 3;

/// Whether a fault is blamed as soon as may be, driven and not driven.
fn blamed(input: &Input<f64>, fault: Fault) -> [bool; 2] {
    [true, false].map(|driven| {
        let input = Input { driven, ..*input };
        State::default().step(&config(), &input) & fault as u16 != 0
    })
}

/// Whether travel and accelerometers disagree after three such innovations, driven and not driven, and not before.
fn crossed(innovation: f64, bound: f64) -> [bool; 2] {
    [true, false].map(|driven| {
        let input = Input {
            driven,
            ..sound(Turn::Odd)
        };
        let mut state = State::default();
        let mut step = || {
            state.compare_travel(innovation, bound);
            state.step(&config(), &input)
        };
        for _ in 1..TRAVEL_STEPS {
            assert_eq!(step(), 0);
        }
        step() == Fault::CrossCheck as u16
    })
}

/// A travel that is wrong for two steps of three, again and again, is believed.
#[test]
fn travel_is_blamed_for_three_steps_in_a_row() {
    let mut state = State::default();
    let mut step = |innovation| {
        state.compare_travel(innovation, 1.0);
        state.step(&config(), &sound(Turn::Odd))
    };
    for k in 0..300 {
        assert_eq!(step(if k % 3 == 0 { 0.0 } else { 1.1 }), 0, "{k}");
    }
    assert_eq!(step(1.1), Fault::CrossCheck as u16);
}

/// Travel is in doubt from half of the bound on, either way, and for sixteen steps at most; and whatever
/// comes, in no more than a quarter of all steps where the innovation is beyond it in half of them.
#[test]
fn travel_is_in_doubt_from_half_of_its_bound_on() {
    let waits = |state: &mut State, share: f64| state.compare_travel(share * 4.0e-5, 4.0e-5);
    for (share, kept) in [(0.0, false), (0.499, false), (0.501, true), (1.2, true)] {
        for side in [1.0, -1.0] {
            let mut state = State::default();
            assert_eq!(waits(&mut state, side * share), kept, "{share}");
        }
    }
    let mut state = State::default();
    let lasting: Vec<bool> = (0..100).map(|_| waits(&mut state, 0.6)).collect();
    assert!(
        lasting
            .iter()
            .enumerate()
            .all(|(k, &kept)| kept == (k < 16))
    );
    // As soon as it is as expected for a step, it may wait again.
    assert!(!waits(&mut state, 0.0));
    let again = (0..100).filter(|_| waits(&mut state, 0.6)).count();
    assert_eq!(
        again, 1,
        "the step in which the one as expected was sixteen ago"
    );

    let (mut state, mut kept, count) = (State::default(), 0, 100_000);
    let mut chance = 1_u32;
    for _ in 0..count {
        chance = chance.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let share = if chance >> 31 == 0 { 0.6 } else { 0.0 };
        kept += u32::from(waits(&mut state, share));
    }
    assert!(
        (0.2..0.3).contains(&(f64::from(kept) / f64::from(count))),
        "{kept}"
    );
}

/// An error of an accelerometer below 14 m/s2 is never laid to travel, whenever it begins. By hand: prediction is by the mean
/// of two readings, so that after n periods h an error e has moved it by e h^2 (n^2 / 2 - n / 2 + 1 / 4).
#[test]
fn a_jump_of_travel_is_no_accelerometers() {
    let step_s = f64::from(parameters().timing.step_s);
    let bound = constant::TRAVEL_NOISE;
    for (error, jumped) in [0.5, 2.0, 5.0, 9.0, 12.0, 14.0]
        .map(|e| (e, false))
        .into_iter()
        .chain([(23.0, true)])
    {
        let moved = |n: f64| error * step_s * step_s * (0.5 * n * n - 0.5 * n + 0.25);
        let first = (1..).map(f64::from).find(|n| moved(*n) > bound);
        let found = moved(first.expect("a step") + (TRAVEL_STEPS - 1) as f64);
        for side in [1.0, -1.0] {
            assert_eq!(
                Config::has_jumped(side * found, bound),
                jumped,
                "{error}: {found}"
            );
        }
    }
}

/// Travel and an accelerometer whose wires are swapped: the accelerometer's counts are where travel is, or the seat's
/// acceleration misses what the motor gives. Then the accelerometers do not tell where the seat is.
#[test]
fn swapped_wires_are_seen() {
    let config = config();
    for bound in [constant::TRAVEL_NOISE, 6.0e-4] {
        let is_swapped = |as_travel, travel, missed| {
            let missed = 1.0e-3 * missed * constant::FORCE_MISSED;
            config.is_swapped(as_travel, travel, bound, missed)
        };
        for travel in [0.02, -0.011] {
            for side in [1.0, -1.0] {
                let (near, far) = (travel + side * 0.99 * bound, travel + side * 1.01 * bound);
                assert!(is_swapped([near, 1.0], travel, 0.0));
                assert!(is_swapped([1.0, near], travel, 0.0));
                assert!(!is_swapped([far, far], travel, side * 0.999));
                assert!(is_swapped([1.0, 1.0], travel, side * 1.001));
            }
        }
    }
}

/// Whether one in a thousand, or two counts of 2^-24, makes the difference at `bound`, either way.
fn turns_at(what: &str, bound: f64, blamed: impl Fn(f64) -> [bool; 2], always: bool) {
    let apart = (0.001 * bound).max(2.0 / 16_777_216.0);
    for side in [1.0, -1.0] {
        let below = blamed(side * (bound - apart));
        assert_eq!(below, [false; 2], "{what}: below {}", side * bound);
        let above = blamed(side * (bound + apart));
        assert_eq!(above, [true, always], "{what}: above {}", side * bound);
    }
}

// Demonstrates: travel-noise, travel-scale, travel-lost
#[test]
fn travel() {
    let config = config();
    for (peak, lost) in [(0.0, false), (3.0, false), (25.0, false), (25.0, true)] {
        let bound = if lost {
            constant::TRAVEL_LOST
        } else {
            constant::TRAVEL_NOISE + constant::TRAVEL_SCALE * peak
        };
        let made = if lost {
            config.bound_without(Faults(Fault::SeatAccel as u16))
        } else {
            config.travel_bound(peak)
        };
        // Judged also while nothing is driven.
        turns_at(
            "travel",
            bound,
            |innovation| crossed(innovation, made),
            true,
        );
    }
    // Without travel nothing of it is believed.
    assert_eq!(config.bound_without(Faults(Fault::Travel as u16)), 0.0);
}

/// Outside all of the last four commands, which is more than far from the newest.
// Demonstrates: current-apart
#[test]
fn current() {
    // One count makes the difference.
    let bound = counts(constant::CURRENT_APART);
    for (current, wrong) in [(bound, false), (bound + 1, true)] {
        for current in [current, -current] {
            let input = Input {
                current,
                ..sound(Turn::Even)
            };
            assert_eq!(blamed(&input, Fault::Current), [wrong, false], "{current}");
        }
    }
    // Any of the last four commands will do, the fifth will not.
    for age in 1..=5 {
        let mut state = State::default();
        let asked = |command, current, turn| Input {
            command,
            current,
            ..sound(turn)
        };
        // Turns go back and forth, and the last one looks at the current.
        let turn = |k: i32| {
            if (age - k) % 2 == 0 {
                Turn::Even
            } else {
                Turn::Odd
            }
        };
        state.step(&config(), &asked(4 * bound, 0, turn(0)));
        for k in 1..age {
            state.step(&config(), &asked(0, 0, turn(k)));
        }
        let found = state.step(&config(), &asked(0, 4 * bound, turn(age)));
        assert_eq!(found & Fault::Current as u16 != 0, age > 4, "{age}");
    }
}

/// What the motor carries beside what is known of it counts: less of it once the occupant has been weighed. Either bound grows
/// with the seat's latest peak.
// Demonstrates: load-change, load-most, load-mass
#[test]
fn load() {
    for seat_accel in [0.0, 4.0, -30.0_f64] {
        let peak = constant::LOAD_MASS * seat_accel.abs();
        for (weighed, most) in [(true, constant::LOAD_CHANGE), (false, constant::LOAD_MOST)] {
            for static_force in [0.0, 0.5] {
                let of = |newton: f64| Input {
                    disturbance: 1.0e-3 * newton + static_force,
                    static_force,
                    weighed,
                    seat_accel,
                    ..sound(Turn::Odd)
                };
                let blames = |n| blamed(&of(n), Fault::Force);
                turns_at("load", most + peak, blames, false);
            }
        }
    }
}

// Demonstrates: force-missed
#[test]
fn missed_force() {
    let config = config();
    for side in [1.0e-3, -1.0e-3] {
        let missed = side * constant::FORCE_MISSED;
        assert_eq!(config.judge_motor(0.999 * missed), 0);
        assert_eq!(config.judge_motor(1.001 * missed), Fault::Force as u16);
    }
}

/// In a stop, and for its time after it, a current far from its commands is not blamed.
// Demonstrates: load-travel, load-excused
#[test]
fn stops_excuse_load_and_current() {
    let config = config();
    let far = counts(3.0 * constant::CURRENT_APART);
    let wrong = |travel_m: f64, turn| Input {
        current: far,
        disturbance: 3.0e-3 * constant::LOAD_CHANGE,
        travel: q(travel_m),
        ..sound(turn)
    };
    let step_s = f64::from(parameters().timing.step_s);
    for side in [1.0, -1.0] {
        let (inside, outside) = (
            0.999 * side * constant::LOAD_TRAVEL,
            1.001 * side * constant::LOAD_TRAVEL,
        );
        let (mut near, mut stop) = (State::default(), State::default());
        for k in 0..1000 {
            let turn = if k % 2 == 0 { Turn::Even } else { Turn::Odd };
            let blamed = near.step(&config, &wrong(inside, turn));
            let both = Fault::Current as u16 | Fault::Force as u16;
            assert!(blamed == both || k == 0, "{side} step {k}: {blamed:#x}");
            let found = stop.step(&config, &wrong(outside, turn));
            // The stop is seen at the end of the first look.
            assert!(found == 0 || k < 2, "{side} step {k}: {found:#x}");
        }
        let mut after = 0.0;
        while stop.step(&config, &wrong(0.0, Turn::Even)) == 0 {
            stop.step(&config, &wrong(0.0, Turn::Odd));
            after += 2.0 * step_s;
        }
        let late = after - constant::LOAD_EXCUSED;
        assert!((-1.0e-9..4.0 * step_s).contains(&late), "{after} s");
    }
}
