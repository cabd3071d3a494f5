//! How good a seat could be on a floor: bounds that no real seat reaches.
//!
//! The clairvoyant bound is what a seat without any limit of force, delay or noise would feel that knew the
//! whole floor in advance and used all of its travel: a convex program, see [`Program`]. It starts as a ride
//! does, at rest at mid travel; what happens in the skipped start costs nothing. The best causal linear law
//! ([`causal`]) knows the floor's spectrum and its past, not its future.
//!
//! | file | purpose |
//! |---|---|
//! | `comfort` | what is felt of an acceleration, as a linear system |
//! | `relative` | what the floor does to the travel from knot to knot |
//! | `program` | the convex program: unknowns, constraints, solution |
//! | `pass` | a program over a whole record, in overlapping windows if it is long |
//! | `window` | samples ahead, grid of knots and the seat joined from windows |
//! | `causal` | the best causal linear law |
//! | `headroom` | passive seat, law, causal linear law and bound over many floors |
//!
//! # Accuracy
//!
//! The seat acceleration runs linearly between knots 10 ms apart (5 ms for the peak); the travel is checked
//! every 2 ms (1 ms). A motion with finer knots can be a little better, and between checks the travel may be
//! a little over. Against half the step the SEAT value moves by less than 0.002 at 10 mm of travel and more,
//! and by less than 2 % at 1 mm on a floor up to 32 Hz; the peak by less than 2 %. The travel is at most
//! 0.3 % or 0.02 mm over. A SEAT value below 0.001 is not told from 0; where the seat can stand still in
//! space, it is 0. Tests hold these numbers.

pub mod causal;
mod comfort;
pub mod headroom;
mod pass;
mod program;
mod relative;
mod window;

pub use comfort::Comfort;
pub use pass::{Bound, BoundSpec, Windows, least_seat_value, run};
pub use program::{Aim, KnotState, Motion, Program, Start, TravelRule};

use crate::exposure::ExposureError;
use crate::floor::FloorError;
use crate::range::OutOfRange;
use crate::ride::RideError;
use serde::Serialize;

/// How sure a solution is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum SolverStatus {
    /// Nothing to solve: the seat can stand still in space.
    Still,
    /// To full accuracy.
    Solved,
    /// To reduced accuracy: about four figures.
    AlmostSolved,
}

impl SolverStatus {
    /// Name in tables and files.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Still => "still",
            Self::Solved => "solved",
            Self::AlmostSolved => "almost_solved",
        }
    }
}

/// The bound beside a ride.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct BoundFigures {
    /// Least SEAT value; `None` on a floor at rest.
    pub seat_value: Option<f64>,
    /// Least peak acceleration, m/s^2.
    pub peak_mps2: f64,
}

/// Share of the possible, in SEAT value: (passive - ours) / (passive - bound). `None` where the passive seat is
/// no worse than the bound, as on a floor at rest.
#[must_use]
pub fn share_of_possible(
    passive: Option<f64>,
    ours: Option<f64>,
    bound: Option<f64>,
) -> Option<f64> {
    let (passive, ours, bound) = (passive?, ours?, bound?);
    (passive > bound).then(|| (passive - ours) / (passive - bound))
}

/// Why there is no bound.
#[derive(Debug, thiserror::Error)]
pub enum BoundError {
    /// The floor.
    #[error(transparent)]
    Floor(#[from] FloorError),
    /// The exposure figures.
    #[error(transparent)]
    Exposure(#[from] ExposureError),
    /// A ride beside the bound.
    #[error(transparent)]
    Ride(#[from] Box<RideError>),
    /// A value.
    #[error(transparent)]
    Value(#[from] OutOfRange),
    /// The solver gave up.
    #[error("the bound's program was not solved: {0}")]
    Solver(String),
    /// Asked to stop.
    #[error("interrupted; nothing was written")]
    Interrupted,
}
