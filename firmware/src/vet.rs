//! Stage 2: are the readings believable?
//!
//! Range, jump, stuck and sequence checks on integers. A reading that fails is
//! replaced by the last good one; a failure that lasts becomes a [`Fault`].

use crate::calibrate::Readings;
use crate::check::{BuildError, positive, require};
use crate::frame::Marks;
use shared_math::{Debounce, Strikes, StrikesConfig, q24_from_f32};

/// What can be wrong; one bit each in [`Faults`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u16)]
pub enum Fault {
    /// Floor accelerometer out of range, jumping or stuck.
    FloorAccel = 1 << 0,
    /// Seat accelerometer out of range, jumping or stuck.
    SeatAccel = 1 << 1,
    /// Travel sensor out of range or jumping.
    Travel = 1 << 2,
    /// Current sensor out of range, or current far from its command.
    Current = 1 << 3,
    /// Supply voltage outside its band. Clears by itself.
    Supply = 1 << 4,
    /// Coil temperature out of range.
    CoilTemperature = 1 << 5,
    /// Frames repeated or skipped. Clears by itself.
    Sequence = 1 << 6,
    /// Accelerometers and travel disagree.
    CrossCheck = 1 << 7,
    /// A number that is not finite turned up in the law.
    NotFinite = 1 << 8,
    /// Answers came too late, too often. Clears by itself.
    Late = 1 << 9,
    /// The board could not set an output.
    Output = 1 << 10,
}

/// A set of faults.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Faults(pub u16);

impl Faults {
    /// Faults after which the seat may drive again when they are gone.
    pub const PASSING: Self =
        Self(Fault::Supply as u16 | Fault::Sequence as u16 | Fault::Late as u16);

    /// Adds `fault` when `seen`.
    pub const fn set(&mut self, fault: Fault, seen: bool) {
        if seen {
            self.0 |= fault as u16;
        }
    }

    /// Whether `fault` is in the set.
    #[must_use]
    pub const fn has(self, fault: Fault) -> bool {
        self.0 & fault as u16 != 0
    }

    /// Whether any fault is in the set.
    #[must_use]
    pub const fn any(self) -> bool {
        self.0 != 0
    }

    /// The faults that need a deliberate reset.
    #[must_use]
    pub const fn latching(self) -> Self {
        Self(self.0 & !Self::PASSING.0)
    }
}

/// Plausibility limits.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
pub struct Parameters {
    /// Largest believable acceleration, m/s^2, below 128.
    pub accel_max_mps2: f32,
    /// Largest believable change of acceleration in one step, m/s^2.
    pub accel_jump_mps2: f32,
    /// Largest believable travel magnitude, m.
    pub travel_max_m: f32,
    /// Largest believable change of travel in one step, m.
    pub travel_jump_m: f32,
    /// Largest believable current magnitude, A, below 128.
    pub current_max_a: f32,
    /// Lowest supply voltage at which the seat may drive, V.
    pub supply_min_v: f32,
    /// Highest supply voltage at which the seat may drive, V, below 128.
    pub supply_max_v: f32,
    /// Lowest believable coil temperature, hundreds of degrees Celsius.
    pub coil_min_hc: f32,
    /// Highest believable coil temperature, hundreds of degrees Celsius.
    pub coil_max_hc: f32,
    /// Equal accelerometer readings in a row that mean a stuck sensor, steps.
    pub stuck_steps: u16,
    /// Bad readings in a row that make a fault, steps.
    pub fault_steps: u16,
    /// Repeated or skipped frames that make a fault, as [`shared_math::Strikes`] counts them.
    pub sequence_strikes: u16,
    /// Answers after the end of their period that make a fault, counted likewise.
    pub late_strikes: u16,
    /// Time in which a strike is forgotten, steps.
    pub forgive_steps: u16,
}

/// Immutable limits, in counts of 2^-24.
#[derive(Clone, Copy, Debug)]
pub struct Config {
    accel: Limit,
    travel: Limit,
    current: Limit,
    supply: (i32, i32),
    coil: (i32, i32),
    stuck_steps: u16,
    fault_steps: u16,
    sequence: StrikesConfig,
    late: StrikesConfig,
}

#[derive(Clone, Copy, Debug)]
struct Limit {
    max: i32,
    jump: i32,
}

impl Parameters {
    /// Checks the limits and makes the configuration.
    ///
    /// # Errors
    /// Names the first field that cannot be used.
    pub fn build(&self) -> Result<Config, BuildError> {
        let limit = |max_field, max: f32, jump_field, jump: f32| -> Result<Limit, BuildError> {
            require(
                max.is_finite() && max > 0.0 && max < 128.0,
                max_field,
                max,
                "above zero and below 128",
            )?;
            positive(jump_field, jump)?;
            Ok(Limit {
                max: q24_from_f32(max),
                jump: q24_from_f32(jump),
            })
        };
        let band = |lo_field, lo: f32, hi_field, hi: f32| -> Result<(i32, i32), BuildError> {
            let held = |x: f32| x.is_finite() && x.abs() < 128.0;
            require(held(lo), lo_field, lo, "a finite value within +-128")?;
            require(
                held(hi) && hi > lo,
                hi_field,
                hi,
                "above the lower limit and below 128",
            )?;
            Ok((q24_from_f32(lo), q24_from_f32(hi)))
        };
        require(
            self.supply_min_v >= 0.0,
            "vet.supply_min_v",
            self.supply_min_v,
            "a finite value of zero or more",
        )?;
        let steps = |field, n: u16| require(n > 0, field, f32::from(n), "at least one step");
        steps("vet.stuck_steps", self.stuck_steps)?;
        steps("vet.fault_steps", self.fault_steps)?;
        steps("vet.sequence_strikes", self.sequence_strikes)?;
        steps("vet.late_strikes", self.late_strikes)?;
        steps("vet.forgive_steps", self.forgive_steps)?;
        Ok(Config {
            accel: limit(
                "vet.accel_max_mps2",
                self.accel_max_mps2,
                "vet.accel_jump_mps2",
                self.accel_jump_mps2,
            )?,
            travel: limit(
                "vet.travel_max_m",
                self.travel_max_m,
                "vet.travel_jump_m",
                self.travel_jump_m,
            )?,
            current: limit(
                "vet.current_max_a",
                self.current_max_a,
                "vet.current_max_a",
                self.current_max_a,
            )?,
            supply: band(
                "vet.supply_min_v",
                self.supply_min_v,
                "vet.supply_max_v",
                self.supply_max_v,
            )?,
            coil: band(
                "vet.coil_min_hc",
                self.coil_min_hc,
                "vet.coil_max_hc",
                self.coil_max_hc,
            )?,
            stuck_steps: self.stuck_steps,
            fault_steps: self.fault_steps,
            sequence: StrikesConfig::new(self.sequence_strikes, self.forgive_steps),
            late: StrikesConfig::new(self.late_strikes, self.forgive_steps),
        })
    }
}

/// Stuck steps of a channel that may rest for ever.
const NEVER: u16 = u16::MAX;

/// One watched channel.
#[derive(Clone, Copy, Debug, Default)]
struct Watch {
    good: i32,
    last: i32,
    same: u16,
    bad: Debounce,
}

impl Watch {
    /// Returns the value to use and whether a fault stands.
    fn step(
        &mut self,
        value: i32,
        believable: bool,
        stuck_steps: u16,
        fault_steps: u16,
    ) -> (i32, bool) {
        self.same = if value == self.last {
            self.same.saturating_add(1)
        } else {
            0
        };
        self.last = value;
        let stuck = stuck_steps != NEVER && self.same >= stuck_steps;
        let ok = believable && !stuck;
        self.good = if ok { value } else { self.good };
        (self.good, self.bad.step(!ok, fault_steps))
    }
}

/// What the checks remember.
#[derive(Clone, Copy, Debug, Default)]
pub struct State {
    floor_accel: Watch,
    seat_accel: Watch,
    travel: Watch,
    current: Watch,
    coil: Watch,
    supply: Debounce,
    output: Debounce,
    sequence: Strikes,
    late: Strikes,
    expected_sequence: u16,
    started: bool,
}

/// Readings to use, and what is wrong with the raw ones.
#[derive(Clone, Copy, Debug, Default)]
pub struct Output {
    /// Readings, bad ones replaced by the last good ones.
    pub readings: Readings,
    /// Faults that stand.
    pub faults: Faults,
}

impl State {
    /// One step on the calibrated readings of the frame numbered `sequence`, with the
    /// board's marks. The current is judged only while it is `driven`: shorted windings may carry any.
    pub fn step(
        &mut self,
        config: &Config,
        readings: &Readings,
        sequence: u16,
        marks: Marks,
        driven: bool,
    ) -> Output {
        let near = |value: i32, last: i32, limit: &Limit| {
            value.saturating_abs() <= limit.max
                && value.saturating_sub(last).saturating_abs() <= limit.jump
        };
        let inside = |value: i32, band: (i32, i32)| value >= band.0 && value <= band.1;
        let first = !self.started;
        self.started = true;
        let mut faults = Faults::default();

        let in_order = first || sequence == self.expected_sequence;
        self.expected_sequence = sequence.wrapping_add(1);
        faults.set(
            Fault::Sequence,
            self.sequence.step(&config.sequence, !in_order),
        );
        faults.set(
            Fault::Late,
            self.late.step(&config.late, marks.any_of(Marks::LATE)),
        );
        faults.set(
            Fault::Output,
            self.output
                .step(marks.any_of(Marks::OUTPUT), config.fault_steps),
        );
        faults.set(
            Fault::Supply,
            self.supply.step(
                marks.any_of(Marks::SUPPLY) || !inside(readings.supply, config.supply),
                config.fault_steps,
            ),
        );

        let mut check = |watch: &mut Watch,
                         value: i32,
                         limit: &Limit,
                         stuck: u16,
                         (fault, mark): (Fault, u8)| {
            let believable =
                !marks.any_of(mark) && near(value, if first { value } else { watch.last }, limit);
            let (used, bad) = watch.step(value, believable, stuck, config.fault_steps);
            faults.set(fault, bad);
            used
        };
        let floor_accel = check(
            &mut self.floor_accel,
            readings.floor_accel,
            &config.accel,
            config.stuck_steps,
            (Fault::FloorAccel, Marks::FLOOR_ACCEL),
        );
        let seat_accel = check(
            &mut self.seat_accel,
            readings.seat_accel,
            &config.accel,
            config.stuck_steps,
            (Fault::SeatAccel, Marks::SEAT_ACCEL),
        );
        let travel = check(
            &mut self.travel,
            readings.travel,
            &config.travel,
            NEVER,
            (Fault::Travel, Marks::TRAVEL),
        );
        let any = Limit {
            max: i32::MAX,
            jump: i32::MAX,
        };
        let current_limit = if driven { &config.current } else { &any };
        let current = check(
            &mut self.current,
            readings.current,
            current_limit,
            NEVER,
            (Fault::Current, Marks::CURRENT),
        );
        let (coil_temperature, hot) = self.coil.step(
            readings.coil_temperature,
            !marks.any_of(Marks::COIL_TEMPERATURE)
                && inside(readings.coil_temperature, config.coil),
            NEVER,
            config.fault_steps,
        );
        faults.set(Fault::CoilTemperature, hot);
        Output {
            readings: Readings {
                floor_accel,
                seat_accel,
                travel,
                current,
                supply: readings.supply,
                coil_temperature,
            },
            faults,
        }
    }
}
