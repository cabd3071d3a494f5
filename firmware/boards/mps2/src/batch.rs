//! Many recorded frames at once, through files of the host: much faster than the serial port.
//!
//! Reads `frames` (16 bytes each) from the emulator's working folder and writes `answers`: for each
//! step the drive frame (8 bytes) and its instructions (u32, little-endian), at the end the deepest stack
//! (u32). By semihosting, which only an emulator or a debugger has.

use crate::bench::Core;
use crate::counter::Counter;
use core::ffi::CStr;
use cortex_m::peripheral::SYST;
use cortex_m_semihosting::{debug, syscall};
use firmware::link::{Bits, Hooks};
use firmware::{Commission, Cycle, DriveFrame, Recorded, SensorFrame};

const FRAMES: usize = 64;
const ANSWER: usize = DriveFrame::BYTES + 4;

/// Steps a new controller through all frames and ends the emulator: well, or not.
pub fn run<S: Bits + Recorded>(timer: SYST) -> ! {
    end(law::<S>(timer))
}

/// The same for a new commissioning test. The stack is not measured.
pub fn commission(timer: SYST) -> ! {
    end(test(timer))
}

/// The same as [`run`], but the instructions are those of the flight recorder after each step. The stack is not
/// measured.
pub fn recorder<S: Bits + Recorded>(timer: SYST) -> ! {
    end(recorded::<S>(timer))
}

fn recorded<S: Bits + Recorded>(timer: SYST) -> Option<()> {
    let mut counter = Counter::start(timer);
    let mut cycle = Cycle::<S>::new(crate::parameters().ok()?).ok()?;
    let recorder = cortex_m::singleton!(: crate::Recorder = crate::Recorder::new())?;
    let recorder = core::hint::black_box(recorder);
    recorder.begin(&cycle);
    let output = steps(|frame| {
        let drive = cycle.step(frame);
        let ((), cost) = counter.count(|| recorder.note(&cycle, frame, &drive));
        // What is frozen would cost nothing more.
        recorder.release();
        (drive, cost)
    })?;
    write(output, &0_u32.to_le_bytes())
}

fn law<S: Bits + Recorded>(timer: SYST) -> Option<()> {
    let mut core = Core::new("", timer);
    let mut cycle = Cycle::<S>::new(crate::parameters().ok()?).ok()?;
    let output = steps(|frame| core.measure(&mut cycle, frame))?;
    let deepest = Hooks::<S>::stack_bytes(&mut core);
    write(output, &deepest.to_le_bytes())
}

fn test(timer: SYST) -> Option<()> {
    let mut counter = Counter::start(timer);
    let mut commission = Commission::new(crate::parameters().ok()?).ok()?;
    let output = steps(|frame| counter.count(|| commission.step(frame)))?;
    write(output, &0_u32.to_le_bytes())
}

fn end(done: Option<()>) -> ! {
    let done = done.is_some();
    loop {
        debug::exit(if done {
            debug::EXIT_SUCCESS
        } else {
            debug::EXIT_FAILURE
        });
    }
}

/// Answers every frame; the file of answers when all went well.
fn steps(mut answer: impl FnMut(&SensorFrame) -> (DriveFrame, u32)) -> Option<usize> {
    let input = open(c"frames", 1)?;
    let output = open(c"answers", 5)?;
    let mut frames = [0_u8; FRAMES * SensorFrame::BYTES];
    let mut answers = [0_u8; FRAMES * ANSWER];
    loop {
        let read = read(input, &mut frames);
        let frames = frames.get(..read)?.as_chunks::<{ SensorFrame::BYTES }>().0;
        for (bytes, place) in frames.iter().zip(answers.as_chunks_mut::<ANSWER>().0) {
            let (drive, cost) = answer(&SensorFrame::from_bytes(*bytes));
            let (front, back) = place.split_at_mut(DriveFrame::BYTES);
            front.copy_from_slice(&drive.to_bytes());
            back.copy_from_slice(&cost.to_le_bytes());
        }
        write(output, answers.get(..frames.len() * ANSWER)?)?;
        if read < FRAMES * SensorFrame::BYTES {
            return Some(output);
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
