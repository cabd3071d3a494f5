//! The port to the Cortex-M4F (mps2-an386) board: interrupt at the fixed rate, the task, the board.
//!
//! A panic that can be reached fails the link: its handler calls what is nowhere defined.
#![no_std]
#![no_main]

use core::sync::atomic::Ordering;
use cortex_m::singleton;
use cortex_m_rt::{entry, exception};
use firmware::Task;
use mps2::process_image::{PERIODS, ProcessImage};

#[exception]
fn SysTick() {
    PERIODS.fetch_add(1, Ordering::Relaxed);
}

#[entry]
fn main() -> ! {
    if let Some(core) = cortex_m::Peripherals::take() {
        let mut board = ProcessImage::start(core.SYST, mps2::PARAMETERS.timing.step_s);
        // A table that cannot be used leaves the board in the safe state; the watchdog then bites.
        if let Ok(task) = Task::<f32>::start(&mut board, &mps2::PARAMETERS)
            && let Some(task) = singleton!(: Task<f32> = task)
        {
            loop {
                cortex_m::asm::wfi();
                let drive = task.tick(&mut board);
                #[cfg(feature = "deliberate-panic")]
                assert!(drive.mode < 8, "on purpose");
                #[cfg(not(feature = "deliberate-panic"))]
                let _ = drive;
            }
        }
    }
    loop {
        cortex_m::asm::nop();
    }
}

#[panic_handler]
fn panic(_: &core::panic::PanicInfo<'_>) -> ! {
    unsafe extern "C" {
        fn becalm_a_panic_can_be_reached() -> !;
    }
    // SAFETY: never linked: that is the proof.
    unsafe { becalm_a_panic_can_be_reached() }
}
