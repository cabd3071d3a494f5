//! The outputs: their order, on a machine that writes every change down and refuses enable and damp
//! together, with every way in which a pin or the current command can fail.
//! The rules are our own, stated in the documentation of the driver.

use embedded_hal::digital::{ErrorKind, ErrorType, OutputPin};
use embedded_hal_mock::eh1::MockError;
use embedded_hal_mock::eh1::digital::{Mock, State, Transaction};
use firmware::DriveFrame;
use firmware::drivers::{Active, CurrentCommand, DriveOutputs, DriverError, Output, Outputs};
use proptest::prelude::{ProptestConfig, Strategy, any};
use proptest::{collection, proptest};
use std::cell::RefCell;
use std::num::NonZeroU16;
use std::rc::Rc;

/// How a call turns out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Outcome {
    Done,
    /// An error, and nothing happened.
    Failed,
    /// An error, though it happened.
    FailedButDone,
}

const NAMES: [&str; 5] = ["current", "enable", "damp", "up", "down"];

/// What the outputs really do, and every call in order.
#[derive(Default)]
struct Machine {
    /// Current, and whether each pin is on, in the order of `NAMES`.
    real: [i16; 5],
    log: Vec<(&'static str, i16)>,
    plan: Vec<Outcome>,
    /// Outcome of every call on the output of this name.
    broken: Option<(&'static str, Outcome)>,
}

impl Machine {
    fn call(&mut self, which: usize, value: i16) -> bool {
        self.log.push((NAMES[which], value));
        let outcome = match self.broken {
            Some((name, outcome)) if name == NAMES[which] => outcome,
            _ => self.plan.pop().unwrap_or(Outcome::Done),
        };
        if outcome != Outcome::Failed {
            self.real[which] = value;
        }
        let [_, enable, damp, up, down] = self.real;
        assert!(
            enable + damp < 2,
            "enable and damp together: {:?}",
            self.log
        );
        assert!(up + down < 2, "up and down together: {:?}", self.log);
        outcome == Outcome::Done
    }
}

#[derive(Clone)]
struct Wire {
    machine: Rc<RefCell<Machine>>,
    which: usize,
    inverted: bool,
}

impl ErrorType for Wire {
    type Error = ErrorKind;
}

impl OutputPin for Wire {
    fn set_low(&mut self) -> Result<(), ErrorKind> {
        let on = i16::from(self.inverted);
        let done = self.machine.borrow_mut().call(self.which, on);
        done.then_some(()).ok_or(ErrorKind::Other)
    }
    fn set_high(&mut self) -> Result<(), ErrorKind> {
        let on = i16::from(!self.inverted);
        let done = self.machine.borrow_mut().call(self.which, on);
        done.then_some(()).ok_or(ErrorKind::Other)
    }
}

impl CurrentCommand for Wire {
    fn set(&mut self, counts: i16) -> Result<(), DriverError> {
        let done = self.machine.borrow_mut().call(self.which, counts);
        done.then_some(()).ok_or(DriverError::NotReady)
    }

    fn full_counts(&self) -> NonZeroU16 {
        FULL_COUNTS
    }
}

/// Current of the full command, counts of the current sensor.
const FULL_COUNTS: NonZeroU16 = NonZeroU16::new(16_384).unwrap();

/// The command for a share of the brake: the same share of the full command.
fn brake(share: i16) -> i16 {
    (i32::from(share.max(0)) * 16_384 / 32_767) as i16
}

type Wires = Outputs<Wire, Wire, Wire, Wire, Wire>;

fn machine() -> (Wires, Rc<RefCell<Machine>>) {
    let machine = Rc::new(RefCell::new(Machine::default()));
    let wire = |which| Wire {
        machine: machine.clone(),
        which,
        inverted: which % 2 == 0,
    };
    let output = |which| Output {
        pin: wire(which),
        active: if which % 2 == 0 {
            Active::Low
        } else {
            Active::High
        },
    };
    let outputs = Outputs::new(wire(0), output(1), output(2), output(3), output(4));
    (outputs, machine)
}

fn frame(current_command: i16, outputs: u8) -> DriveFrame {
    DriveFrame {
        current_command,
        outputs,
        ..DriveFrame::default()
    }
}

const ENABLE: u8 = DriveFrame::ENABLE;
const DAMP: u8 = DriveFrame::DAMP;
const UP: u8 = DriveFrame::LEVEL_UP;
const DOWN: u8 = DriveFrame::LEVEL_DOWN;

#[test]
fn order_on_and_off() {
    let (mut outputs, machine) = machine();
    let mut calls = |drive: DriveFrame| {
        outputs.apply(&drive).expect("taken");
        std::mem::take(&mut machine.borrow_mut().log)
    };
    let off = |damp| {
        [
            ("current", 0),
            ("enable", 0),
            ("damp", damp),
            ("up", 0),
            ("down", 0),
        ]
    };
    assert_eq!(calls(DriveFrame::SAFE), off(1));
    let on = [
        ("current", 0),
        ("damp", 0),
        ("enable", 1),
        ("current", 700),
        ("down", 0),
        ("up", 1),
    ];
    assert_eq!(calls(frame(700, ENABLE | UP)), on);
    let still_on = [
        ("damp", 0),
        ("enable", 1),
        ("current", -5),
        ("up", 0),
        ("down", 1),
    ];
    assert_eq!(calls(frame(-5, ENABLE | DOWN)), still_on);
    // Both directions: neither.
    let neither = [
        ("damp", 0),
        ("enable", 1),
        ("current", 1),
        ("up", 0),
        ("down", 0),
    ];
    assert_eq!(calls(frame(1, ENABLE | DOWN | UP)), neither);
    // The brake's share comes last; without one the command stays at zero.
    assert_eq!(calls(frame(0, DAMP)), off(1));
    assert_eq!(calls(frame(-300, DAMP)), off(1));
    let braked: Vec<_> = off(1)
        .into_iter()
        .chain([("current", brake(300))])
        .collect();
    assert_eq!(calls(frame(300, DAMP)), braked);
    // Damped, the adjuster only adds.
    let lifted = [
        ("current", 0),
        ("enable", 0),
        ("damp", 1),
        ("down", 0),
        ("up", 1),
        ("current", brake(300)),
    ];
    assert_eq!(calls(frame(300, DAMP | UP)), lifted);
    assert_eq!(calls(frame(300, DAMP | DOWN)), braked);
    assert_eq!(calls(frame(300, DAMP | UP | DOWN)), braked);
    // Neither drive nor damp; a current without enable; an adjuster without either.
    assert_eq!(calls(frame(300, UP)), off(0));
    // Both: damped.
    assert_eq!(calls(frame(300, ENABLE | DAMP | UP)), braked);
}

/// One output broken for good, both ways, at going on, while on and at going off: an error is
/// reported, the others are in the safe state.
#[test]
fn one_output_broken() {
    for (which, name) in NAMES.into_iter().enumerate() {
        for outcome in [Outcome::Failed, Outcome::FailedButDone] {
            for was_on in [false, true] {
                for drive in [
                    frame(500, ENABLE | UP),
                    frame(0, DAMP | UP),
                    DriveFrame::SAFE,
                ] {
                    let (mut outputs, machine) = machine();
                    outputs.apply(&DriveFrame::SAFE).expect("taken");
                    if was_on {
                        outputs.apply(&frame(400, ENABLE)).expect("taken");
                    }
                    machine.borrow_mut().broken = Some((name, outcome));
                    let error = if which == 0 {
                        DriverError::NotReady
                    } else {
                        DriverError::Pin(ErrorKind::Other)
                    };
                    assert_eq!(outputs.apply(&drive), Err(error), "{name} {outcome:?}");
                    let real = machine.borrow().real;
                    for (other, safe) in [0, 0, 1, 0, 0].into_iter().enumerate() {
                        // With an enable that may still be on, damp stays off.
                        let left = name == "enable" && other == 2;
                        if other != which && !left {
                            assert_eq!(real[other], safe, "{name} {outcome:?} {}", NAMES[other]);
                        }
                    }
                    // When it is well again the next frame is taken.
                    machine.borrow_mut().broken = None;
                    outputs.apply(&frame(9, ENABLE)).expect("taken");
                    assert_eq!(machine.borrow().real, [9, 1, 0, 0, 0]);
                }
            }
        }
    }
}

/// An output stage with a command that may be stale is not enabled.
#[test]
fn a_current_command_that_fails_keeps_the_drive_off() {
    let (mut outputs, machine) = machine();
    outputs.apply(&DriveFrame::SAFE).expect("taken");
    machine.borrow_mut().broken = Some(("current", Outcome::Failed));
    machine.borrow_mut().log.clear();
    for _ in 0..10 {
        assert!(outputs.apply(&frame(500, ENABLE)).is_err());
    }
    assert!(!machine.borrow().log.contains(&("enable", 1)));
    assert!(!machine.borrow().log.contains(&("damp", 0)));
}

/// The levels on the pins themselves, active low and high, and a pin's error.
#[test]
fn levels_of_the_pins() {
    let set = |levels: &[State]| {
        let calls: Vec<_> = levels.iter().map(|s| Transaction::set(*s)).collect();
        Mock::new(&calls)
    };
    let (lo, hi) = (State::Low, State::High);
    let failing = MockError::Io(std::io::ErrorKind::TimedOut);
    let damp = Mock::new(&[
        Transaction::set(lo),
        Transaction::set(hi),
        Transaction::set(hi).with_error(failing),
        Transaction::set(lo),
    ]);
    let active = |pin, active| Output { pin, active };
    let current = Wire {
        machine: Rc::default(),
        which: 0,
        inverted: false,
    };
    let mut outputs = Outputs::new(
        current,
        active(set(&[lo, hi, lo]), Active::High),
        active(damp, Active::Low),
        active(set(&[lo, hi, lo]), Active::High),
        active(set(&[hi, hi, hi]), Active::Low),
    );
    outputs.apply(&DriveFrame::SAFE).expect("taken");
    outputs.apply(&frame(7, ENABLE | UP)).expect("taken");
    // The damp pin fails before anything else is written; then all is made safe.
    assert_eq!(
        outputs.apply(&frame(7, ENABLE | UP)),
        Err(DriverError::Pin(ErrorKind::Other))
    );
    let (_, mut enable, mut damp, mut up, mut down) = outputs.release();
    for pin in [&mut enable, &mut damp, &mut up, &mut down] {
        pin.done();
    }
}

fn outcome() -> impl Strategy<Value = Outcome> {
    (0_u8..6).prop_map(|n| match n {
        0 => Outcome::Failed,
        1 => Outcome::FailedButDone,
        _ => Outcome::Done,
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    /// Whatever fails and whatever frames come: enable and damp, up and down are never on
    /// together (the machine asserts it at each call), and a frame that is taken is out as asked.
    #[test]
    fn never_together(
        plan in collection::vec(outcome(), 0..120),
        frames in collection::vec((any::<i16>(), any::<u8>()), 1..20),
    ) {
        let (mut outputs, machine) = machine();
        machine.borrow_mut().plan = plan;
        for (current, bits) in frames {
            let drive = frame(current, bits);
            let taken = outputs.apply(&drive).is_ok();
            let [real_current, enable, damp, ..] = machine.borrow().real;
            if taken {
                let on = drive.has(ENABLE) && !drive.has(DAMP);
                assert_eq!(enable, i16::from(on));
                assert_eq!(damp, i16::from(drive.has(DAMP)));
                let damped = if drive.has(DAMP) { brake(current) } else { 0 };
                assert_eq!(real_current, if on { current } else { damped });
            }
        }
    }
}
