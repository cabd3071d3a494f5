//! Our filters and observer beside the same computation in plain C, on one emulated Cortex-M4F.
//!
//! Start it with `firmware/boards/compare/run`. Each pair runs over the same 2000 samples in one
//! run of the emulator, and its results must be equal within 1e-5. A line of JSON each tells the
//! instructions of both.
//!
//! * The figures are instructions under emulation (one instruction a nanosecond), not cycles of a
//!   silicon core: loads, divisions and branches cost more than one cycle there.
//! * Both sides are functions that are called, a sample at a time, through an address that the
//!   compiler cannot see through, by the same loop. From each count the count of as many calls of a
//!   function that does nothing is taken, compiled by the same compiler, and what is left is
//!   compared: the work of a step. The reason: rustc keeps a frame pointer in every function of
//!   this target (2 instructions), gcc does not; and the law has its steps inlined, without any
//!   call. The table tells the counts with loop and call as well.
//! * The C side (`c/`) was written anew for this; only its structure is that of the published
//!   CMSIS-DSP algorithms. gcc fuses multiplication and addition there, Rust does not (it uses the
//!   core's multiply-accumulate, which rounds twice): results differ in the last digits.
//! * "By hand for this size" is C as lean as ours, without an instance: the harder rival.
//! * Lines with `"compared":false` are for information: blocks of 32 samples, which a loop that runs
//!   once a millisecond does not have.
//!
//! | file | purpose |
//! |---|---|
//! | `ours` | our side |
//! | `theirs`, `c/` | the C side |
//! | `filters`, `observers` | the comparisons |
//! | `measure` | calls, counts, reports |
//! | `signals` | the inputs |
#![no_std]
#![no_main]

mod filters;
mod measure;
mod observers;
mod ours;
mod signals;
mod theirs;

use cortex_m_rt::entry;
use cortex_m_semihosting::{debug, hprintln};
use mps2::counter::Counter;

#[entry]
fn main() -> ! {
    let good = cortex_m::Peripherals::take().is_some_and(|core| {
        let mut counter = Counter::start(core.SYST);
        let filters = filters::compare(&mut counter);
        let observers = observers::compare(&mut counter);
        filters && observers
    });
    finish(good)
}

/// Ends the emulator with success or failure.
fn finish(good: bool) -> ! {
    loop {
        debug::exit(if good {
            debug::EXIT_SUCCESS
        } else {
            debug::EXIT_FAILURE
        });
    }
}

#[panic_handler]
fn panic(info: &core::panic::PanicInfo<'_>) -> ! {
    hprintln!("{}", info);
    finish(false)
}
