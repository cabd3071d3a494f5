//! The commissioning test on the Cortex-M3 (mps2-an385) board in batches of recorded frames.
#![no_std]
#![no_main]

use cortex_m_rt::entry;

#[entry]
fn main() -> ! {
    if let Some(core) = cortex_m::Peripherals::take() {
        mps2::batch::commission(core.SYST);
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
