//! A still machine of real drivers on buses and pins that share one world.

use super::{ACCELEROMETER, Bus, ENCODER, accelerometer_answer, encoder_answer};
use core::convert::Infallible;
use core::num::NonZeroU16;
use embedded_hal::digital::{ErrorType, InputPin, OutputPin};
use embedded_hal::{pwm, spi};
use firmware::Board;
use firmware::drivers::{
    Accelerometer, Active, AnalogInputs, Antivalent, Clock, Contact, CountSensor, DriveOutputs,
    DriverError, DriverErrors, Encoder, Inputs, Output, Outputs, Parts, PwmCurrent, SeatBoard,
    Watchdog,
};
use std::cell::RefCell;
use std::collections::VecDeque;
use std::rc::Rc;

/// What the parts share: time, pins, and what each bus is to do.
#[derive(Default)]
pub struct World {
    pub now_us: u32,
    pub noise: u32,
    pub travel: i16,
    pub floor_fails: bool,
    pub floor_stuck: bool,
    pub travel_fails: bool,
    pub analog_fails: bool,
    /// How long the floor sensor's bus waits before it gives up.
    pub bound_us: u32,
    /// Bytes that replace whatever the buses answer, while there are any.
    pub bytes: VecDeque<u8>,
    pub any_bytes: bool,
    pub duty: u16,
    pub enable: bool,
    pub damp: bool,
    pub refreshes: u32,
    /// The operator's arming switch.
    pub armed: bool,
}

pub type Shared = Rc<RefCell<World>>;

impl World {
    /// A small reading, never the same for long.
    fn noise(&mut self) -> i16 {
        self.noise = self
            .noise
            .wrapping_mul(1_664_525)
            .wrapping_add(1_013_904_223);
        (self.noise >> 24) as i16 % 11 - 5
    }

    fn replaced(&mut self, answer: Vec<u8>) -> Vec<u8> {
        if !self.any_bytes {
            return answer;
        }
        let mut byte = |b: u8| self.bytes.pop_front().unwrap_or(b);
        answer.into_iter().map(&mut byte).collect()
    }

    fn accelerometer(&mut self, out: &[u8], ready: bool) -> Vec<u8> {
        let answer = match out {
            [0x8F] => vec![0x5A],
            [0xA0] => accelerometer_answer(self.noise(), ready),
            _ => vec![],
        };
        self.replaced(answer)
    }
}

struct Pin(Shared, fn(&mut World) -> &mut bool);

impl ErrorType for Pin {
    type Error = Infallible;
}

impl OutputPin for Pin {
    fn set_low(&mut self) -> Result<(), Infallible> {
        *(self.1)(&mut self.0.borrow_mut()) = false;
        Ok(())
    }
    fn set_high(&mut self) -> Result<(), Infallible> {
        *(self.1)(&mut self.0.borrow_mut()) = true;
        let world = self.0.borrow();
        assert!(!(world.enable && world.damp));
        Ok(())
    }
}

struct Idle;

impl ErrorType for Idle {
    type Error = Infallible;
}

impl OutputPin for Idle {
    fn set_low(&mut self) -> Result<(), Infallible> {
        Ok(())
    }
    fn set_high(&mut self) -> Result<(), Infallible> {
        Ok(())
    }
}

struct Level(bool);

impl ErrorType for Level {
    type Error = Infallible;
}

impl InputPin for Level {
    fn is_high(&mut self) -> Result<bool, Infallible> {
        Ok(self.0)
    }
    fn is_low(&mut self) -> Result<bool, Infallible> {
        Ok(!self.0)
    }
}

struct ArmPin(Shared);

impl ErrorType for ArmPin {
    type Error = Infallible;
}

impl InputPin for ArmPin {
    fn is_high(&mut self) -> Result<bool, Infallible> {
        Ok(self.0.borrow().armed)
    }
    fn is_low(&mut self) -> Result<bool, Infallible> {
        Ok(!self.0.borrow().armed)
    }
}

struct Rest(Shared);

impl pwm::ErrorType for Rest {
    type Error = Infallible;
}

impl pwm::SetDutyCycle for Rest {
    fn max_duty_cycle(&self) -> u16 {
        10_000
    }
    fn set_duty_cycle(&mut self, duty: u16) -> Result<(), Infallible> {
        self.0.borrow_mut().duty = duty;
        Ok(())
    }
}

impl AnalogInputs for Rest {
    fn current(&mut self) -> Result<i16, DriverError> {
        // The motor does what it is told: half of the PWM's steps are 20 000 counts.
        let w = self.0.borrow();
        let counts = if w.enable {
            (i32::from(w.duty) - 5000) * 4
        } else {
            0
        };
        drop(w);
        self.supply().map(|_| counts as i16)
    }
    fn supply(&mut self) -> Result<u16, DriverError> {
        if self.0.borrow().analog_fails {
            return Err(DriverError::Analog);
        }
        Ok(4800)
    }
    fn coil_temperature(&mut self) -> Result<i16, DriverError> {
        self.supply().map(|_| 250)
    }
}

impl Clock for Rest {
    fn period(&mut self) -> u32 {
        self.0.borrow().now_us / 1000
    }
}

impl Watchdog for Rest {
    fn refresh(&mut self) {
        self.0.borrow_mut().refreshes += 1;
    }
}

/// A still machine of real drivers on this world, just started.
pub fn board_in(world: &Shared) -> impl Board + Errors + use<> {
    let world = world.clone();
    let contact = |high| Contact {
        pin: Level(high),
        active: Active::High,
    };
    let w = world.clone();
    let floor = Bus(move |out: &[u8], _| {
        let mut w = w.borrow_mut();
        if w.floor_fails {
            w.now_us += w.bound_us;
            return Err(spi::ErrorKind::Other);
        }
        let ready = !w.floor_stuck;
        Ok(w.accelerometer(out, ready))
    });
    let w = world.clone();
    let seat = Bus(move |out: &[u8], _| Ok(w.borrow_mut().accelerometer(out, true)));
    let w = world.clone();
    let travel = Bus(move |_: &[u8], _| {
        let mut w = w.borrow_mut();
        if w.travel_fails {
            return Err(spi::ErrorKind::Other);
        }
        let answer = encoder_answer(w.travel);
        Ok(w.replaced(answer))
    });
    let rest = || Rest(world.clone());
    let output = |pin, active| Output { pin, active };
    let full = NonZeroU16::new(20_000).expect("not zero");
    let outputs = Outputs::new(
        PwmCurrent::new(rest(), full, false),
        output(Pin(world.clone(), |w| &mut w.enable), Active::High),
        output(Pin(world.clone(), |w| &mut w.damp), Active::High),
        Output {
            pin: Idle,
            active: Active::High,
        },
        Output {
            pin: Idle,
            active: Active::High,
        },
    );
    SeatBoard::start(Parts {
        floor_accel: Accelerometer::new(floor, ACCELEROMETER).expect("a layout"),
        seat_accel: Accelerometer::new(seat, ACCELEROMETER).expect("a layout"),
        travel: Encoder::new(travel, ENCODER).expect("a layout"),
        analog: rest(),
        inputs: Inputs::new(
            Antivalent {
                normally_open: contact(true),
                normally_closed: contact(false),
            },
            contact(true),
            Contact {
                pin: ArmPin(world.clone()),
                active: Active::High,
            },
        ),
        outputs,
        clock: rest(),
        watchdog: rest(),
    })
}

/// The same, healthy.
pub fn board() -> (impl Board + Errors, Shared) {
    let world = Shared::default();
    let board = board_in(&world);
    assert_eq!(*board.errors(), DriverErrors::default());
    (board, world)
}

/// The errors of a board whose type has no name here.
pub trait Errors {
    fn errors(&self) -> &DriverErrors;
}

impl<F, S, T, A, I, O, C, W> Errors for SeatBoard<F, S, T, A, I, O, C, W>
where
    F: CountSensor,
    S: CountSensor,
    T: CountSensor,
    O: DriveOutputs,
{
    fn errors(&self) -> &DriverErrors {
        SeatBoard::errors(self)
    }
}
