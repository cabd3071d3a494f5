//! What can break.

use crate::sensors::Quantity;

/// One way in which something fails.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// One sensor.
    Sensor(Quantity, SensorFault),
    /// Two sensors' wires swapped.
    Swapped(Quantity, Quantity),
    /// Motor, output stage, support.
    Actuator(ActuatorFault),
    /// The supply of the drive.
    Supply(SupplyFault),
    /// The controller's time.
    Time(TimeFault),
    /// One bit of the law's memory.
    MemoryFlip,
    /// Who sits on the seat, what lies under it, the switches.
    Operator(OperatorFault),
}

/// Where a fault sits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Class {
    /// Between a quantity and its counts.
    Sensor,
    /// Between an answer and the force on the seat.
    Actuator,
    /// Between the machine's network and the bus.
    Supply,
    /// When the law is called, and with which frame.
    Time,
    /// The law's own state and constants.
    Memory,
    /// What people do.
    Operator,
}

impl Class {
    /// All classes.
    pub const ALL: [Self; 6] = [
        Self::Sensor,
        Self::Actuator,
        Self::Supply,
        Self::Time,
        Self::Memory,
        Self::Operator,
    ];

    /// Name of the class.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Sensor => "sensor",
            Self::Actuator => "actuator",
            Self::Supply => "supply",
            Self::Time => "time",
            Self::Memory => "memory",
            Self::Operator => "operator",
        }
    }
}

/// Ways in which a sensor fails.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SensorFault {
    /// Reads 0 counts.
    Dead,
    /// Stays at the last counts.
    Stuck,
    /// Fresh only every so often.
    Stale,
    /// Off by a constant.
    Bias,
    /// Off by ever more.
    Drift,
    /// A wrong scale.
    Gain,
    /// The other sign.
    Sign,
    /// Much noise.
    Noise,
    /// Single wrong samples.
    Spikes,
    /// A range that is too small.
    Saturated,
    /// Low bits lost.
    Coarse,
    /// Late.
    Delayed,
}

impl SensorFault {
    /// All of them.
    pub const ALL: [Self; 12] = [
        Self::Dead,
        Self::Stuck,
        Self::Stale,
        Self::Bias,
        Self::Drift,
        Self::Gain,
        Self::Sign,
        Self::Noise,
        Self::Spikes,
        Self::Saturated,
        Self::Coarse,
        Self::Delayed,
    ];
}

/// Ways in which motor, output stage and support fail.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ActuatorFault {
    /// Current without force or back-EMF.
    NoForce,
    /// A changed force constant.
    Weak,
    /// A current of its own.
    CurrentStuck,
    /// Leads swapped.
    Reversed,
    /// Current of one sign only.
    OneSided,
    /// A slow current loop.
    LoopSlow,
    /// Terminals joined inside the motor.
    WindingShort,
    /// A broken lead.
    WindingOpen,
    /// A hot coil.
    Hot,
    /// More friction.
    Jammed,
    /// A broken support spring.
    SpringBroken,
    /// The output stage does not let go.
    EnableStuck,
    /// The windings are not shorted when told.
    ShortMissing,
}

/// Ways in which the supply fails.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SupplyFault {
    /// Low.
    Sag,
    /// High.
    Spike,
    /// Gone.
    Loss,
    /// The brake chopper stays shut.
    ChopperShut,
}

/// Ways in which time fails.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TimeFault {
    /// Answers after the end of their period.
    Late,
    /// Periods without a step.
    Skipped,
    /// Sampling at uneven times.
    Jitter,
    /// Frame numbers jump.
    SequenceJump,
    /// Old frames between new ones.
    FramesRepeated,
    /// The same frame for ever.
    ClockFrozen,
    /// A restart of the controller.
    Watchdog,
}

/// What people do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OperatorFault {
    /// Off the seat and on again.
    Leaves,
    /// Another occupant.
    Swapped,
    /// Up and down on the seat.
    Bounces,
    /// A hard stop below mid travel.
    Wedged,
    /// The stop circuit opens.
    StopOpened,
    /// The arming switch goes off.
    Disarmed,
    /// The occupant switch does not see who sits there.
    SwitchOpen,
}

impl Kind {
    /// Where it sits.
    #[must_use]
    pub const fn class(self) -> Class {
        match self {
            Self::Sensor(..) | Self::Swapped(..) => Class::Sensor,
            Self::Actuator(_) => Class::Actuator,
            Self::Supply(_) => Class::Supply,
            Self::Time(_) => Class::Time,
            Self::MemoryFlip => Class::Memory,
            Self::Operator(_) => Class::Operator,
        }
    }

    /// Whether the law's answers follow from the frames alone, so that another core can answer them and a
    /// recording of them can be replayed.
    #[must_use]
    pub const fn leaves_the_law_alone(self) -> bool {
        !matches!(
            self,
            Self::MemoryFlip | Self::Time(TimeFault::Skipped | TimeFault::Watchdog)
        )
    }
}
