//! Recordings of the firmware's flight recorder: files, and whether the same firmware gives the same bits again.
//!
//! | file | purpose |
//! |---|---|
//! | `file` | a recording as it came from the recorder, in a file with checksums |
//! | `error` | why a file cannot be replayed |
//! | `replay` | every block from its snapshot through the law again |
//! | `rows` | what the law saw and did in each period, as CSV |

mod error;
mod file;
mod replay;
mod rows;

pub use error::FlightError;
pub use file::{FlightBlock, FlightFile};
pub use replay::{Change, Differs, FlightDifference, FlightPeriod, FlightReplay};
pub use rows::{HEADER, RowWriter};

/// The recorder of the bench, as large as that of the emulated boards: 4.1 s at 1 kHz.
pub type FlightRecorder = firmware::Recorder<8, 512>;
