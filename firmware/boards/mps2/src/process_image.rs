//! The seat's board on an MPS2: inputs and outputs as a block of memory.
//!
//! The emulated board has no converters. Its inputs are where a DMA controller would leave them, in
//! [`INPUTS`]; its outputs go to [`OUTPUTS`], from where one would take them. The timer is SysTick, the
//! watchdog the board's own (CMSDK APB watchdog), which has no window: a real port has to have one.

use core::ptr::{read_volatile, write_volatile};
use core::sync::atomic::{AtomicU16, AtomicU32, Ordering};
use cortex_m::peripheral::SYST;
use cortex_m::peripheral::syst::SystClkSource;
use firmware::{Board, DriveFrame, SensorFrame, WATCHDOG_PERIODS};

/// Core clock of the emulated boards, Hz.
pub const CLOCK_HZ: u32 = 25_000_000;

/// The eight half-words of a sensor frame; the first, its number, is not read.
pub static INPUTS: [AtomicU16; 8] = [const { AtomicU16::new(0) }; 8];
/// The four half-words of a drive frame.
pub static OUTPUTS: [AtomicU16; 4] = [const { AtomicU16::new(0) }; 4];
/// Control periods since reset: the interrupt of the timer counts them.
pub static PERIODS: AtomicU32 = AtomicU32::new(0);

const WATCHDOG_LOAD: *mut u32 = 0x4000_8000 as *mut u32;
const WATCHDOG_CONTROL: *mut u32 = 0x4000_8008 as *mut u32;

/// The board.
#[derive(Debug)]
pub struct ProcessImage(());

impl ProcessImage {
    /// Starts timer and watchdog. `step_s` is the control period.
    #[must_use]
    pub fn start(mut timer: SYST, step_s: f32) -> Self {
        let ticks = (step_s * CLOCK_HZ as f32) as u32;
        timer.set_clock_source(SystClkSource::Core);
        timer.set_reload(ticks.saturating_sub(1));
        timer.clear_current();
        timer.enable_counter();
        timer.enable_interrupt();
        let board = Self(());
        board.load_watchdog(ticks.saturating_mul(WATCHDOG_PERIODS));
        // SAFETY: a register of this board's watchdog: interrupt and reset enabled.
        unsafe { write_volatile(WATCHDOG_CONTROL, 3) };
        board
    }

    fn load_watchdog(&self, ticks: u32) {
        // SAFETY: a register of this board's watchdog; the count begins anew.
        unsafe { write_volatile(WATCHDOG_LOAD, ticks) };
    }
}

impl Board for ProcessImage {
    fn sample(&mut self) -> SensorFrame {
        let mut bytes = [0; SensorFrame::BYTES];
        for (pair, input) in bytes.as_chunks_mut::<2>().0.iter_mut().zip(&INPUTS) {
            // SAFETY: a static of this file; volatile, because a DMA controller would write it.
            *pair = unsafe { read_volatile(input.as_ptr()) }.to_le_bytes();
        }
        SensorFrame::from_bytes(bytes)
    }

    fn apply(&mut self, drive: &DriveFrame) -> bool {
        let bytes = drive.to_bytes();
        for (pair, output) in bytes.as_chunks::<2>().0.iter().zip(&OUTPUTS) {
            // SAFETY: as above, the other way.
            unsafe { write_volatile(output.as_ptr(), u16::from_le_bytes(*pair)) };
        }
        true
    }

    fn period(&mut self) -> u32 {
        PERIODS.load(Ordering::Relaxed)
    }

    fn refresh_watchdog(&mut self) {
        self.load_watchdog(CLOCK_HZ / 1000 * WATCHDOG_PERIODS);
    }
}
