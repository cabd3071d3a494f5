//! The link's server on the serial port: lockstep rides, replays, instruction counts.

use crate::counter::Counter;
use crate::stack;
use crate::uart::Uart;
use cortex_m::peripheral::SYST;
use firmware::link::{Bits, Hooks, Server};
use firmware::{Cycle, DriveFrame, SensorFrame};

struct Core {
    name: &'static str,
    counter: Counter,
    deepest: u32,
}

impl<S: Bits> Hooks<S> for Core {
    fn core(&self) -> &str {
        self.name
    }

    fn measure(&mut self, cycle: &mut Cycle<S>, frame: &SensorFrame) -> (DriveFrame, u32) {
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

/// Answers the bench for ever. `None` when the parameter table cannot be used.
pub fn serve<S: Bits>(name: &'static str, timer: SYST) -> Option<()> {
    let mut uart = Uart::open();
    let mut core = Core {
        name,
        counter: Counter::start(timer),
        deepest: 0,
    };
    let mut server = Server::<S>::new(&crate::PARAMETERS).ok()?;
    loop {
        let byte = uart.read();
        if let Some(answer) = server.receive(byte, &mut core) {
            uart.write(answer);
        }
    }
}
