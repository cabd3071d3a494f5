//! Where the test is, and why it gave up.

use crate::vet::Faults;

/// Why the test gave up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Reason {
    /// The arming switch went off.
    Disarmed,
    /// The stop circuit is open.
    StopCircuit,
    /// The occupant switch is closed.
    Occupied,
    /// A reading is not believable, or the board missed its time or an output.
    Fault(Faults),
    /// The seat rests too far from mid travel; level it.
    NotLevel,
    /// The seat moved farther than the test may move it.
    Travel,
    /// The floor moves.
    FloorMoves,
    /// The largest current moves the seat too little.
    NoMotion,
    /// The readings do not determine the machine.
    Undetermined,
}

/// Where the test is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum State {
    /// Waits for the arming switch to go off and on.
    Waiting,
    /// At rest.
    Rest,
    /// In the test motion of this number.
    Motion(u8),
    /// Works out what was measured.
    Judging,
    /// Finished.
    Done,
    /// Given up.
    Aborted(Reason),
}
