//! How deep the stack has been.
//!
//! The free stack is painted, and later searched for the deepest word that lost its paint.

use core::ptr::{read_volatile, write_volatile};

const PAINT: u32 = 0xB0A7_C0DE;
/// Painted below the painter's own frame, bytes.
const DEPTH: usize = 16 * 1024;
/// Left alone between frame and paint, bytes.
const MARGIN: usize = 64;

#[inline(always)]
fn here() -> usize {
    cortex_m::register::msp::read() as usize & !3
}

/// Paints the free stack and returns where the caller's frame ends.
#[inline(never)]
pub fn paint() -> usize {
    let top = here() - MARGIN;
    let mut at = top - DEPTH;
    while at < top {
        // SAFETY: below the stack pointer, above the static data (4 MiB of RAM), nothing lives.
        unsafe { write_volatile(at as *mut u32, PAINT) };
        at += 4;
    }
    top
}

/// Bytes used below `top` since [`paint`] returned it.
#[inline(never)]
#[must_use]
pub fn used(top: usize) -> u32 {
    let mut at = top - DEPTH;
    // SAFETY: as above; the memory exists and is only read.
    while at < top && unsafe { read_volatile(at as *const u32) } == PAINT {
        at += 4;
    }
    (top - at) as u32 + MARGIN as u32
}
