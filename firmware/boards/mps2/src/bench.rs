//! The link's server on the serial port: lockstep rides, replays, instruction counts.

use crate::counter::Counter;
use crate::stack;
use crate::uart::Uart;
use cortex_m::peripheral::SYST;
use firmware::link::{Bits, Hooks, Server};
use firmware::{Cycle, DriveFrame, SensorFrame};

/// The core as the link sees it.
pub(crate) struct Core {
    name: &'static str,
    counter: Counter,
    deepest: u32,
    steps: u32,
}

/// The stack is measured in every so manieth step: a prime, so that it falls into every phase of the law.
const STACK_EVERY: u32 = 13;

impl Core {
    /// With a running instruction counter.
    pub(crate) fn new(name: &'static str, timer: SYST) -> Self {
        Self {
            name,
            counter: Counter::start(timer),
            deepest: 0,
            steps: 0,
        }
    }
}

impl<S: Bits> Hooks<S> for Core {
    fn core(&self) -> &str {
        self.name
    }

    fn measure(&mut self, cycle: &mut Cycle<S>, frame: &SensorFrame) -> (DriveFrame, u32) {
        // Painting takes longer than a step, so the stack is looked at now and then.
        self.steps = self.steps.wrapping_add(1);
        if !self.steps.is_multiple_of(STACK_EVERY) {
            return self.counter.count(|| step(cycle, frame));
        }
        let top = stack::paint();
        let answer = self.counter.count(|| step(cycle, frame));
        self.deepest = self.deepest.max(stack::used(top));
        answer
    }

    fn stack_bytes(&mut self) -> u32 {
        self.deepest
    }
}

/// The step as it is called from a task, for the counter.
#[inline(never)]
fn step<S: Bits>(cycle: &mut Cycle<S>, frame: &SensorFrame) -> DriveFrame {
    cycle.step(frame)
}

/// Answers the bench for ever; says nothing when the parameter table cannot be used.
pub fn serve<S: Bits>(name: &'static str, timer: SYST) -> ! {
    let mut uart = Uart::open();
    let mut core = Core::new(name, timer);
    let parameters = crate::parameters().ok();
    let mut server = parameters.and_then(|p| Server::<S>::new(p).ok());
    loop {
        let byte = uart.read();
        if let Some(server) = &mut server
            && let Some(answer) = server.receive(byte, &mut core)
        {
            uart.write(answer);
        }
    }
}
