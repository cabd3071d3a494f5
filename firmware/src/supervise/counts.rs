//! What a proof may know of the state machine: its counters, and where they end to matter.
//!
//! Nothing in the law calls this. The counters run on to the ends of their types, but a step only
//! asks whether they have reached a threshold. [`State::bounded`] cuts them there, so that a
//! machine has finitely many states that differ; that nothing is lost by it is tested, state by state.

use super::{Config, Mode, State};

/// Steps at which the machine's counters have their effect.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Thresholds {
    /// A switch counts.
    pub switch: u32,
    /// Rise ends at the latest.
    pub rise_max: u32,
    /// The force fades in Settle at the latest.
    pub settle_max: u32,
    /// The height adjuster has rested long enough.
    pub level_rest: u32,
    /// A passing fault has been gone, or all of the proof's assumptions have held, long enough.
    pub clear: u32,
    /// The current has been led to zero.
    pub release: u32,
    /// From full authority to none.
    pub lead_out: u32,
    /// Largest change of authority in one step but for a fault and the catch of a falling seat,
    /// count of 2^-24.
    pub ramp: i32,
}

impl Config {
    /// The thresholds of this configuration.
    #[must_use]
    pub const fn thresholds(&self) -> Thresholds {
        Thresholds {
            switch: self.switch_steps,
            rise_max: self.rise_max,
            settle_max: self.settle_max,
            level_rest: self.level_rest,
            clear: self.clear_steps,
            release: self.release,
            ramp: if self.lead_in_step > self.lead_out_step {
                self.lead_in_step
            } else {
                self.lead_out_step
            },
            lead_out: (super::FULL as u32).div_ceil(self.lead_out_step as u32),
        }
    }
}

/// The counters of a state, steps.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counts {
    /// Steps in the mode, the one that entered it not counted.
    pub in_mode: u32,
    /// Steps in Settle with the height adjuster at rest.
    pub level_rest: u32,
    /// Steps without any fault.
    pub fault_gone_for: u32,
    /// Steps in which all of the proof's assumptions have held.
    pub proved_for: u32,
}

impl State {
    /// The counters.
    #[must_use]
    pub const fn counts(&self) -> Counts {
        Counts {
            in_mode: self.in_mode,
            level_rest: self.level_rest,
            fault_gone_for: self.fault_gone_for,
            proved_for: self.proved_for,
        }
    }

    /// Share of the force, count of 2^-24.
    #[must_use]
    pub const fn force(&self) -> i32 {
        self.force
    }

    /// Share of the isolation, count of 2^-24.
    #[must_use]
    pub const fn isolation(&self) -> i32 {
        self.isolation
    }

    /// This state with other counters.
    #[must_use]
    pub const fn with_counts(self, counts: Counts) -> Self {
        Self {
            in_mode: counts.in_mode,
            level_rest: counts.level_rest,
            fault_gone_for: counts.fault_gone_for,
            proved_for: counts.proved_for,
            ..self
        }
    }

    /// This state with its counters cut at the last threshold that they can reach: it behaves
    /// the same for ever. Time in the mode is kept where a step asks for it, and so is the time in
    /// which the assumptions have held: Beyond, the one mode that asks, is entered with it at zero.
    #[must_use]
    pub fn bounded(self, config: &Config) -> Self {
        let most = match self.mode() {
            Mode::Rise => config.rise_max,
            Mode::Settle => config.settle_max,
            Mode::Derated => config.clear_steps,
            Mode::Release => config.release,
            _ => 0,
        };
        let proved_most = match self.mode() {
            Mode::Beyond => config.clear_steps,
            _ => 0,
        };
        let counts = self.counts();
        self.with_counts(Counts {
            in_mode: counts.in_mode.min(most),
            level_rest: counts.level_rest.min(config.level_rest),
            fault_gone_for: counts.fault_gone_for.min(config.clear_steps),
            proved_for: counts.proved_for.min(proved_most),
        })
    }
}
