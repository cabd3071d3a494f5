//! A ride as rows of a CSV file, one for each control period.

use crate::ride::Sample;
use firmware::Mode;
use std::io::{self, Write};

/// The first line: names with SI units.
pub const HEADER: &str = "time_s,floor_accel_mps2,seat_accel_mps2,travel_m,travel_rate_mps,\
     force_n,current_a,mode,floor_velocity_est_mps,travel_rate_est_mps,mass_est_kg";

/// Which of the two seats is traced.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Seat {
    /// The seat under the law.
    Law,
    /// The passive seat: force and current are 0, the mode is `none` and the
    /// estimates are empty.
    Passive,
}

/// Writes the rows of a trace.
#[derive(Debug)]
pub struct TraceWriter<W: Write> {
    out: W,
    seat: Seat,
}

impl<W: Write> TraceWriter<W> {
    /// Writes the header.
    ///
    /// # Errors
    /// When `out` cannot be written to.
    pub fn new(mut out: W, seat: Seat) -> io::Result<Self> {
        writeln!(out, "{HEADER}")?;
        Ok(Self { out, seat })
    }

    /// Writes one row. Decimals go well below what the sensors resolve.
    ///
    /// # Errors
    /// When the output cannot be written to.
    pub fn push(&mut self, s: &Sample) -> io::Result<()> {
        let (time, floor) = (s.time_s, s.floor.accel_mps2);
        match self.seat {
            Seat::Law => writeln!(
                self.out,
                "{time:.6},{floor:.6},{:.6},{:.7},{:.6},{:.3},{:.4},{},{:.6},{:.6},{:.3}",
                s.seat_accel,
                s.travel,
                s.travel_rate,
                s.force,
                s.current,
                Mode::from_code(s.drive.mode).map_or("unknown", Mode::name),
                s.inside.motion.floor_velocity,
                s.inside.motion.travel_rate,
                1000.0 * s.inside.mass,
            ),
            Seat::Passive => writeln!(
                self.out,
                "{time:.6},{floor:.6},{:.6},{:.7},{:.6},0,0,none,,,",
                s.passive_accel, s.passive_travel, s.passive_travel_rate,
            ),
        }
    }

    /// Writes out what is buffered.
    ///
    /// # Errors
    /// When the output cannot be written to.
    pub fn finish(mut self) -> io::Result<W> {
        self.out.flush()?;
        Ok(self.out)
    }
}
