//! What the task logs in a period: changes, and the first of a row of errors; a period like the one before
//! logs nothing.
//!
//! Without the feature `defmt` the journal is empty and noting does nothing.

use crate::supervise::Mode;
use crate::task::Tally;
use crate::vet::Faults;

/// One period as the journal sees it.
#[derive(Clone, Copy, Debug, Default)]
#[cfg_attr(
    not(feature = "defmt"),
    expect(dead_code, reason = "read only when something is logged")
)]
pub(crate) struct Seen {
    /// Mode after the step.
    pub(crate) mode: Mode,
    /// Faults that stand after the step.
    pub(crate) faults: Faults,
    /// Sensors that gave no value, as the faults they may become.
    pub(crate) sensors: Faults,
    /// Periods left out before this one.
    pub(crate) skipped: u32,
    /// The answer came after the period had ended.
    pub(crate) late: bool,
    /// An output did not take the answer.
    pub(crate) refused: bool,
}

/// Remembers the last period.
#[derive(Clone, Debug, Default)]
pub(crate) struct Journal {
    #[cfg(feature = "defmt")]
    last: Seen,
}

#[cfg(not(feature = "defmt"))]
impl Journal {
    #[inline(always)]
    pub(crate) const fn note(&mut self, _period: u32, _now: &Seen, _tally: &Tally) {}
}

#[cfg(feature = "defmt")]
impl Journal {
    /// Logs what is new in the period of the given number. `tally` has it counted already.
    pub(crate) fn note(&mut self, period: u32, now: &Seen, tally: &Tally) {
        use crate::log::{log_info, log_warn};
        let last = core::mem::replace(&mut self.last, *now);
        let new_sensors = Faults(now.sensors.0 & !last.sensors.0);
        if now.skipped > 0 && last.skipped == 0 {
            log_warn!(
                "period {=u32}: {=u32} skipped before it, {=u32} since reset",
                period,
                now.skipped,
                tally.skipped
            );
        }
        if new_sensors.any() {
            log_warn!(
                "period {=u32}: no value from {}, {=u32} such samples since reset",
                period,
                new_sensors,
                tally.sensor_errors
            );
        }
        if (now.mode, now.faults) != (last.mode, last.faults) {
            log_info!(
                "period {=u32}: mode {}, faults {}",
                period,
                now.mode,
                now.faults
            );
        }
        if now.refused && !last.refused {
            log_warn!(
                "period {=u32}: answer not taken by an output, {=u32} since reset",
                period,
                tally.output_errors
            );
        }
        if now.late && !last.late {
            log_warn!(
                "period {=u32}: answer late, {=u32} since reset",
                period,
                tally.late
            );
        }
    }
}
