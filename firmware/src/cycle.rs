//! The control cycle: one raw frame in, one raw frame out.

use crate::calibrate::Readings;
use crate::check::BuildError;
use crate::events::{Event, EventLog, Standing};
use crate::frame::{DriveFrame, SensorFrame};
use crate::guard::{Found, Guard};
use crate::parameters::Parameters;
use crate::supervise::{Mode, Permit};
use crate::vet::{Fault, Faults};
use crate::{agree, arrest, brake, calibrate, estimate, isolate, limit, supervise, vet, weigh};
use core::any::Any;
use shared_math::{Flag, Lag, Plain, Q24, Scalar, Turn, plain};

/// Everything immutable, built once from [`Parameters`].
#[derive(Clone, Copy, Debug)]
#[repr(C)]
struct Config<S> {
    // Watched most closely by the guard: what is wrong here is a wrong force at once.
    per_current_count: S,
    limit: limit::Config<S>,
    arrest: arrest::Config<S>,
    static_force: Lag<S>,
    level_step: S,
    agree: agree::Config<S>,
    brake: brake::Config<S>,
    vet: vet::Config,
    supervise: supervise::Config,
    // From here on, what is wrong is learnt from for as long as it stands.
    calibrate: calibrate::Config,
    weigh: weigh::Config<S>,
    // The large ones come last: what is near is cheaper to reach.
    isolate: isolate::Config<S>,
    estimate: estimate::Config<S>,
}

plain!([S: Plain] Config<S> {
    per_current_count,
    limit,
    arrest,
    static_force,
    level_step,
    agree,
    brake,
    vet,
    supervise,
    calibrate,
    weigh,
    isolate,
    estimate
});

impl<S: Scalar> Config<S> {
    /// First block of the guard with a word that the law learns from.
    const LEARNT_FROM: usize = Guard::block_of(core::mem::offset_of!(Self, calibrate) / 4);

    /// The blocks with the words by which travel is foreseen from one step to the next.
    const FORESEES: [usize; 2] = {
        let at = core::mem::offset_of!(Self, estimate) / 4;
        let [first, last] = estimate::Config::<S>::FORESEES;
        [Guard::block_of(at + first), Guard::block_of(at + last)]
    };

    /// The words, in an arithmetic of 32-bit numbers. Which it is, is known when this is compiled.
    #[inline(always)]
    fn plain_words(&mut self) -> Option<&mut [u32]> {
        let whole: &mut dyn Any = self;
        if whole.is::<Config<f32>>() {
            return whole.downcast_mut::<Config<f32>>().map(Plain::words_mut);
        }
        whole.downcast_mut::<Config<Q24>>().map(Plain::words_mut)
    }
}

const _: () = assert!(Config::<f32>::WORDS <= Guard::MOST && Config::<Q24>::WORDS <= Guard::MOST);

/// Smoothing of the disturbance estimate that moves the height adjuster, s.
const STATIC_FORCE_LAG_S: f32 = 0.4;

/// Without one of the sensors of the motion the current's largest change is divided by two to this power. What is asked for by the
/// model in their place jumps, and nothing that is left to do then needs more.
const SLEW_WITHOUT: u32 = 4;

/// Up to this acceleration of the seat, m/s^2, the motor waits where travel is in doubt: in the 16 steps for which it does, a seat of
/// which no more is asked goes astray by 0.06 m/s at most.
const CALM_MPS2: f32 = 2.0;

/// What a host may look at after a step; nothing in the law reads it.
#[derive(Clone, Copy, Debug)]
pub struct Inside<S> {
    /// Readings in use, counts of 2^-24.
    pub readings: Readings,
    /// The estimates.
    pub motion: estimate::Output<S>,
    /// Wanted seat acceleration, m/s^2.
    pub wanted: S,
    /// Permitted seat acceleration and its limits.
    pub arrest: arrest::Output<S>,
    /// Force, current and disturbance.
    pub drive: limit::Output<S>,
    /// Supported mass, t.
    pub mass: S,
    /// Spring preload, kN.
    pub preload: S,
    /// Whether the occupant has been weighed.
    pub weighed: bool,
    /// What the motor carries at rest, kN: until the occupant has been weighed, by what has been weighed so far.
    pub static_force: S,
    /// What the supervisor permitted.
    pub permit: Permit,
    /// Standing faults.
    pub faults: Faults,
}

impl<S: Copy> Inside<S> {
    /// The same with every number converted.
    #[must_use]
    pub fn map<T>(&self, f: impl Fn(S) -> T + Copy) -> Inside<T> {
        Inside {
            readings: self.readings,
            motion: self.motion.map(f),
            wanted: f(self.wanted),
            arrest: self.arrest.map(f),
            drive: self.drive.map(f),
            mass: f(self.mass),
            preload: f(self.preload),
            weighed: self.weighed,
            static_force: f(self.static_force),
            permit: self.permit,
            faults: self.faults,
        }
    }
}

/// The controller: configuration and state of all stages.
#[derive(Clone, Debug)]
#[repr(C)]
pub struct Cycle<S> {
    vet: vet::State,
    weigh: weigh::State<S>,
    isolate: isolate::State<S>,
    arrest: arrest::State<S>,
    limit: limit::State<S>,
    agree: agree::State,
    supervise: supervise::State,
    /// Smoothed disturbance less what the height adjuster has taken over since, kN.
    static_force: S,
    /// Current command of the last step, or the share of the brake, counts.
    command: i32,
    /// Faults whose residuals were beyond their bounds in the last step.
    doubts: u32,
    latch: supervise::Latch,
    step: u32,
    heat_share: i32,
    /// All numbers of the last step were finite, and what was learnt as it had been left.
    sound: Flag,
    noted: Standing,
    lift: supervise::Lift,
    estimate: estimate::State<S>,
    events: EventLog,
    guard: Guard,
    config: Config<S>,
    #[cfg(feature = "lab")]
    deaf: Flag,
}

#[cfg(not(feature = "lab"))]
plain!([S: Plain] Cycle<S> {
    vet, weigh, isolate, arrest, limit, agree, supervise, static_force, command, doubts, latch, step, heat_share,
    sound, noted, lift, estimate, events, guard, config
});

#[cfg(feature = "lab")]
plain!([S: Plain] Cycle<S> {
    vet, weigh, isolate, arrest, limit, agree, supervise, static_force, command, doubts, latch, step, heat_share,
    sound, noted, lift, estimate, events, guard, config, deaf
});

impl<S: Scalar> Cycle<S> {
    /// A controller after reset, in [`Mode::Off`].
    ///
    /// # Errors
    /// When a parameter cannot be used; the error names it.
    #[inline(never)]
    pub fn new(parameters: &Parameters) -> Result<Self, BuildError> {
        let timing = &parameters.timing;
        parameters.check()?;
        let per_count = parameters.calibrate.current.per_count;
        let slow_s = 2.0 * timing.step_s;
        let config = Config {
            calibrate: parameters.calibrate.config(),
            vet: parameters.vet.config(),
            estimate: parameters.estimate.config(timing),
            weigh: parameters.weigh.config(slow_s),
            isolate: parameters.isolate.config(timing),
            arrest: parameters.arrest.config(timing),
            limit: parameters.limit.config(timing),
            agree: parameters.agree.config(per_count, timing.step_s),
            brake: parameters.brake.config(&parameters.limit, timing.step_s),
            supervise: parameters.supervise.config(timing),
            static_force: Lag::new(STATIC_FORCE_LAG_S, slow_s),
            level_step: S::of_parameter(parameters.weigh.level_rate_nps * 1.0e-3 * slow_s),
            // Currents stay below 128 A: a 128th of the counts per ampere fits every arithmetic.
            per_current_count: S::of_parameter(1.0 / (per_count * 1024.0)),
        };
        let mut cycle = Self {
            guard: Guard::new(&[]),
            vet: vet::State::default(),
            estimate: estimate::State::default(),
            weigh: weigh::State::new(&config.weigh),
            isolate: isolate::State::default(),
            arrest: arrest::State::default(),
            limit: limit::State::default(),
            agree: agree::State::default(),
            supervise: supervise::State::default(),
            lift: supervise::Lift::default(),
            static_force: S::ZERO,
            command: 0,
            doubts: 0,
            latch: supervise::Latch::default(),
            step: 0,
            heat_share: 1 << 24,
            sound: Flag::new(true),
            events: EventLog::default(),
            noted: Standing::new(Mode::Off, Faults::default()),
            #[cfg(feature = "lab")]
            deaf: Flag::new(false),
            config,
        };
        if let Some(words) = cycle.config.plain_words() {
            cycle.guard = Guard::new(words);
        }
        Ok(cycle)
    }

    /// One control period. Call it at the fixed rate, with a fresh frame, and
    /// apply the answer before the next period begins; an answer that comes later
    /// is an overrun, which the next frame says.
    ///
    /// Every bit pattern of the frame gives a finite command within the limits.
    /// It does not panic, allocate or wait.
    #[inline]
    pub fn step(&mut self, frame: &SensorFrame) -> DriveFrame {
        self.watch(frame).0
    }

    /// [`Cycle::step`], and what it saw and decided, for a host or a test. Nothing in the law reads that.
    #[inline(always)]
    pub fn watch(&mut self, frame: &SensorFrame) -> (DriveFrame, Inside<S>) {
        let struck = self.supervise.struck();
        let config = &self.config;
        let calibrated = (config.calibrate).step(frame, self.vet.turn(), self.vet.slow());
        let driven = self.supervise.mode().drives();
        let vetted = self.vet.step(
            &config.vet,
            &calibrated,
            frame.sequence,
            frame.marks,
            driven,
            self.doubts as u16,
        );
        let readings = vetted.readings;
        let mut faults = vetted.faults;
        faults.set(Fault::NotFinite, !self.sound.holds());
        faults.set(Fault::Memory, struck);
        let faults = self.latch.hold(faults);
        #[cfg(feature = "lab")]
        let faults = if self.deaf.holds() { Faults(0) } else { faults };

        let travel_bound = if faults.meets(Faults::MOTION_SENSORS) {
            if faults.has(Fault::Travel) && !self.noted.faults().has(Fault::Travel) {
                self.lose_travel(frame, readings.travel, readings.seat_accel);
            }
            self.config.agree.bound_without(faults)
        } else {
            self.config.agree.travel_bound(self.isolate.shaken())
        };
        let config = &self.config;
        let motion = self.estimate.step(
            &config.estimate,
            &estimate::Input {
                floor_accel: S::from_q24(readings.floor_accel),
                seat_accel: S::from_q24(readings.seat_accel),
                travel: S::from_q24(readings.travel),
                floor_lost: faults.has(Fault::FloorAccel),
                seat_lost: faults.has(Fault::SeatAccel),
                model: self.limit.expected_accel(),
                innovation_max: travel_bound,
            },
        );

        // The two are looked at in turn, so that a step costs less.
        let beyond = match motion.turn {
            Turn::Odd => config
                .supervise
                .load_beyond(motion.floor_accel.to_q24(), self.weigh.mass().to_q24()),
            Turn::Even => config
                .supervise
                .motion_beyond(self.arrest.astray().to_q24()),
        };
        // The height adjuster waits until the occupant has been weighed.
        let weighed = self.weigh.is_known();
        let carried = if weighed {
            self.static_force.to_q24()
        } else {
            0
        };
        let permit = self.supervise.step(
            &config.supervise,
            &supervise::Input {
                switches: frame.switches,
                faults,
                travel: readings.travel,
                travel_rate: motion.travel_rate.to_q24(),
                heat_share: self.heat_share,
                static_force: carried,
                beyond,
            },
        );

        let wanted = self
            .isolate
            .step(&config.isolate, &motion, S::from_q24(permit.isolation));
        let arrest = self.arrest.step(&config.arrest, &motion, wanted);
        let doubtful = self
            .agree
            .compare_travel(motion.travel_innovation, travel_bound);
        // A sound seat that waits where much is asked of it goes astray: not where the travel is proved.
        let waits = doubtful
            && match permit.mode {
                Mode::Beyond => true,
                mode => mode.isolates() && arrest.permitted.is_within(CALM_MPS2),
            };
        let slew = if waits {
            S::ZERO
        } else if faults.meets(Faults::MOTION_SENSORS) {
            S::from_q24(config.limit.slew().to_q24() >> SLEW_WITHOUT)
        } else {
            config.limit.slew()
        };
        let drive = self.limit.step(
            &config.limit,
            &motion,
            &limit::Input {
                accel: arrest.permitted,
                mass: self.weigh.mass(),
                supply: S::from_q24(readings.supply),
                coil_temperature: S::from_q24(readings.coil_temperature),
                authority: S::from_q24(permit.force),
                release: permit.mode == Mode::Release,
                slew,
                friction: S::from_q24(permit.isolation) * self.isolate.stir(&config.isolate),
            },
        );
        self.sound = Flag::new(drive.finite & motion.sound);
        if permit.new_load && permit.seated {
            self.weigh.begin(&config.weigh);
        }
        // Two slow things take turns.
        match motion.turn {
            Turn::Even if permit.drives => {
                self.weigh.step(
                    &config.weigh,
                    &weigh::Input {
                        force: config.limit.force_of(S::from_q24(readings.current)) - drive.support,
                        seat_accel: motion.seat_accel,
                        travel: motion.travel,
                        travel_rate: motion.travel_rate,
                        level: permit.level,
                        seated: permit.seated,
                    },
                );
            }
            Turn::Even => {}
            Turn::Odd => {
                self.heat_share = drive.heat_share.to_q24();
                self.isolate.look_after_memory();
                if weighed {
                    // What the adjuster has taken over shows late in the smoothed force, so it is
                    // taken off at once.
                    let moved = weigh::adjusted(permit.level, config.level_step);
                    config
                        .static_force
                        .step(&mut self.static_force, drive.disturbance);
                    self.static_force = (self.static_force - moved).finite_or(S::ZERO);
                } else {
                    self.static_force = self.weigh.carried(&config.weigh);
                    self.weigh.look_whether_known(&config.weigh);
                }
            }
        }
        let forgotten = self.latch.reset(permit.mode, self.supervise.armed());
        if forgotten.has(Fault::Travel) {
            self.find_travel_again();
        }
        let command = if permit.drives {
            self.counts(drive.current)
        } else {
            let last = if driven { 0 } else { self.command };
            self.braking(&arrest, motion.seat_accel, readings.current, last, faults)
        };
        self.command = command.into();
        let doubts = self.agree.step(
            &self.config.agree,
            &agree::Input {
                current: frame.current,
                command,
                driven: driven && permit.drives,
                weighed,
                disturbance: drive.disturbance,
                static_force: self.static_force,
                seat_accel: motion.seat_accel,
                travel: readings.travel,
                turn: motion.turn,
            },
        );
        self.doubts = doubts.into();
        // One question in a sound step, not two.
        if doubts & (Fault::Current as u16 | Fault::CrossCheck as u16) != 0 {
            if doubts & Fault::Current as u16 != 0 {
                self.doubt_the_motor(motion.seat_accel);
            }
            if doubts & Fault::CrossCheck as u16 != 0 {
                self.doubt_travel(motion.travel_innovation, travel_bound);
            }
        }
        let standing = Standing::new(permit.mode, faults);
        if self.noted != standing {
            self.noted = standing;
            self.events.note(self.step, standing);
        } else if motion.slack {
            self.look_after_constants(motion.turn.other());
        }
        self.step = self.step.wrapping_add(1);
        let answer = self.answer(frame.sequence, &permit, command, faults);
        let inside = Inside {
            readings,
            motion,
            wanted,
            arrest,
            drive,
            mass: self.weigh.mass(),
            preload: self.weigh.preload(),
            weighed,
            static_force: self.static_force,
            permit,
            faults,
        };
        (answer, inside)
    }

    /// Bench only: from now on no fault stands, whatever is seen. It shows what a fault does where nothing reacts to
    /// it. No port has the feature `lab`.
    #[cfg(feature = "lab")]
    pub const fn ignore_faults(&mut self) {
        self.deaf = Flag::new(true);
    }

    /// Bench only: these latching faults stand from the next step on, as if they had just been noticed. It shows what an
    /// answer is worth that comes at once. No port has the feature `lab`.
    #[cfg(feature = "lab")]
    pub const fn assume(&mut self, faults: Faults) {
        self.latch.hold(faults);
    }

    /// The mode now.
    #[must_use]
    pub const fn mode(&self) -> Mode {
        self.supervise.mode()
    }

    /// Words of the configuration that were struck and have been put right since the reset.
    #[must_use]
    pub const fn healed(&self) -> u32 {
        self.guard.healed()
    }

    /// The newest changes of mode and fault, oldest first.
    pub fn events(&self) -> impl Iterator<Item = Event> + '_ {
        self.events.iter()
    }

    /// Current and commands disagree: is it the motor? Once the sensor is lost the mass is not learnt from it.
    #[cold]
    #[inline(never)]
    fn doubt_the_motor(&mut self, seat_accel: S) {
        let shortage = self.limit.shortage(seat_accel);
        self.doubts |= u32::from(self.config.agree.judge_motor(shortage));
        if self.supervise.mode() == Mode::Limp {
            self.weigh.pause();
        }
    }

    /// These stand from the next step on.
    #[cold]
    #[inline(never)]
    fn note_fault(&mut self, faults: Faults) {
        self.latch.hold(faults);
    }

    /// Travel and accelerometers disagree, which stands from the next step on: is it travel? While that is lost it says
    /// nothing.
    #[cold]
    #[inline(never)]
    fn doubt_travel(&mut self, innovation: S, travel_bound: S) {
        self.doubts &= !(Fault::CrossCheck as u32);
        if self.latch.has(Fault::Travel) {
            return;
        }
        // Not if it was foreseen wrongly.
        for block in Config::<S>::FORESEES {
            if let Some(words) = self.config.plain_words() {
                let found = self.guard.heal(words, block);
                if found != Found::Sound {
                    self.judge(found);
                    return;
                }
            }
        }
        let jumped = agree::Config::has_jumped(innovation, travel_bound);
        let fault = if jumped | self.vet.travel_is_bad() {
            Fault::Travel
        } else {
            Fault::CrossCheck
        };
        self.note_fault(Faults(fault as u16));
    }

    /// Looks at a part of the constants. What cannot be put right is a fault from the next step on, and so is what
    /// the law has learnt from before it was put right.
    #[inline(always)]
    fn look_after_constants(&mut self, turn: Turn) {
        if let Some(words) = self.config.plain_words() {
            let found = self.guard.step(words, turn);
            if found != Found::Sound {
                self.judge(found);
            }
        }
    }

    #[cold]
    #[inline(never)]
    fn judge(&mut self, found: Found) {
        let lost = match found {
            Found::Sound => false,
            Found::Healed(block) => block >= Config::<S>::LEARNT_FROM,
            Found::Lost => true,
        };
        let mut faults = Faults::default();
        faults.set(Fault::Memory, lost);
        self.note_fault(faults);
    }

    /// Travel has just been lost. What its readings have corrected is taken back. The accelerometers must be right: if their
    /// wires are swapped with its own, that stands from the next step on.
    #[cold]
    #[inline(never)]
    fn lose_travel(&mut self, frame: &SensorFrame, travel: i32, seat_accel: i32) {
        let counts = [frame.floor_accel, frame.seat_accel];
        let config = &self.config;
        let most = config.agree.travel_bound(self.isolate.shaken());
        if self.agree.crosses() {
            let innovation = S::from_q24(travel) - self.estimate.travel();
            let believed = innovation.limit(-most, most);
            self.estimate.take_back(&config.estimate, believed);
        }
        let expected = self.estimate.expected_travel(&config.estimate);
        let as_travel = counts.map(|n| S::from_q24(config.calibrate.as_travel(n.into())));
        let shortage = self.limit.shortage(S::from_q24(seat_accel));
        if (config.agree).is_swapped(as_travel, expected, most, shortage) {
            self.note_fault(Faults(Fault::CrossCheck as u16));
        }
    }

    /// From the next step on travel is not lost, unless it still is. Meanwhile it was where the accelerometers took it: begin
    /// anew with what is read.
    #[cold]
    #[inline(never)]
    fn find_travel_again(&mut self) {
        self.agree.forget_travel();
        self.estimate.begin_anew();
    }

    /// A current command in counts.
    fn counts(&self, current: S) -> i16 {
        // Counts / 1024 as a count of 2^-24; rounding it down by 14 bits gives counts.
        let scaled = (current * self.config.per_current_count).to_q24();
        let counts = scaled.saturating_add(1 << 13) >> 14;
        counts.clamp(i32::from(i16::MIN), i32::from(i16::MAX)) as i16
    }

    /// Nothing drives: the height adjuster lifts who rests on the lower stop; how much of the brake resistor is bridged, of 32767.
    #[cold]
    #[inline(never)]
    fn braking(
        &mut self,
        arrest: &arrest::Output<S>,
        seat_accel: S,
        current: i32,
        last: i32,
        faults: Faults,
    ) -> i16 {
        let [travel, rate] = [self.estimate.travel(), self.estimate.travel_rate()];
        let current = S::from_q24(current);
        let drove = self.noted.mode().drives();
        let adds = (self.lift).step(
            &self.config.supervise,
            &self.supervise,
            rate.to_q24(),
            drove,
        );
        let load = if self.lift.lasts() {
            let force = self.config.limit.force_of(current);
            let carried = self
                .limit
                .take_over(&self.config.limit, travel, rate, seat_accel, force);
            let adds = adds && self.step & 1 == 0;
            self.weigh.lift(&self.config.weigh, adds.into(), carried);
            // As strongly as it can: the seat then rises as softly as preload is added.
            S::ONE
        } else {
            self.static_force
        };
        let share = self.config.brake.share(&brake::Input {
            closing: arrest.closing(),
            trusted: !faults.latching().any(),
            current,
            last: S::from_q24(last.clamp(0, i32::from(i16::MAX)) << 9),
            load,
        });
        (share.to_q24() >> 9).clamp(0, i32::from(i16::MAX)) as i16
    }

    fn answer(&self, sequence: u16, permit: &Permit, command: i16, faults: Faults) -> DriveFrame {
        let bit = |on: bool, mask: u8| if on { mask } else { 0 };
        let drives = permit.drives;
        let outputs = if drives {
            DriveFrame::ENABLE
                | bit(permit.level > 0, DriveFrame::LEVEL_UP)
                | bit(permit.level < 0, DriveFrame::LEVEL_DOWN)
        } else {
            self.lift.outputs()
        };
        DriveFrame {
            sequence,
            current_command: command,
            outputs,
            mode: permit.mode.code(),
            faults: faults.0,
        }
    }
}

/// The controller's memory as words, in an arithmetic of 32-bit numbers.
impl<S: Scalar + Plain> Cycle<S> {
    /// Words of the state; all others are configuration, and the bench's own one under the feature `lab`.
    pub const STATE_WORDS: usize =
        Self::WORDS - Config::<S>::WORDS - cfg!(feature = "lab") as usize;

    /// The configuration.
    #[must_use]
    pub fn config_words(&self) -> &[u32] {
        self.config.words()
    }

    /// What is kept from step to step: a snapshot of the controller.
    #[must_use]
    pub fn state_words(&self) -> &[u32] {
        self.words().split_at(Self::STATE_WORDS).0
    }

    /// What is kept from step to step.
    pub fn state_words_mut(&mut self) -> &mut [u32] {
        self.words_mut().split_at_mut(Self::STATE_WORDS).0
    }

    /// Goes on from a snapshot that [`Cycle::state_words`] gave, with the bits with which the controller
    /// of the snapshot goes on when both have been built of the same parameters. Returns whether it did: a
    /// snapshot of another length is refused and changes nothing.
    #[must_use]
    pub fn load(&mut self, snapshot: &[u32]) -> bool {
        let state = self.state_words_mut();
        let fits = state.len() == snapshot.len();
        if fits {
            state.copy_from_slice(snapshot);
        }
        fits
    }
}
