//! Stage 2: are the readings believable?
//!
//! Range, jump, stuck and sequence checks on integers. A reading that fails is
//! replaced by the last good one; a failure that lasts becomes a [`Fault`].

use crate::calibrate::{Readings, Slow};
use crate::check::{ABOVE_ZERO, BuildError, POSITIVE, Range, below, hold, range, rules, whole};
use crate::frame::Marks;
use shared_math::{
    DebounceBits, DebounceBitsConfig, Flag, Halves, Strikes, StrikesConfig, Turn, plain,
    q24_from_f32,
};

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
    /// Current sensor out of range, or current far from all of its last commands.
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
    /// The controller's own memory is not as it was left, and could not be put right.
    Memory = 1 << 11,
    /// The motor does not give the force that it was asked for.
    Force = 1 << 12,
    /// The coil is so hot that no current is left. Clears by itself.
    Hot = 1 << 13,
}

impl Fault {
    /// All faults, in the order of their bits.
    pub const ALL: [Self; 14] = [
        Self::FloorAccel,
        Self::SeatAccel,
        Self::Travel,
        Self::Current,
        Self::Supply,
        Self::CoilTemperature,
        Self::Sequence,
        Self::CrossCheck,
        Self::NotFinite,
        Self::Late,
        Self::Output,
        Self::Memory,
        Self::Force,
        Self::Hot,
    ];
}

/// A set of faults.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct Faults(pub u16);

impl Faults {
    /// Faults after which the seat may drive again when they are gone.
    pub const PASSING: Self = Self(
        Fault::Supply as u16 | Fault::Sequence as u16 | Fault::Late as u16 | Fault::Hot as u16,
    );

    /// Passing faults under which the law can go on for as long as it takes to set the occupant down: the current shows
    /// whether the supply is enough, and a late answer is still an answer.
    pub const BEARABLE: Self = Self(Fault::Supply as u16 | Fault::Late as u16);

    /// Faults of one accelerometer: with one of them lost, and only one, the seat is held on by the model.
    pub const ACCELEROMETERS: Self = Self(Fault::FloorAccel as u16 | Fault::SeatAccel as u16);

    /// Sensors of the seat's motion.
    pub const MOTION_SENSORS: Self = Self(Self::ACCELEROMETERS.0 | Fault::Travel as u16);

    /// Sensors that the seat can do without, one at a time.
    pub const DISPENSABLE: Self = Self(Self::ACCELEROMETERS.0 | Fault::Current as u16);

    /// Faults after which the current is led to zero softly: the motor is trusted, or gives another force than it should while its
    /// current still follows the commands.
    pub const RELEASED: Self = Self(
        Self::ACCELEROMETERS.0
            | Fault::Travel as u16
            | Fault::CoilTemperature as u16
            | Fault::CrossCheck as u16
            | Fault::Force as u16,
    );

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

    /// The faults in the set, in the order of their bits.
    pub fn iter(self) -> impl Iterator<Item = Fault> {
        Fault::ALL.into_iter().filter(move |fault| self.has(*fault))
    }

    /// Whether any fault is in the set.
    #[must_use]
    pub const fn any(self) -> bool {
        self.0 != 0
    }

    /// The faults after which the seat may drive again when they are gone.
    #[must_use]
    pub const fn passing(self) -> Self {
        Self(self.0 & Self::PASSING.0)
    }

    /// Whether any is among `others`.
    #[must_use]
    pub const fn meets(self, others: Self) -> bool {
        self.0 & others.0 != 0
    }

    /// Whether none is outside of `others`.
    #[must_use]
    pub const fn within(self, others: Self) -> bool {
        self.0 & !others.0 == 0
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
#[repr(C)]
pub struct Parameters {
    /// Largest believable acceleration, m/s^2, below 128.
    pub accel_max_mps2: f32,
    /// Largest believable change of acceleration in one step, m/s^2.
    pub accel_jump_mps2: f32,
    /// Largest believable travel magnitude, m.
    pub travel_max_m: f32,
    /// Largest believable change of travel in one step, m.
    pub travel_jump_m: f32,
    /// Travel beyond which a stop may push the seat harder than its accelerometer can tell: that is not judged
    /// there, m.
    pub stop_travel_m: f32,
    /// Largest believable current magnitude, A, below 128.
    pub current_max_a: f32,
    /// Lowest supply voltage at which the seat may begin to drive and ride on, V.
    pub supply_min_v: f32,
    /// Highest supply voltage at which it may, V, below 128.
    pub supply_max_v: f32,
    /// Lowest believable coil temperature, hundreds of degrees Celsius.
    pub coil_min_hc: f32,
    /// Highest believable coil temperature, hundreds of degrees Celsius.
    pub coil_max_hc: f32,
    /// Coil temperature at which the seat must not drive, hundreds of degrees Celsius ...
    pub coil_hot_hc: f32,
    /// ... and to which it must have cooled before it may again.
    pub coil_cool_hc: f32,
    /// Equal accelerometer readings in a row that make a bad sample, steps, up to 65535 like the counts below. In a rig 0
    /// or absent: worked out from the noise.
    #[cfg_attr(feature = "serde", serde(default))]
    pub stuck_steps: u32,
    /// Bad readings in a row that make a fault, steps, up to 15.
    pub fault_steps: u32,
    /// Repeated or skipped frames that make a fault, as [`shared_math::Strikes`] counts them.
    pub sequence_strikes: u32,
    /// Answers after the end of their period that make a fault, counted likewise.
    pub late_strikes: u32,
    /// Time in which a strike is forgotten, steps.
    pub forgive_steps: u32,
}

plain!([] Parameters {
    accel_max_mps2,
    accel_jump_mps2,
    travel_max_m,
    travel_jump_m,
    stop_travel_m,
    current_max_a,
    supply_min_v,
    supply_max_v,
    coil_min_hc,
    coil_max_hc,
    coil_hot_hc,
    coil_cool_hc,
    stuck_steps,
    fault_steps,
    sequence_strikes,
    late_strikes,
    forgive_steps
});

/// Immutable limits, in counts of 2^-24.
#[derive(Clone, Copy, Debug)]
#[repr(C)]
pub struct Config {
    accel: Limit,
    travel: Limit,
    stop_travel: i32,
    /// Largest current, halved.
    current: i32,
    supply: Band,
    coil: Band,
    hot: i32,
    cool: i32,
    stuck_steps: u32,
    faults: DebounceBitsConfig,
    sequence: StrikesConfig,
    late: StrikesConfig,
}

plain!([] Config {
    accel, travel, stop_travel, current, supply, coil, hot, cool, stuck_steps, faults, sequence, late
});

/// Limits on size and change, halved, so that no difference overflows.
#[derive(Clone, Copy, Debug)]
#[repr(C)]
struct Limit {
    max: i32,
    jump: i32,
}

plain!([] Limit { max, jump });

/// Lowest and highest reading, halved.
#[derive(Clone, Copy, Debug)]
#[repr(C)]
struct Band {
    low: i32,
    high: i32,
}

plain!([] Band { low, high });

/// Largest believable value: within the counts.
const MOST: Range = range(ABOVE_ZERO, below(128.0), "above zero and below 128");
/// Lower end of a band ...
const LOWER_END: Range = range(-below(128.0), below(128.0), "a finite value within +-128");
/// ... and what is expected of the upper one.
const UPPER_END: Range = range(0.0, below(128.0), "above the lower limit and below 128");
/// A number of steps or strikes.
const SHORT: Range = whole(1, u16::MAX, "1 to 65535");

impl Limit {
    /// Negative when the reading or its change is beyond its limit.
    #[inline(always)]
    const fn room(&self, value: i32, last: i32) -> i32 {
        let (value, last) = (value >> 1, last >> 1);
        self.max.wrapping_sub(value.abs()) | self.jump.wrapping_sub((value - last).abs())
    }
}

impl Band {
    /// Negative when the reading is outside.
    #[inline(always)]
    const fn room(&self, value: i32) -> i32 {
        let value = value >> 1;
        value.wrapping_sub(self.low) | self.high.wrapping_sub(value)
    }
}

/// The bit of `fault` when `room` is negative.
#[inline(always)]
pub(crate) const fn when_negative(room: i32, fault: Fault) -> u16 {
    (room >> 31) as u16 & fault as u16
}

impl Parameters {
    #[inline(never)]
    pub(crate) fn check(&self) -> Result<(), BuildError> {
        hold(
            self,
            rules!["vet":
                supply_min_v: range(0.0, f32::INFINITY, "a finite value of zero or more"),
                stuck_steps: SHORT,
                fault_steps: SHORT,
                fault_steps: whole(1, DebounceBitsConfig::MOST, "1 to 7 steps"),
                sequence_strikes: SHORT,
                late_strikes: SHORT,
                forgive_steps: SHORT,
                coil_min_hc: LOWER_END,
                coil_max_hc above coil_min_hc: UPPER_END,
                coil_hot_hc above coil_min_hc to coil_max_hc:
                    range(0.0, 0.0, "above coil_min_hc and at most coil_max_hc"),
                coil_cool_hc from coil_min_hc under coil_hot_hc:
                    range(0.0, 0.0, "from coil_min_hc to below coil_hot_hc"),
                accel_max_mps2: MOST,
                accel_jump_mps2: POSITIVE,
                travel_max_m: MOST,
                travel_jump_m: POSITIVE,
                stop_travel_m: range(0.001, 1.0, "0.001 to 1 m"),
                current_max_a: MOST,
                supply_min_v: LOWER_END,
                supply_max_v above supply_min_v: UPPER_END,
            ],
        )
    }

    /// Checks the limits and makes the configuration.
    ///
    /// # Errors
    /// Names the first field that cannot be used.
    pub fn build(&self) -> Result<Config, BuildError> {
        self.check()?;
        Ok(self.config())
    }

    /// The configuration of parameters that have been checked.
    #[inline(never)]
    pub(crate) fn config(&self) -> Config {
        let half = |x: f32| q24_from_f32(x) >> 1;
        Config {
            accel: Limit {
                max: half(self.accel_max_mps2),
                jump: half(self.accel_jump_mps2),
            },
            travel: Limit {
                max: half(self.travel_max_m),
                jump: half(self.travel_jump_m),
            },
            stop_travel: q24_from_f32(self.stop_travel_m),
            current: half(self.current_max_a),
            supply: Band {
                low: half(self.supply_min_v),
                high: half(self.supply_max_v),
            },
            coil: Band {
                low: half(self.coil_min_hc),
                high: half(self.coil_max_hc),
            },
            hot: q24_from_f32(self.coil_hot_hc),
            cool: q24_from_f32(self.coil_cool_hc),
            stuck_steps: self.stuck_steps,
            faults: DebounceBitsConfig::new(self.fault_steps as u16),
            sequence: StrikesConfig::new(self.sequence_strikes as u16, self.forgive_steps as u16),
            late: StrikesConfig::new(self.late_strikes as u16, self.forgive_steps as u16),
        }
    }
}

/// One watched channel: the newest reading and the newest good one.
#[derive(Clone, Copy, Debug, Default)]
#[repr(C)]
struct Watch {
    good: i32,
    last: i32,
}

plain!([] Watch { good, last });

impl Watch {
    /// Negative when the reading or its change is beyond its limit.
    #[inline(always)]
    const fn near(&mut self, value: i32, limit: &Limit) -> i32 {
        let last = self.last;
        self.last = value;
        limit.room(value, last)
    }

    /// Negative when the reading has been the same for `stuck_steps`; `same` counts them. Comes before
    /// [`Watch::near`].
    #[inline(always)]
    fn moves(&self, value: i32, same: &mut u16, stuck_steps: u32) -> i32 {
        *same = if value == self.last {
            same.saturating_add(1)
        } else {
            0
        };
        (stuck_steps as i32).wrapping_sub(1 + i32::from(*same))
    }

    /// The reading, or the last good one when its bit is among the bad.
    #[inline(always)]
    fn use_good(&mut self, value: i32, bad: u16, fault: Fault) -> i32 {
        self.good = if bad & fault as u16 == 0 {
            value
        } else {
            self.good
        };
        self.good
    }
}

/// What the checks remember.
#[derive(Clone, Copy, Debug, Default)]
#[repr(C)]
pub struct State {
    floor_accel: Watch,
    seat_accel: Watch,
    travel: Watch,
    current_good: i32,
    /// Equal readings in a row of the accelerometers of floor and seat.
    same: Halves,
    slow: Slow,
    /// The bits of supply and coil temperature, each as it was last looked at, and whether the coil is too hot.
    slow_bad: u32,
    /// Whose turn it was among the slow ones.
    even_turn: Flag,
    debounce: DebounceBits,
    sequence: Strikes,
    late: Strikes,
    expected_sequence: u32,
    started: Flag,
}

plain!([] State {
    floor_accel, seat_accel, travel, current_good, same, slow, slow_bad, even_turn, debounce, sequence, late,
    expected_sequence, started
});

/// Readings to use, and what is wrong with the raw ones.
#[derive(Clone, Copy, Debug, Default)]
pub struct Output {
    /// Readings, bad ones replaced by the last good ones.
    pub readings: Readings,
    /// Faults that stand.
    pub faults: Faults,
}

/// Marks of sensors are the same bits as their faults.
const SENSOR_MARKS: u8 = Marks::FLOOR_ACCEL
    | Marks::SEAT_ACCEL
    | Marks::TRAVEL
    | Marks::CURRENT
    | Marks::SUPPLY
    | Marks::COIL_TEMPERATURE;
/// From the mark of an output to its fault.
const OUTPUT_SHIFT: u32 = 4;
const _: () = assert!(
    (Marks::OUTPUT as u16) << OUTPUT_SHIFT == Fault::Output as u16
        && Marks::FLOOR_ACCEL as u16 == Fault::FloorAccel as u16
        && Marks::SEAT_ACCEL as u16 == Fault::SeatAccel as u16
        && Marks::TRAVEL as u16 == Fault::Travel as u16
        && Marks::CURRENT as u16 == Fault::Current as u16
        && Marks::SUPPLY as u16 == Fault::Supply as u16
        && Marks::COIL_TEMPERATURE as u16 == Fault::CoilTemperature as u16
);

impl State {
    /// One step on the calibrated readings of the frame numbered `sequence`, with the
    /// board's marks. The current is judged only while it is `driven`: shorted windings may carry any.
    /// `doubts`: the faults whose residuals were beyond their bounds in the last step
    /// ([`crate::agree`]); they are counted like bad readings.
    pub fn step(
        &mut self,
        config: &Config,
        readings: &Readings,
        sequence: u16,
        marks: Marks,
        driven: bool,
        doubts: u16,
    ) -> Output {
        let r = readings;
        if !self.started.holds() {
            self.start(r, sequence);
        }
        let stuck = config.stuck_steps;
        let floor_moves = self
            .floor_accel
            .moves(r.floor_accel, &mut self.same.first, stuck);
        let seat_moves = self
            .seat_accel
            .moves(r.seat_accel, &mut self.same.second, stuck);
        let floor = floor_moves | self.floor_accel.near(r.floor_accel, &config.accel);
        let seat = seat_moves | self.seat_accel.near(r.seat_accel, &config.accel);
        let seat = if r.travel.saturating_abs() > config.stop_travel {
            0
        } else {
            seat
        };
        let travel = self.travel.near(r.travel, &config.travel);
        self.look_at_a_slow_one(config, readings, marks);
        let current = config.current.wrapping_sub((r.current >> 1).abs());
        let current = if driven { current } else { 0 };
        let bad = u16::from(marks.0 & SENSOR_MARKS)
            | when_negative(floor, Fault::FloorAccel)
            | when_negative(seat, Fault::SeatAccel)
            | when_negative(travel, Fault::Travel)
            | when_negative(current, Fault::Current)
            | self.slow_bad as u16
            | u16::from(marks.0 & Marks::OUTPUT) << OUTPUT_SHIFT
            | doubts;
        // What is hot is judged without delay.
        let bad = bad & !(Fault::Hot as u16);
        self.current_good = if bad & Fault::Current as u16 == 0 {
            r.current
        } else {
            self.current_good
        };
        let in_order = u32::from(sequence) == self.expected_sequence;
        self.expected_sequence = sequence.wrapping_add(1).into();
        let mut faults = Faults(self.debounce.step(&config.faults, bad));
        faults.set(
            Fault::Sequence,
            self.sequence.step(&config.sequence, !in_order),
        );
        let late = marks.any_of(Marks::LATE);
        faults.0 |= self.slow_bad as u16 & Fault::Hot as u16;
        faults.set(Fault::Late, self.late.step(&config.late, late));
        Output {
            readings: Readings {
                floor_accel: self
                    .floor_accel
                    .use_good(r.floor_accel, bad, Fault::FloorAccel),
                seat_accel: self
                    .seat_accel
                    .use_good(r.seat_accel, bad, Fault::SeatAccel),
                travel: self.travel.use_good(r.travel, bad, Fault::Travel),
                current: self.current_good,
                supply: self.slow.supply,
                coil_temperature: self.slow.coil_temperature,
            },
            faults,
        }
    }

    /// There are no last readings: nothing has changed.
    #[inline(always)]
    fn start(&mut self, r: &Readings, sequence: u16) {
        self.started = Flag::new(true);
        self.floor_accel.last = r.floor_accel;
        self.seat_accel.last = r.seat_accel;
        self.travel.last = r.travel;
        self.expected_sequence = sequence.into();
    }

    /// Which of the slow readings the next step looks at: supply in odd turns, coil temperature in even ones.
    #[inline(always)]
    #[must_use]
    pub const fn turn(&self) -> Turn {
        Turn::of(self.even_turn).other()
    }

    /// The slow readings in use.
    #[inline(always)]
    #[must_use]
    pub const fn slow(&self) -> &Slow {
        &self.slow
    }

    /// Whether the newest reading of travel was a bad one.
    #[must_use]
    pub const fn travel_is_bad(&self) -> bool {
        self.travel.good != self.travel.last
    }

    #[inline(always)]
    fn look_at_a_slow_one(&mut self, config: &Config, r: &Readings, marks: Marks) {
        let turn = self.turn();
        self.even_turn = Flag::new(turn == Turn::Even);
        match turn {
            Turn::Odd => {
                let bad = when_negative(config.supply.room(r.supply), Fault::Supply);
                if u32::from(bad) | u32::from(marks.0 & Marks::SUPPLY) == 0 {
                    self.slow.supply = r.supply;
                }
                self.slow_bad = self.slow_bad & !(Fault::Supply as u32) | u32::from(bad);
            }
            Turn::Even => {
                let bad =
                    when_negative(config.coil.room(r.coil_temperature), Fault::CoilTemperature);
                if u32::from(bad) | u32::from(marks.0 & Marks::COIL_TEMPERATURE) == 0 {
                    self.slow.coil_temperature = r.coil_temperature;
                }
                let heat = if self.slow_bad & Fault::Hot as u32 == 0 {
                    config.hot
                } else {
                    config.cool
                };
                let hot = if self.slow.coil_temperature > heat {
                    Fault::Hot as u32
                } else {
                    0
                };
                self.slow_bad = self.slow_bad & Fault::Supply as u32 | u32::from(bad) | hot;
            }
        }
    }
}
