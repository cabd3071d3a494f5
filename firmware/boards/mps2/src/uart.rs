//! The board's first serial port (CMSDK APB UART), polled.

use core::ptr::{read_volatile, write_volatile};

const DATA: *mut u32 = 0x4000_4000 as *mut u32;
const STATE: *mut u32 = 0x4000_4004 as *mut u32;
const CTRL: *mut u32 = 0x4000_4008 as *mut u32;
const BAUDDIV: *mut u32 = 0x4000_4010 as *mut u32;

const TX_FULL: u32 = 1 << 0;
const RX_FULL: u32 = 1 << 1;

/// The port, enabled both ways.
#[derive(Debug)]
pub struct Uart(());

impl Uart {
    /// Enables the port. There must be one at a time.
    #[must_use]
    pub fn open() -> Self {
        // SAFETY: registers of this board's UART, which nothing else touches.
        unsafe {
            write_volatile(BAUDDIV, 16);
            write_volatile(CTRL, 3);
        }
        Self(())
    }

    /// The next byte; waits for it.
    #[inline]
    pub fn read(&mut self) -> u8 {
        // SAFETY: as above.
        unsafe {
            while read_volatile(STATE) & RX_FULL == 0 {}
            read_volatile(DATA) as u8
        }
    }

    /// Sends bytes; waits for each.
    pub fn write(&mut self, bytes: &[u8]) {
        for &byte in bytes {
            // SAFETY: as above.
            unsafe {
                while read_volatile(STATE) & TX_FULL != 0 {}
                write_volatile(DATA, byte.into());
            }
        }
    }
}
