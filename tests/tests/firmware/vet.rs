//! Plausibility checks: each failure is seen within its stated steps, the last good value is held, and
//! healthy noise raises nothing. The limits are the default rig's; the rules are our own.

use firmware::calibrate::Readings;
use firmware::vet::{Config, Fault, Faults, Output, Parameters, State};
use firmware::{Marks, SensorFrame, Switches};
use host_sim::design;
use host_sim::limits::constant;
use host_sim::rig::Rig;
use host_sim::sensors::{SensorBank, Truth};

fn rig() -> Rig {
    Rig::default_machine().expect("the default rig")
}

fn limits() -> Parameters {
    design::parameters(&rig()).expect("parameters").vet
}

/// A count of 2^-24 of a unit.
fn q(x: f32) -> i32 {
    (x * 16_777_216.0).round() as i32
}

/// A checker with healthy readings behind it; the accelerometers change a little every step.
struct Bench {
    config: Config,
    state: State,
    sequence: u16,
    n: i32,
}

impl Bench {
    fn new() -> Self {
        let mut bench = Self {
            config: limits().build().expect("limits"),
            state: State::default(),
            sequence: 0,
            n: 0,
        };
        for _ in 0..200 {
            assert!(!bench.step(|_| {}).faults.any());
        }
        bench
    }

    fn healthy(&self) -> Readings {
        Readings {
            floor_accel: q(0.1) + self.n % 7 * 1000,
            seat_accel: q(-0.1) + self.n % 5 * 1000,
            travel: q(0.000_5),
            current: q(2.0),
            supply: q(48.0),
            coil_temperature: q(0.25),
        }
    }

    fn step(&mut self, change: impl FnOnce(&mut Readings)) -> Output {
        self.step_marked(Marks::default(), change)
    }

    fn step_marked(&mut self, marks: Marks, change: impl FnOnce(&mut Readings)) -> Output {
        self.n += 1;
        self.sequence = self.sequence.wrapping_add(1);
        let mut readings = self.healthy();
        change(&mut readings);
        self.state
            .step(&self.config, &readings, self.sequence, marks, true, 0)
    }
}

type Set = fn(&mut Readings, i32);
type Get = fn(&Readings) -> i32;

/// Sensor, its fault, and a value beyond its range on each side.
fn channels() -> Vec<(Fault, Set, Get, [i32; 2])> {
    let p = limits();
    let beyond = |x: f32| [q(1.001 * x), q(-1.001 * x)];
    vec![
        (
            Fault::FloorAccel,
            |r, v| r.floor_accel = v,
            |r| r.floor_accel,
            beyond(p.accel_max_mps2),
        ),
        (
            Fault::SeatAccel,
            |r, v| r.seat_accel = v,
            |r| r.seat_accel,
            beyond(p.accel_max_mps2),
        ),
        (
            Fault::Travel,
            |r, v| r.travel = v,
            |r| r.travel,
            beyond(p.travel_max_m),
        ),
        (
            Fault::Current,
            |r, v| r.current = v,
            |r| r.current,
            beyond(p.current_max_a),
        ),
        (
            Fault::CoilTemperature,
            |r, v| r.coil_temperature = v,
            |r| r.coil_temperature,
            // In hundreds of degrees.
            [
                q(0.01 * constant::PLAUSIBLE_COIL_MOST as f32) + 100,
                q(0.01 * constant::PLAUSIBLE_COIL_LEAST as f32) - 100,
            ],
        ),
    ]
}

/// Out of range: the last good value is used from the first step, the fault stands after `fault_steps`,
/// and goes after as many good ones.
// Demonstrates: plausible-accel, plausible-travel, plausible-current, plausible-coil-least, plausible-coil-most
// Demonstrates: bad-samples
#[test]
fn out_of_range() {
    let n = limits().fault_steps;
    for (fault, set, get, values) in channels() {
        for bad in values {
            let mut bench = Bench::new();
            let mut good = 0;
            bench.step(|r| good = get(r));
            for k in 1..=3 * n {
                let out = bench.step(|r| set(r, bad));
                assert_eq!(get(&out.readings), good, "{fault:?} step {k}: held");
                // The coil is looked at in every other step.
                let by_turns = fault == Fault::CoilTemperature && k == n;
                assert!(
                    out.faults.has(fault) == (k >= n) || by_turns,
                    "{fault:?} step {k}"
                );
                let only = out.faults.0 & !(fault as u16);
                assert_eq!(only, 0, "{fault:?} alone");
            }
            let mut gone = 0;
            for k in 1..=4 * n {
                let mut real = 0;
                let out = bench.step(|r| real = get(r));
                if !out.faults.any() {
                    gone = k;
                    assert_eq!(get(&out.readings), real, "{fault:?}");
                    break;
                }
            }
            assert!((n..=n + 1).contains(&gone), "{fault:?} gone after {gone}");
        }
    }
}

/// One step less than a fault needs is none, again and again.
// Demonstrates: bad-samples
#[test]
fn short_failures_are_forgiven() {
    let n = limits().fault_steps;
    for (fault, set, get, [bad, _]) in channels() {
        let mut bench = Bench::new();
        for _ in 0..50 {
            for _ in 0..n - 2 {
                let out = bench.step(|r| set(r, bad));
                assert!(!out.faults.any(), "{fault:?}");
                assert_ne!(get(&out.readings), bad);
            }
            for _ in 0..n {
                assert!(!bench.step(|_| {}).faults.any(), "{fault:?}");
            }
        }
    }
}

/// A change of more than the stated jump is not used; when it goes on it is a fault.
// Demonstrates: plausible-accel-jump, plausible-travel-jump
#[test]
fn jumps() {
    let p = limits();
    for (fault, set, get, jump) in [
        (
            Fault::FloorAccel,
            (|r, v| r.floor_accel = v) as Set,
            (|r| r.floor_accel) as Get,
            p.accel_jump_mps2,
        ),
        (
            Fault::SeatAccel,
            |r, v| r.seat_accel = v,
            |r| r.seat_accel,
            p.accel_jump_mps2,
        ),
        (
            Fault::Travel,
            |r, v| r.travel = v,
            |r| r.travel,
            p.travel_jump_m,
        ),
    ] {
        let (below, above) = (q(0.49 * jump), q(0.51 * jump));
        let mut bench = Bench::new();
        bench.step(|r| set(r, -below));
        for k in 0..100 {
            let value = if k % 2 == 0 { below } else { -below };
            let out = bench.step(|r| set(r, value + k));
            assert!(!out.faults.any(), "{fault:?}: a smaller change is none");
            assert_eq!(get(&out.readings), value + k);
        }
        let mut bench = Bench::new();
        bench.step(|r| set(r, -above));
        for k in 1..=p.fault_steps {
            let value = if k % 2 == 0 { -above } else { above };
            let out = bench.step(|r| set(r, value));
            assert_eq!(get(&out.readings), -above, "{fault:?}: held");
            assert_eq!(out.faults.has(fault), k >= p.fault_steps, "{fault:?} {k}");
        }
    }
}

/// In a stop the seat may be pushed harder than its accelerometer can tell, which is no fault; the floor's is judged
/// as ever, and so is the seat's on the way.
// Demonstrates: stop-travel
#[test]
fn a_stop_excuses_the_seat_accelerometer_alone() {
    let p = limits();
    let stop = q(constant::STOP_TRAVEL as f32);
    let at = |travel: i32, set: Set| {
        let mut bench = Bench::new();
        bench.step(|r| r.travel = travel);
        let mut faults = Faults::default();
        for _ in 0..200 {
            let out = bench.step(|r| {
                r.travel = travel;
                set(r, q(p.accel_max_mps2 + 2.0));
            });
            faults.0 |= out.faults.0;
        }
        faults
    };
    for travel in [stop + 1, -stop - 1] {
        assert!(!at(travel, |r, v| r.seat_accel = v).any());
        assert!(at(travel, |r, v| r.floor_accel = v).has(Fault::FloorAccel));
    }
    for travel in [stop, -stop, 0] {
        assert!(at(travel, |r, v| r.seat_accel = v).has(Fault::SeatAccel));
    }
}

/// An accelerometer that repeats its reading bit for bit: a fault after `stuck_steps + fault_steps`.
// Demonstrates: stuck-readings
#[test]
fn stuck() {
    let p = limits();
    let due = constant::STUCK_READINGS as u32 + p.fault_steps;
    for (fault, set) in [
        (Fault::FloorAccel, (|r, v| r.floor_accel = v) as Set),
        (Fault::SeatAccel, |r, v| r.seat_accel = v),
    ] {
        let mut bench = Bench::new();
        let mut found = 0;
        for k in 1..=2 * due {
            if bench.step(|r| set(r, q(0.3))).faults.has(fault) {
                found = k;
                break;
            }
        }
        // The first of the equal readings does not count as a repetition.
        assert!(
            (due - 1..=due).contains(&found),
            "{fault:?} after {found}, stated {due}"
        );
    }
    // Travel and current may rest.
    let mut bench = Bench::new();
    for _ in 0..5000 {
        assert!(!bench.step(|_| {}).faults.any());
    }
}

/// The current is not judged while nothing is driven.
#[test]
fn undriven_current_is_free() {
    let mut bench = Bench::new();
    for _ in 0..1000 {
        bench.sequence = bench.sequence.wrapping_add(1);
        bench.n += 1;
        let readings = Readings {
            current: q(127.0),
            ..bench.healthy()
        };
        let out = bench.state.step(
            &bench.config,
            &readings,
            bench.sequence,
            Marks::default(),
            false,
            0,
        );
        assert!(!out.faults.any());
    }
}

// Demonstrates: supply-least, supply-most
#[test]
fn supply_band() {
    let p = limits();
    for bad in [p.supply_min_v - 0.01, p.supply_max_v + 0.01, 0.0, 127.9] {
        let mut bench = Bench::new();
        for k in 1..=2 * p.fault_steps {
            let out = bench.step(|r| r.supply = q(bad));
            // It is looked at in every other step.
            assert!(
                out.faults.has(Fault::Supply) == (k >= p.fault_steps) || k == p.fault_steps,
                "{bad} V {k}"
            );
        }
    }
    let mut bench = Bench::new();
    for good in [p.supply_min_v + 0.01, p.supply_max_v - 0.01] {
        for _ in 0..100 {
            assert!(!bench.step(|r| r.supply = q(good)).faults.any());
        }
    }
}

/// Frames repeated, skipped or backwards, in a row; the wrap of the number is none of these.
// Demonstrates: frames-out-of-order
#[test]
fn sequence() {
    let n = limits().sequence_strikes;
    let forgotten = n * limits().forgive_steps;
    type Next = fn(u16) -> u16;
    let wrong: [(&str, Next); 3] = [
        ("repeated", |s| s),
        ("skipped", |s| s.wrapping_add(2)),
        ("backwards", |s| s.wrapping_sub(1)),
    ];
    for (how, next) in wrong {
        let mut bench = Bench::new();
        for k in 1..=2 * n {
            bench.sequence = next(bench.sequence).wrapping_sub(1);
            let out = bench.step(|_| {});
            assert_eq!(out.faults.has(Fault::Sequence), k >= n, "{how} {k}");
        }
        for k in 1..=2 * forgotten {
            let out = bench.step(|_| {});
            assert_eq!(
                out.faults.has(Fault::Sequence),
                k < forgotten,
                "{how}, in order for {k}"
            );
        }
    }
    let mut bench = Bench::new();
    for k in 0..70_000 {
        let out = bench.step(|r| {
            r.travel += k % 2;
            r.current += k % 2;
            r.coil_temperature += k % 2;
        });
        assert_eq!(out.faults, Faults::default(), "step {k}");
    }
}

/// Late answers in a row; and one now and then, each followed by so many in time.
// Demonstrates: late-answers, strike-forgiven
#[test]
fn late_answers() {
    let most = constant::LATE_ANSWERS as u32;
    let forgiven = constant::STRIKE_FORGIVEN as u32;
    let late = Marks(Marks::LATE);
    let mut bench = Bench::new();
    for round in 0..50 {
        for k in 1..most {
            let out = bench.step_marked(late, |_| {});
            assert!(!out.faults.any(), "round {round}, {k} in a row");
        }
        for _ in 0..most * forgiven {
            assert!(!bench.step(|_| {}).faults.any());
        }
    }
    for k in 1..=most {
        let out = bench.step_marked(late, |_| {});
        assert_eq!(out.faults.has(Fault::Late), k == most, "{k} in a row");
    }
    // Whether it ends in a fault, within 1000 rounds.
    let ends = |in_time: u32| {
        let mut bench = Bench::new();
        (0..1000).any(|_| {
            let mut out = bench.step_marked(late, |_| {});
            for _ in 0..in_time {
                out = bench.step(|_| {});
            }
            out.faults.has(Fault::Late)
        })
    };
    assert!(!ends(forgiven));
    assert!(ends(forgiven - 1));
}

/// A million samples of the default rig's sensors, still and moving: nothing is found.
// Demonstrates: false-alarms
#[test]
fn healthy_noise() {
    let rig = rig();
    let parameters = design::parameters(&rig).expect("parameters");
    let (calibrate, config) = (
        parameters.calibrate.build().expect("scales"),
        parameters.vet.build().expect("limits"),
    );
    for (seed, size) in [(1, 0.0), (2, 1.0)] {
        let truth = |time: f64| Truth {
            // 30 m/s2 at 8 Hz, 40 mm at 4 Hz, 80 A at 20 Hz: far more than a ride.
            floor_accel: size * 30.0 * (50.0 * time).sin(),
            seat_accel: size * 30.0 * (50.0 * time).cos(),
            travel: size * 0.04 * (25.0 * time).sin(),
            current: size * 80.0 * (125.0 * time).sin(),
            supply: 48.0,
            coil_c: 60.0,
        };
        let mut sensors = SensorBank::new(&rig.sensors, rig.timing.step_s, seed, &truth(0.0));
        let mut state = State::default();
        for k in 0..500_000_u32 {
            let time = f64::from(k) * rig.timing.step_s;
            let frame: SensorFrame = sensors.sample(&truth(time), time, Switches::default());
            let readings = calibrate.step(&frame, state.turn(), state.slow());
            let out = state.step(&config, &readings, frame.sequence, frame.marks, true, 0);
            assert_eq!(out.faults, Faults::default(), "seed {seed} sample {k}");
            assert_eq!(out.readings, readings, "seed {seed} sample {k}");
        }
    }
}

/// Travel, current and coil temperature may rest for as long as the machine does.
#[test]
fn resting_sensors_are_healthy() {
    let mut bench = Bench::new();
    for k in 0..200_000 {
        let out = bench.step(|_| {});
        assert_eq!(out.faults, Faults::default(), "after {k} equal readings");
    }
}

/// The list of faults names every bit once, in order.
#[test]
fn all_faults_are_listed() {
    let mut all = Faults::default();
    for (n, fault) in Fault::ALL.into_iter().enumerate() {
        assert_eq!(fault as u16, 1 << n, "{fault:?}");
        all.set(fault, true);
    }
    assert_eq!(all.iter().collect::<Vec<_>>(), Fault::ALL);
    let words = host_sim::fault_words::fault_words(all);
    let different: std::collections::HashSet<_> = words.iter().collect();
    assert_eq!(different.len(), Fault::ALL.len(), "{words:?}");
}
