//! Which mode the seat is in, and what that mode may do.
//!
//! ```text
//!            arm          occupant, afloat       up            hot
//!   Off ----------> Passive ----------> Rise ----------> Active <------> Derated
//!    ^   disarm        ^  ^               |                |                |
//!    +-----------------+  +---- Settle <--+-- occupant left, disarmed ------+
//!                      |
//!   any driving mode --+--> Damped    open stop circuit; after a passing fault by way of Settle or Release; back
//!                      |              to Passive when it has been gone a while
//!                      +--> Settle    supply out of its band, late answers, travel lost: the occupant is set down
//!                      +--> Limp      one accelerometer lost: rides on gently by the model; current sensor: as before
//!                      +--> Release   other sensor faults, passing ones, a wrong force: the current is led to zero first
//!                      +--> Fault     any other fault; left only by disarming
//! ```
//!
//! Beyond stands beside Active like Derated: the seat isolates, but what the travel was proved
//! for does not hold: the floor is rougher, the occupant heavier, or the seat has gone further
//! astray from what was foreseen.
//!
//! Every state of it is explored under every input; `docs/modes.md` has the diagram, the exact
//! guards and what is proved, made from this code. Only Rise, Active, Derated, Beyond, Limp, Settle and
//! Release drive. All others brake with the unpowered motor ([`crate::brake`]): the safe state; Fault lets a motor that was
//! driven go first. Authority rises and falls smoothly, so entering and leaving are bumpless; only a fault takes it away at once.
//!
//! A controller that (re)starts with the arming switch on stays Off until the switch has been off:
//! power that comes back must not start a motion (ISO 14118, prevention of unexpected start-up, from memory).

use crate::check::{BuildError, Range, hold, hold_from, range, rules};
use crate::frame::Switches;
use crate::parameters::{Timing, nearest_whole};
use crate::vet::{Fault, Faults};
use shared_math::{Debounce, Mirrored, plain, q24_from_f32};

mod counts;
mod latch;
mod lift;
pub use counts::{Counts, Thresholds};
pub use latch::Latch;
pub use lift::Lift;

/// Modes of the seat.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[repr(u8)]
pub enum Mode {
    /// Not armed: drive disabled, braking.
    #[default]
    Off = 0,
    /// Armed: drive disabled, braking, the support alone carries. It lifts who rests on the lower stop.
    Passive = 1,
    /// An occupant is being lifted to mid travel.
    Rise = 2,
    /// Isolating.
    Active = 3,
    /// Isolating with less current, for heat.
    Derated = 4,
    /// Handing over to the support: authority fades.
    Settle = 5,
    /// Safe state after a passing fault: drive disabled, braking.
    Damped = 6,
    /// Safe state after a latched fault: drive disabled, braking.
    Fault = 7,
    /// Isolating, while an assumption of the proof of the travel does not hold.
    Beyond = 8,
    /// One accelerometer or the current sensor lost: the seat's own motion is calmed and its travel kept, nothing
    /// more; a latched fault stands.
    Limp = 9,
    /// After a fault that leaves the motor trusted: the current is led to zero, then [`Mode::Damped`] or
    /// [`Mode::Fault`].
    Release = 10,
}

impl Mode {
    /// Number of the mode in frames and records.
    #[must_use]
    pub const fn code(self) -> u8 {
        self as u8
    }

    /// Name of the mode.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Off => "off",
            Self::Passive => "passive",
            Self::Rise => "rise",
            Self::Active => "active",
            Self::Derated => "derated",
            Self::Settle => "settle",
            Self::Damped => "damped",
            Self::Fault => "fault",
            Self::Beyond => "beyond",
            Self::Limp => "limp",
            Self::Release => "release",
        }
    }

    /// The mode with the given number.
    #[must_use]
    pub const fn from_code(code: u8) -> Option<Self> {
        Some(match code {
            0 => Self::Off,
            1 => Self::Passive,
            2 => Self::Rise,
            3 => Self::Active,
            4 => Self::Derated,
            5 => Self::Settle,
            6 => Self::Damped,
            7 => Self::Fault,
            8 => Self::Beyond,
            9 => Self::Limp,
            10 => Self::Release,
            _ => return None,
        })
    }

    /// Whether current may be driven.
    #[must_use]
    pub const fn drives(self) -> bool {
        matches!(
            self,
            Self::Rise
                | Self::Active
                | Self::Derated
                | Self::Beyond
                | Self::Limp
                | Self::Settle
                | Self::Release
        )
    }

    /// Whether the seat is to be held still, looking ahead.
    #[must_use]
    pub const fn isolates(self) -> bool {
        matches!(self, Self::Active | Self::Derated | Self::Beyond)
    }
}

/// Times and thresholds of the modes.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
#[repr(C)]
pub struct Parameters {
    /// A switch must rest this long before it counts, s.
    pub switch_s: f32,
    /// Rise ends when travel is within this of mid travel, m, ...
    pub risen_m: f32,
    /// ... and the travel rate within this of zero, m/s. The height adjuster waits while it lifts a
    /// seat off its stop faster than half of it.
    pub risen_mps: f32,
    /// Rise ends after this time at the latest, s, and so does the lift off the stop before it.
    pub rise_max_s: f32,
    /// From rising to full isolation, s.
    pub lead_in_s: f32,
    /// From full authority to none when leaving, s.
    pub lead_out_s: f32,
    /// Longest time in Settle, in which the height adjuster takes over the load, s; without travel a quarter of it.
    pub settle_max_s: f32,
    /// Settle hands over when the height adjuster has rested this long, s: longer than the
    /// smoothing of the static force.
    pub level_rest_s: f32,
    /// Static actuator force above which the height adjuster is moved, N; it goes on until three tenths are left, and in Rise
    /// begins there.
    pub level_force_n: f32,
    /// Travel below mid travel above which the seat is afloat, so that the motor may be driven, m.
    pub afloat_m: f32,
    /// Heat share below which the mode is Derated, 0 to 1.
    pub derated_below: f32,
    /// Heat share above which the mode is Active again, 0 to 1.
    pub active_above: f32,
    /// A passing fault must have been gone this long, s; Derated lasts at least as long, and
    /// Beyond until all has held for as long.
    pub clear_s: f32,
    /// In Release the current is led to zero for this long, s.
    pub release_s: f32,
    /// Floor acceleration, as measured, up to which the travel was proved, m/s^2, below 128.
    pub proved_floor_mps2: f32,
    /// How far the seat may go astray from what was foreseen ([`crate::arrest::Output::astray`]), m/s.
    pub proved_astray_mps: f32,
    /// Supported mass, seat included, up to which the travel was proved, kg.
    pub proved_mass_kg: f32,
}

plain!([] Parameters {
    switch_s,
    risen_m,
    risen_mps,
    rise_max_s,
    lead_in_s,
    lead_out_s,
    settle_max_s,
    level_rest_s,
    level_force_n,
    afloat_m,
    derated_below,
    active_above,
    clear_s,
    release_s,
    proved_floor_mps2,
    proved_astray_mps,
    proved_mass_kg
});

/// Immutable constants: steps and counts of 2^-24.
#[derive(Clone, Copy, Debug)]
#[repr(C)]
pub struct Config {
    switch_steps: u32,
    risen: i32,
    risen_rate: i32,
    rise_max: u32,
    lead_in_step: i32,
    lead_out_step: i32,
    settle_max: u32,
    level_rest: u32,
    level_on: u32,
    level_off: u32,
    afloat: i32,
    derated_below: i32,
    active_above: i32,
    clear_steps: u32,
    release: u32,
    proved_floor: u32,
    proved_astray: u32,
    proved_mass: i32,
}

plain!([] Config {
    switch_steps, risen, risen_rate, rise_max, lead_in_step, lead_out_step, settle_max, level_rest,
    level_on, level_off, afloat, derated_below, active_above, clear_steps, release, proved_floor,
    proved_astray, proved_mass
});

/// Bits beside the mode: the arming switch counts as on.
const ARMED: u32 = 1 << 0;
/// The occupant switch counts as on.
const SEATED: u32 = 1 << 1;
/// The arming switch has been off since the reset.
const ARM_WAS_OFF: u32 = 1 << 2;

/// Times that are at least one step.
const A_MINUTE: Range = range(0.0, 60.0, "one step to 60 s");
const TEN_MINUTES: Range = range(0.0, 600.0, "one step to 600 s");

/// Steps of [`Mode::Fault`] in which a motor that was driven until then is let go, before it brakes: a brake that comes with the
/// loss of the force changes the seat's acceleration by both at once.
const LET_GO_STEPS: u32 = 3;

/// Full authority, as a count of 2^-24.
const FULL: i32 = 1 << 24;

impl Parameters {
    #[inline(never)]
    pub(crate) fn check(&self, timing: &Timing) -> Result<(), BuildError> {
        hold(
            self,
            rules!["supervise":
                risen_m: range(0.0005, 1.0, "0.0005 to 1 m"),
                risen_mps: range(0.001, 10.0, "0.001 to 10 m/s"),
                level_force_n: range(1.0, 10_000.0, "1 to 10000 N"),
                afloat_m: range(0.0005, 1.0, "0.0005 to 1 m"),
                derated_below: range(0.0, 1.0, "0 to 1"),
                active_above above derated_below: range(0.0, 1.0, "above derated_below and at most 1"),
                proved_floor_mps2: range(0.1, 127.0, "0.1 to 127 m/s2"),
                proved_astray_mps: range(0.001, 10.0, "0.001 to 10 m/s"),
                proved_mass_kg: range(1.0, 1000.0, "1 to 1000 kg"),
            ],
        )?;
        hold_from(
            self,
            timing.step_s,
            rules!["supervise":
                switch_s: range(0.0, 10.0, "one step to 10 s"),
                rise_max_s: A_MINUTE,
                lead_in_s: A_MINUTE,
                lead_out_s: A_MINUTE,
                settle_max_s: TEN_MINUTES,
                level_rest_s: A_MINUTE,
                clear_s: A_MINUTE,
                release_s: range(0.0, 1.0, "one step to 1 s"),
            ],
        )
    }

    /// Checks the parameters and makes the configuration.
    ///
    /// # Errors
    /// Names the first field that cannot be used.
    pub fn build(&self, timing: &Timing) -> Result<Config, BuildError> {
        self.check(timing)?;
        Ok(self.config(timing))
    }

    /// The configuration of parameters that have been checked.
    #[inline(never)]
    pub(crate) fn config(&self, timing: &Timing) -> Config {
        let steps = |s: f32| nearest_whole(s / timing.step_s);
        let short = |n: u32| n.min(u16::MAX.into());
        let ramp = |n: u32| FULL / i32::try_from(n.max(1)).unwrap_or(FULL);
        Config {
            switch_steps: short(steps(self.switch_s)),
            risen: q24_from_f32(self.risen_m),
            risen_rate: q24_from_f32(self.risen_mps),
            rise_max: steps(self.rise_max_s),
            lead_in_step: ramp(steps(self.lead_in_s)),
            lead_out_step: ramp(steps(self.lead_out_s)),
            settle_max: steps(self.settle_max_s),
            level_rest: steps(self.level_rest_s),
            level_on: q24_from_f32(self.level_force_n * 1.0e-3).unsigned_abs(),
            level_off: q24_from_f32(self.level_force_n * 0.3e-3).unsigned_abs(),
            afloat: q24_from_f32(self.afloat_m),
            derated_below: q24_from_f32(self.derated_below),
            active_above: q24_from_f32(self.active_above),
            clear_steps: short(steps(self.clear_s)),
            release: steps(self.release_s),
            proved_floor: q24_from_f32(self.proved_floor_mps2).unsigned_abs(),
            proved_astray: q24_from_f32(self.proved_astray_mps).unsigned_abs(),
            proved_mass: q24_from_f32(self.proved_mass_kg * 1.0e-3),
        }
    }
}

impl Config {
    /// Whether the floor's acceleration (count of 2^-24 m/s^2) or the supported mass (count of
    /// 2^-24 t) is beyond what the travel was proved for.
    #[inline(always)]
    #[must_use]
    pub const fn load_beyond(&self, floor_accel: i32, mass: i32) -> bool {
        (floor_accel.unsigned_abs() > self.proved_floor) | (mass > self.proved_mass)
    }

    /// Longest time in Settle until the force fades, steps: without travel a quarter, for nobody sees where the seat is.
    const fn settle_time(&self, faults: Faults) -> u32 {
        if faults.has(Fault::Travel) {
            self.settle_max >> 2
        } else {
            self.settle_max
        }
    }

    /// Whether the seat has gone further astray (count of 2^-24 m/s).
    #[inline(always)]
    #[must_use]
    pub const fn motion_beyond(&self, astray: i32) -> bool {
        astray.unsigned_abs() > self.proved_astray
    }
}

/// What the supervisor takes.
#[derive(Clone, Copy, Debug)]
pub struct Input {
    /// Switch inputs of this frame.
    pub switches: Switches,
    /// Faults that stand.
    pub faults: Faults,
    /// Travel, count of 2^-24 m.
    pub travel: i32,
    /// Travel rate, count of 2^-24 m/s.
    pub travel_rate: i32,
    /// Heat share of the last step, count of 2^-24.
    pub heat_share: i32,
    /// Smoothed static force of the actuator, count of 2^-24 kN; 0 while the occupant is still being weighed.
    pub static_force: i32,
    /// An assumption of the proof does not hold.
    pub beyond: bool,
}

/// What the mode permits.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Permit {
    /// The mode.
    pub mode: Mode,
    /// Whether it drives.
    pub drives: bool,
    /// Share of the isolation in the wanted acceleration, count of 2^-24.
    pub isolation: i32,
    /// Share of the force, count of 2^-24.
    pub force: i32,
    /// Height adjuster: +1, 0 or -1.
    pub level: i8,
    /// Somebody is seated.
    pub seated: bool,
    /// The occupant has just sat down or left.
    pub new_load: bool,
}

/// The state machine.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[repr(C)]
pub struct State {
    /// [`Mode::code`], and above it which of the switches count as on and whether the arming switch has been off since the
    /// reset.
    standing: Mirrored,
    in_mode: u32,
    level_rest: u32,
    isolation: i32,
    force: i32,
    level: i32,
    arm: Debounce,
    occupant: Debounce,
    fault_gone_for: u32,
    proved_for: u32,
}

plain!([] State {
    standing, in_mode, level_rest, isolation, force, level, arm, occupant, fault_gone_for,
    proved_for
});

impl Default for State {
    fn default() -> Self {
        Self {
            standing: Self::mirrored(Mode::Off, 0),
            in_mode: 0,
            level_rest: 0,
            isolation: 0,
            force: 0,
            level: 0,
            arm: Debounce::default(),
            occupant: Debounce::default(),
            fault_gone_for: 0,
            proved_for: 0,
        }
    }
}

impl State {
    #[inline(always)]
    const fn mirrored(mode: Mode, stands: u32) -> Mirrored {
        Mirrored::new(mode.code() as u16 | (stands as u16) << 8)
    }

    /// The bits beside the mode.
    #[inline(always)]
    const fn stands(&self) -> u32 {
        (self.standing.value() as u32) >> 8
    }

    /// Whether somebody counts as seated.
    #[inline(always)]
    const fn seated(&self) -> bool {
        self.stands() & SEATED != 0
    }

    /// The mode now; a code that stands for none is a fault.
    #[inline(always)]
    #[must_use]
    pub const fn mode(&self) -> Mode {
        match Mode::from_code(self.standing.value() as u8) {
            Some(mode) => mode,
            None => Mode::Fault,
        }
    }

    /// Whether memory was struck where it decides whether the seat may be driven. Then it is
    /// set to what drives nothing and lets no fault go: armed, nobody seated, [`Mode::Fault`]. Comes before
    /// [`Latch::hold`], for which this is [`crate::Fault::Memory`].
    #[inline(always)]
    pub fn struck(&mut self) -> bool {
        let sound = self.standing.changed() == 0;
        if !sound {
            self.standing = Self::mirrored(Mode::Fault, ARMED | ARM_WAS_OFF);
        }
        !sound
    }

    /// Whether [`Mode::Fault`] has only just begun, so that a motor that was driven until then is let go.
    #[must_use]
    const fn lets_go(&self) -> bool {
        matches!(self.mode(), Mode::Fault) && self.in_mode < LET_GO_STEPS
    }

    /// Whether the arming switch counts as on.
    #[must_use]
    pub const fn armed(&self) -> bool {
        self.stands() & (ARMED | ARM_WAS_OFF) == ARMED | ARM_WAS_OFF
    }

    /// One step.
    pub fn step(&mut self, config: &Config, input: &Input) -> Permit {
        let arm = input.switches.has(Switches::ARM);
        let stood = self.stands();
        let was_off = stood & ARM_WAS_OFF | if arm { 0 } else { ARM_WAS_OFF };
        // The time that the switch must rest on begins when it has been off.
        let armed = self
            .arm
            .step(stood & ARMED != 0, arm && was_off != 0, config.switch_steps);
        let was_seated = stood & SEATED != 0;
        let seated = self.occupant.step(
            was_seated,
            input.switches.has(Switches::OCCUPANT),
            config.switch_steps,
        );
        let stands = was_off | if armed { ARMED } else { 0 } | if seated { SEATED } else { 0 };
        let stop_open = !input.switches.has(Switches::STOP_CIRCUIT);
        let disturbed = stop_open || input.faults.any();
        self.fault_gone_for = if disturbed {
            0
        } else {
            self.fault_gone_for.saturating_add(1)
        };
        let gone = self.fault_gone_for >= config.clear_steps;

        self.proved_for = if input.beyond {
            0
        } else {
            self.proved_for.saturating_add(1)
        };

        let mode = self.mode();
        let at_once = if disturbed {
            self.with_fault(mode, config, input.faults, stop_open, armed, seated)
        } else {
            None
        };
        let next = match at_once {
            Some(next) => next,
            None => self.next_mode(mode, config, input, armed, seated, disturbed, gone),
        };
        self.in_mode = if next == mode {
            self.in_mode.saturating_add(1)
        } else {
            0
        };
        self.standing = Self::mirrored(next, stands);
        let drives = next.drives();
        self.move_authority(next, config, drives, input.faults);
        let level = self.move_level(next, config, input.static_force);
        Permit {
            mode: next,
            drives,
            isolation: self.isolation,
            force: self.force,
            level,
            seated,
            new_load: seated != was_seated,
        }
    }

    #[allow(clippy::too_many_arguments, reason = "what the guards are made of")]
    fn next_mode(
        &self,
        mode: Mode,
        config: &Config,
        input: &Input,
        armed: bool,
        seated: bool,
        disturbed: bool,
        gone: bool,
    ) -> Mode {
        match mode {
            Mode::Off => {
                if armed && !disturbed {
                    Mode::Passive
                } else {
                    Mode::Off
                }
            }
            Mode::Passive => {
                if !armed {
                    Mode::Off
                } else if seated && !disturbed && input.travel > -config.afloat {
                    Mode::Rise
                } else {
                    Mode::Passive
                }
            }
            Mode::Rise => {
                let risen = input.travel.saturating_abs() <= config.risen
                    && input.travel_rate.saturating_abs() <= config.risen_rate;
                if !armed || !seated {
                    Mode::Settle
                } else if risen || self.in_mode >= config.rise_max {
                    Mode::Active
                } else {
                    Mode::Rise
                }
            }
            // Without their fault there is no way to be here.
            Mode::Limp => Mode::Fault,
            Mode::Release => self.release(mode, config, Mode::Damped),
            Mode::Active | Mode::Derated | Mode::Beyond if !armed || !seated => Mode::Settle,
            Mode::Active | Mode::Beyond if input.heat_share < config.derated_below => Mode::Derated,
            Mode::Active => {
                if input.beyond {
                    Mode::Beyond
                } else {
                    Mode::Active
                }
            }
            Mode::Beyond => {
                if self.proved_for >= config.clear_steps {
                    Mode::Active
                } else {
                    Mode::Beyond
                }
            }
            Mode::Derated => {
                // Noise of the coil's reading is wider than the hysteresis.
                if input.heat_share > config.active_above && self.in_mode >= config.clear_steps {
                    Mode::Active
                } else {
                    Mode::Derated
                }
            }
            Mode::Settle => {
                // After a fault that it bears, only when that has been gone a while.
                if armed && seated && gone {
                    Mode::Active
                } else if self.force != 0 {
                    Mode::Settle
                } else if !armed {
                    Mode::Off
                } else if seated {
                    Mode::Damped
                } else {
                    Mode::Passive
                }
            }
            Mode::Damped => {
                if gone && !disturbed {
                    Mode::Passive
                } else {
                    Mode::Damped
                }
            }
            Mode::Fault => {
                if armed {
                    Mode::Fault
                } else {
                    Mode::Off
                }
            }
        }
    }

    /// The mode that a fault or an open stop circuit leads to at once, before all else; `None` where they hold
    /// nothing but the next start.
    #[inline(always)]
    fn with_fault(
        &self,
        mode: Mode,
        config: &Config,
        faults: Faults,
        stop_open: bool,
        armed: bool,
        seated: bool,
    ) -> Option<Mode> {
        let latched = faults.latching();
        let resetting = mode == Mode::Fault && !armed;
        let passing = faults.passing().any();
        if latched.any() && mode != Mode::Off && !resetting {
            let must_stop = stop_open || passing;
            Some(self.with_latched(mode, config, latched, must_stop, armed && seated))
        } else if !mode.drives() {
            None
        } else if stop_open {
            Some(Mode::Damped)
        } else if passing {
            Some(self.with_passing(mode, config, faults))
        } else {
            None
        }
    }

    /// The next mode of one that drives with passing faults present, nothing else.
    fn with_passing(&self, mode: Mode, config: &Config, faults: Faults) -> Mode {
        match mode {
            Mode::Release => self.release(mode, config, Mode::Damped),
            _ if !faults.within(Faults::BEARABLE) => Mode::Release,
            Mode::Settle if self.force == 0 => Mode::Damped,
            _ => Mode::Settle,
        }
    }

    /// The next mode with a latching fault present: nothing drives on but what can do without the
    /// sensor that is lost, or leads its current to zero.
    fn with_latched(
        &self,
        mode: Mode,
        config: &Config,
        latched: Faults,
        must_stop: bool,
        wanted: bool,
    ) -> Mode {
        let one_lost = latched.within(Faults::DISPENSABLE) && latched.0.is_power_of_two();
        // The accelerometers tell for a while where the seat is.
        let travel_lost = latched.0 == Fault::Travel as u16;
        if !mode.drives() || must_stop || !(one_lost || latched.within(Faults::RELEASED)) {
            return Mode::Fault;
        }
        match mode {
            Mode::Release => self.release(mode, config, Mode::Fault),
            _ if !(one_lost || travel_lost) => Mode::Release,
            _ if wanted && one_lost => Mode::Limp,
            Mode::Settle if self.force == 0 => Mode::Fault,
            _ => Mode::Settle,
        }
    }

    /// Release, and `then` when the current has been led to zero.
    const fn release(&self, mode: Mode, config: &Config, then: Mode) -> Mode {
        if matches!(mode, Mode::Release) && self.in_mode >= config.release {
            then
        } else {
            Mode::Release
        }
    }

    fn move_authority(&mut self, mode: Mode, config: &Config, drives: bool, faults: Faults) {
        let toward = |x: i32, up: bool, step_up: i32, step_down: i32| {
            // A step whose sign was struck must not lead the other way.
            if up {
                x.saturating_add(step_up & i32::MAX)
            } else {
                x.saturating_sub(step_down & i32::MAX)
            }
            .clamp(0, FULL)
        };
        if !drives {
            (self.isolation, self.force) = (0, 0);
            self.level_rest = 0;
            return;
        }
        if mode == Mode::Release {
            return;
        }
        let isolating = mode.isolates();
        let limping = mode == Mode::Limp;
        let down = if !limping {
            config.lead_out_step
        } else if faults.meets(Faults::ACCELEROMETERS) {
            // What looks ahead relies on what may be wrong by now.
            FULL
        } else {
            // What is lost is no part of the law.
            0
        };
        self.isolation = toward(self.isolation, isolating, config.lead_in_step, down);
        // In Settle the force fades once the adjuster has taken over the load and rested for
        // as long as its force takes to show, or when time is up.
        self.level_rest = if mode == Mode::Settle && self.level == 0 {
            self.level_rest.saturating_add(1)
        } else {
            0
        };
        let hand_over = self.level_rest >= config.level_rest
            || mode == Mode::Settle && self.in_mode >= config.settle_time(faults);
        // A seat that falls under its new load is caught at once: with a ramp it falls on its stop.
        self.force = if mode == Mode::Rise && self.force == 0 {
            FULL
        } else {
            toward(
                self.force,
                !hand_over,
                config.lead_out_step,
                config.lead_out_step,
            )
        };
    }

    #[inline(always)]
    fn move_level(&mut self, mode: Mode, config: &Config, force: i32) -> i8 {
        let running = self.level != 0;
        let most = match mode {
            // Who has just been weighed is levelled as far as it goes.
            Mode::Rise => config.level_off,
            Mode::Active | Mode::Derated | Mode::Beyond | Mode::Settle => {
                if running {
                    config.level_off
                } else {
                    config.level_on
                }
            }
            // With a sensor lost nobody knows what the motor carries.
            _ => u32::MAX,
        };
        let level = if force.unsigned_abs() > most {
            if force > 0 { 1 } else { -1 }
        } else {
            0
        };
        self.level = level.into();
        level
    }
}
