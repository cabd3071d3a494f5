//! Instructions between two moments, from the SysTick timer.
//!
//! The emulator runs one instruction a nanosecond and the timer at 25 MHz: a tick is 40
//! instructions. What is missing to the next tick is counted by a loop of known length, before and
//! after, as on a vernier: the resolution is one turn of that loop.

use cortex_m::peripheral::SYST;
use cortex_m::peripheral::syst::SystClkSource;

/// Instructions of one timer tick.
pub const TICK: u32 = 40;
/// Instructions of one turn of the loop that waits for the next tick.
pub const TURN: u32 = 3;

const TOP: u32 = 0x00FF_FFFF;

/// The timer, running freely. It must not be used for anything else.
#[derive(Debug)]
pub struct Counter {
    empty: u32,
}

impl Counter {
    /// Starts the timer and measures nothing, to know what measuring costs.
    #[must_use]
    pub fn start(mut syst: SYST) -> Self {
        syst.set_clock_source(SystClkSource::Core);
        syst.set_reload(TOP);
        syst.clear_current();
        syst.enable_counter();
        let mut counter = Self { empty: 0 };
        let mut least = u32::MAX;
        for _ in 0..64 {
            least = least.min(counter.count(|| ()).1);
        }
        counter.empty = least;
        counter
    }

    /// Runs `what` and returns its instructions, to within one [`TURN`].
    #[inline(never)]
    pub fn count<T>(&mut self, what: impl FnOnce() -> T) -> (T, u32) {
        let (begin, _) = next_tick();
        let answer = what();
        let (end, turns) = next_tick();
        let ticks = begin.wrapping_sub(end) & TOP;
        let spent = (ticks * TICK).saturating_sub(turns * TURN);
        (answer, spent.saturating_sub(self.empty))
    }
}

/// Waits for the next tick: the timer's value then, and the turns it took.
#[inline(always)]
fn next_tick() -> (u32, u32) {
    let first = SYST::get_current();
    let mut turns = 0;
    loop {
        let now = SYST::get_current();
        if now != first {
            return (now, turns);
        }
        turns += 1;
    }
}
