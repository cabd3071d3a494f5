//! How deep the stack has been.
//!
//! The free stack is painted, and later searched for the deepest word that lost its paint.

use core::ptr::{read_volatile, write_volatile};

const PAINT: u32 = 0xB0A7_C0DE;
/// Painted below the caller's frame, bytes.
const DEPTH: usize = 2048;
/// Left alone between the caller's frame and the paint, bytes: the frames of this file's functions.
const MARGIN: usize = 32;

/// Paints the free stack and returns where the caller's frame ends.
#[inline(always)]
pub fn paint() -> usize {
    let top = cortex_m::register::msp::read() as usize & !3;
    fill(top);
    top
}

#[inline(never)]
fn fill(top: usize) {
    let mut at = top - MARGIN - DEPTH;
    while at < top - MARGIN {
        // SAFETY: below the stack pointer nothing lives, and the boards have 4 MiB of memory.
        unsafe { write_volatile(at as *mut u32, PAINT) };
        at += 4;
    }
}

/// Bytes used below `top` since [`paint`] returned it; never less than the margin.
#[inline(never)]
#[must_use]
pub fn used(top: usize) -> u32 {
    let mut at = top - MARGIN - DEPTH;
    // SAFETY: as above; the memory exists and is only read.
    while at < top - MARGIN && unsafe { read_volatile(at as *const u32) } == PAINT {
        at += 4;
    }
    (top - at) as u32
}
