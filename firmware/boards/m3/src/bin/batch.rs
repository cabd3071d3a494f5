//! The law on the Cortex-M3 (mps2-an385) board in batches of recorded frames.
#![no_std]
#![no_main]

use cortex_m_rt::entry;
use shared_math::Q24;

#[entry]
fn main() -> ! {
    if let Some(core) = cortex_m::Peripherals::take() {
        mps2::batch::run::<Q24>(core.SYST);
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
