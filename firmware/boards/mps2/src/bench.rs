//! The link's server on the serial port: lockstep rides, replays, instruction counts.

use crate::counter::Counter;
use crate::stack;
use crate::uart::Uart;
use cortex_m::peripheral::SYST;
use firmware::link::{Bits, Hooks, Server};
use firmware::{Cycle, DriveFrame, Recorded, Recording, SensorFrame};

/// The core as the link sees it.
pub(crate) struct Core {
    name: &'static str,
    counter: Counter,
    deepest: u32,
    steps: u32,
    recorder: Option<&'static mut crate::Recorder>,
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
            recorder: None,
        }
    }
}

impl<S: Bits + Recorded> Hooks<S> for Core {
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

    fn recorder(&mut self) -> Option<&mut dyn Recording<S>> {
        match &mut self.recorder {
            Some(recorder) => Some(&mut **recorder),
            None => None,
        }
    }
}

/// The step as it is called from a task, for the counter.
#[inline(never)]
fn step<S: Bits>(cycle: &mut Cycle<S>, frame: &SensorFrame) -> DriveFrame {
    cycle.step(frame)
}

/// Answers the bench for ever; says nothing when the parameter table cannot be used.
pub fn serve<S: Bits + Recorded>(name: &'static str, timer: SYST) -> ! {
    let mut uart = Uart::open();
    let mut core = Core::new(name, timer);
    let parameters = crate::parameters().ok();
    let mut server = parameters.and_then(|p| Server::<S>::new(p).ok());
    core.recorder = cortex_m::singleton!(: crate::Recorder = crate::Recorder::new());
    if let (Some(recorder), Some(server)) = (&mut core.recorder, &server) {
        recorder.begin(server.cycle());
    }
    loop {
        let byte = uart.read();
        if let Some(server) = &mut server
            && let Some(answer) = server.receive(byte, &mut core)
        {
            uart.write(answer);
        }
    }
}
