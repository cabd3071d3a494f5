//! What the images of all ports have in common; a port says which arithmetic it is for.
//!
//! The macros expand in the port, so that entry, interrupt and panic handler are the port's own.

/// The release image: interrupt at the fixed rate, the task in the given arithmetic, the board.
///
/// A panic that can be reached fails the link: its handler calls what is nowhere defined.
#[macro_export]
macro_rules! port {
    ($arithmetic:ty) => {
        #[cortex_m_rt::exception]
        fn SysTick() {
            use core::sync::atomic::Ordering;
            mps2::process_image::PERIODS.fetch_add(1, Ordering::Relaxed);
        }

        #[cortex_m_rt::entry]
        fn main() -> ! {
            static mut RECORDER: mps2::Recorder = mps2::Recorder::new();
            use firmware::Task;
            use mps2::process_image::ProcessImage;
            // This image has no link; what is recorded there a debugger reads.
            let recorder = core::hint::black_box(RECORDER);
            if let Some(core) = cortex_m::Peripherals::take() {
                let mut board =
                    ProcessImage::start(core.SYST, mps2::TABLE.unchecked().timing.step_s);
                // Whatever the table, the safe state goes out first.
                firmware::Board::apply(&mut board, &firmware::DriveFrame::SAFE);
                // A table that does not hold or cannot be used leaves it at that; the watchdog then bites.
                if let Ok(parameters) = mps2::parameters()
                    && let Ok(task) = Task::<$arithmetic>::start(&mut board, parameters)
                    && let Some(task) = cortex_m::singleton!(: Task<$arithmetic> = task)
                {
                    recorder.begin(task.cycle());
                    loop {
                        cortex_m::asm::wfi();
                        let drive = task.tick_recorded(&mut board, recorder);
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
    };
}

/// An image for the host's bench: gives the timer to `$work`, which does not come back.
#[macro_export]
macro_rules! tool {
    ($work:expr) => {
        #[cortex_m_rt::entry]
        fn main() -> ! {
            if let Some(core) = cortex_m::Peripherals::take() {
                ($work)(core.SYST);
            }
            loop {
                cortex_m::asm::nop();
            }
        }

        #[panic_handler]
        fn panic(_: &core::panic::PanicInfo<'_>) -> ! {
            loop {
                cortex_m::asm::nop();
            }
        }
    };
}
