//! Who rests on the lower stop is lifted off it by the support alone, before the motor is driven.
//!
//! In Passive the height adjuster adds preload until the seat rises, waits while it rises fast enough, and goes on when it
//! stands still again; the shorted motor brakes meanwhile. Afloat, the seat is handed to Rise, in which the motor never
//! carries more than what the support is still short of. A fault that comes before that drops nobody.
//!
//! What is put out beside that is the brake, in every step that drives nothing but the first of Fault.

use super::{Config, Mode, State};
use crate::frame::DriveFrame;
use shared_math::plain;

/// What is put out while nothing drives: brake and height adjuster.
#[derive(Clone, Copy, Debug)]
#[repr(C)]
pub struct Lift {
    /// Steps since the lift began.
    lasts: u32,
    /// Outputs of the step.
    outputs: u32,
}

plain!([] Lift { lasts, outputs });

const BRAKE: u32 = DriveFrame::DAMP as u32;
const BRAKE_AND_LIFT: u32 = (DriveFrame::DAMP | DriveFrame::LEVEL_UP) as u32;
/// The windings are open.
const LET_GO: u32 = 0;

impl Default for Lift {
    fn default() -> Self {
        Self {
            lasts: 0,
            outputs: BRAKE,
        }
    }
}

impl Lift {
    /// One step in which nothing drives, of a machine in `state`. `travel_rate`: count of 2^-24 m/s. Returns whether the
    /// height adjuster adds preload: in Passive with somebody seated and nothing wrong, for as long as a rise may take at most;
    /// after that a seat that does not rise stays where it is. `drove`: whether the step before drove the motor, which is let go for
    /// the first steps of Fault then, and brakes in all others.
    pub fn step(&mut self, config: &Config, state: &State, travel_rate: i32, drove: bool) -> bool {
        let wanted = state.mode() == Mode::Passive && state.seated() && state.fault_gone_for != 0;
        self.lasts = if wanted {
            self.lasts.saturating_add(1)
        } else {
            0
        };
        let adds = wanted && self.lasts <= config.rise_max && travel_rate < config.risen_rate >> 1;
        self.outputs = if state.lets_go() && (drove || self.outputs == LET_GO) {
            LET_GO
        } else if adds {
            BRAKE_AND_LIFT
        } else {
            BRAKE
        };
        adds
    }

    /// Whether somebody is being lifted.
    #[must_use]
    pub const fn lasts(&self) -> bool {
        self.lasts != 0
    }

    /// Outputs of a drive frame that drives nothing: the brake, or windings that are open for the moment, and whether the height
    /// adjuster adds preload.
    #[must_use]
    pub const fn outputs(&self) -> u8 {
        self.outputs as u8
    }
}
