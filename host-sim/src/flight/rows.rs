//! What the law saw and did in each period of a recording, as CSV.

use super::replay::FlightPeriod;
use firmware::Mode;
use std::io::{self, Write};

/// The first line: raw counts of the sensors first, then the law's estimates and its answer in SI units.
pub const HEADER: &str = "time_s,sequence,floor_accel,seat_accel,travel,current,supply,\
     coil_temperature,switches,marks,floor_accel_mps2,floor_velocity_mps,seat_accel_mps2,\
     seat_velocity_mps,travel_m,travel_rate_mps,wanted_mps2,permitted_mps2,force_n,\
     disturbance_n,mass_kg,current_a,outputs,current_command,mode,faults";

/// Writes the rows of a recording.
#[derive(Debug)]
pub struct RowWriter<W: Write> {
    out: W,
}

impl<W: Write> RowWriter<W> {
    /// Writes the header.
    ///
    /// # Errors
    /// When `out` cannot be written to.
    pub fn new(mut out: W) -> io::Result<Self> {
        writeln!(out, "{HEADER}")?;
        Ok(Self { out })
    }

    /// Writes one row. `outputs` and `faults` are bits.
    ///
    /// # Errors
    /// When the output cannot be written to.
    pub fn push(&mut self, p: &FlightPeriod) -> io::Result<()> {
        let (frame, drive, inside) = (&p.frame, &p.drive, &p.inside);
        let motion = &inside.motion;
        write!(
            self.out,
            "{:.6},{},{},{},{},{},{},{},{},{},",
            p.time_s,
            frame.sequence,
            frame.floor_accel,
            frame.seat_accel,
            frame.travel,
            frame.current,
            frame.supply,
            frame.coil_temperature,
            frame.switches.0,
            frame.marks.0,
        )?;
        write!(
            self.out,
            "{:.6},{:.6},{:.6},{:.6},{:.7},{:.6},{:.6},{:.6},",
            motion.floor_accel,
            motion.floor_velocity,
            motion.seat_accel,
            motion.seat_velocity,
            motion.travel,
            motion.travel_rate,
            inside.wanted,
            inside.arrest.permitted,
        )?;
        writeln!(
            self.out,
            "{:.3},{:.3},{:.3},{:.4},{},{},{},{}",
            1000.0 * inside.drive.force,
            1000.0 * inside.drive.disturbance,
            1000.0 * inside.mass,
            inside.drive.current,
            drive.outputs,
            drive.current_command,
            Mode::from_code(drive.mode).map_or("unknown", Mode::name),
            drive.faults,
        )
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
