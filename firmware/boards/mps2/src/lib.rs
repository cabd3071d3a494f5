#![no_std]
//! What the ports to the MPS2 boards share: nothing of the law.
//!
//! | file | purpose |
//! |---|---|
//! | `image` | the images themselves, as macros |
//! | `process_image` | the seat's board: inputs and outputs in memory, timer, watchdog |
//! | `bench` | the link's server on the serial port, with instruction counts |
//! | `batch` | recorded frames through files of the emulator's host |
//! | `counter` | instructions between two moments |
//! | `stack` | how deep the stack has been |
//! | `uart` | the serial port |
//! | `vectors` | the table of interrupts |

pub mod batch;
pub mod bench;
pub mod counter;
mod image;
pub mod process_image;
pub mod stack;
pub mod uart;
mod vectors;

/// The boards' flight recorder: 4.1 s at 1 kHz, of which at least 2.5 s lie before the first fault and 1 s after it.
pub type Recorder = firmware::Recorder<8, 512>;

/// The parameter table of the default rig, made by `becalm rig table`.
pub static TABLE: firmware::StoredTable = include!("../../parameters.rs");

/// The parameters of the stored table.
///
/// # Errors
/// No copy of it holds.
pub fn parameters() -> Result<&'static firmware::Parameters, firmware::TableError> {
    // What is stored may not be what was compiled: it is read and checked on the board.
    core::hint::black_box(&TABLE).parameters()
}
