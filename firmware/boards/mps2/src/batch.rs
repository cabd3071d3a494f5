//! Many recorded frames at once, through files of the host: much faster than the serial port.
//!
//! Reads `frames` (16 bytes each) from the emulator's working folder and writes `answers`: for each
//! step the drive frame (8 bytes) and its instructions (u32, little-endian), at the end the deepest stack
//! (u32). By semihosting, which only an emulator or a debugger has.

use crate::bench::Core;
use core::ffi::CStr;
use cortex_m::peripheral::SYST;
use cortex_m_semihosting::{debug, syscall};
use firmware::link::{Bits, Hooks};
use firmware::{Cycle, DriveFrame, SensorFrame};

const FRAMES: usize = 64;
const ANSWER: usize = DriveFrame::BYTES + 4;

/// Steps a new controller through all frames and ends the emulator: well, or not.
pub fn run<S: Bits>(timer: SYST) -> ! {
    let done = steps::<S>(timer).is_some();
    loop {
        debug::exit(if done {
            debug::EXIT_SUCCESS
        } else {
            debug::EXIT_FAILURE
        });
    }
}

fn steps<S: Bits>(timer: SYST) -> Option<()> {
    let input = open(c"frames", 1)?;
    let output = open(c"answers", 5)?;
    let mut core = Core::new("", timer);
    let mut cycle = Cycle::<S>::new(&crate::PARAMETERS).ok()?;
    let mut frames = [0_u8; FRAMES * SensorFrame::BYTES];
    let mut answers = [0_u8; FRAMES * ANSWER];
    loop {
        let read = read(input, &mut frames);
        let frames = frames.get(..read)?.as_chunks::<{ SensorFrame::BYTES }>().0;
        for (bytes, answer) in frames.iter().zip(answers.as_chunks_mut::<ANSWER>().0) {
            let frame = SensorFrame::from_bytes(*bytes);
            let (drive, cost) = core.measure(&mut cycle, &frame);
            let (front, back) = answer.split_at_mut(DriveFrame::BYTES);
            front.copy_from_slice(&drive.to_bytes());
            back.copy_from_slice(&cost.to_le_bytes());
        }
        write(output, answers.get(..frames.len() * ANSWER)?)?;
        if read < FRAMES * SensorFrame::BYTES {
            let deepest = Hooks::<S>::stack_bytes(&mut core);
            return write(output, &deepest.to_le_bytes());
        }
    }
}

fn open(name: &CStr, mode: usize) -> Option<usize> {
    // SAFETY: the semihosting call reads the name, whose length is given.
    let handle = unsafe { syscall!(OPEN, name.as_ptr(), mode, name.count_bytes()) };
    (handle.cast_signed() > 0).then_some(handle)
}

/// How many bytes were read.
fn read(file: usize, bytes: &mut [u8]) -> usize {
    // SAFETY: the call writes at most as many bytes as the buffer has.
    let left = unsafe { syscall!(READ, file, bytes.as_mut_ptr(), bytes.len()) };
    bytes.len().saturating_sub(left)
}

fn write(file: usize, bytes: &[u8]) -> Option<()> {
    // SAFETY: the call reads the bytes, whose length is given.
    let left = unsafe { syscall!(WRITE, file, bytes.as_ptr(), bytes.len()) };
    (left == 0).then_some(())
}
