//! Commissioning self-test: does the machine agree with its parameter table?
//!
//! With the machine standing still and the seat empty, small sines of current move the seat a few
//! millimetres. From measured current, travel and both accelerations the test finds force constant,
//! moving mass, friction, the sign of travel and the polarity of drive, current sensor and
//! accelerometers, and compares them with the table. It runs on the board, in place
//! of [`crate::Cycle`], on the same frames at the same rate, in single precision.
//!
//! # Caution
//!
//! The seat moves by itself and with force. Nobody on the seat, hands and tools away from it and from
//! its support, machine blocked against rolling, by qualified staff, under the rules that hold at the place. The stop
//! circuit must be within reach. A passed test says that the machine agrees with its table, not that
//! the machine is safe.
//!
//! # Sequence
//!
//! | state | what happens |
//! |---|---|
//! | [`State::Waiting`] | windings shorted, until the arming switch has been seen off and then goes on |
//! | [`State::Rest`] | windings shorted: biases, noise, floor still, accelerometers compared |
//! | [`State::Motion`] 0 | a sine at the lower frequency |
//! | [`State::Motion`] 1, 2 | the upper frequency, two amplitudes |
//! | [`State::Motion`] 3 | a slow sine while the upper frequency keeps the seat sliding |
//! | [`State::Judging`] | safe state for some steps: the numbers are worked out, a little in each |
//! | [`State::Done`] | safe state; [`Commission::result`] has the finding |
//! | [`State::Aborted`] | safe state, with the reason |
//!
//! The last two hold until reset.
//!
//! # What it cannot see
//!
//! - The stiffness of the support spring is believed; see `fit` for what follows from that.
//! - Drive, travel sensor and both accelerometers reversed all together: see once by eye that the seat lifts
//!   when a positive current is commanded.
//! - The floor accelerometer's polarity on a floor without any motion: then the item finds 0 and is refused. Let
//!   the engine idle, or knock on the floor during the rest check.

mod finding;
mod fit;
pub mod least_squares;
mod motion;
mod parameters;
mod phasor;
mod rest;
mod state;

pub use finding::{Finding, ITEMS, Item, Signs, Verdict};
pub use parameters::{Config, Parameters};
pub use state::{Reason, State};

use crate::check::{BuildError, require};
use crate::frame::{DriveFrame, SensorFrame, Switches};
use crate::supervise::Mode;
use crate::vet::Faults;
use crate::{calibrate, vet};
use finding::{Evidence, Relative, judge};
use fit::{Fit, Fitting, Solution, Told, Tone};
use motion::{Measured, Motion, Plan, Progress, Sine};
use phasor::CHANNELS;
use rest::{Rest, Sums};
use shared_math::{Lag, Scalar};

/// Number in [`DriveFrame::mode`] while the test drives; no [`Mode`] has it.
pub const DRIVING: u8 = 8;
/// Test motions.
const MOTIONS: usize = 4;
/// Time in which the amplitude may go from zero to the largest force, s.
const RAMP_S: f32 = 1.0;
/// Time over which the floor's acceleration is judged, s.
const FLOOR_S: f32 = 0.1;

/// The commissioning test.
#[derive(Clone, Debug)]
pub struct Commission {
    config: Config,
    calibrate: calibrate::Config,
    vet_config: vet::Config,
    floor_lag: Lag<f32>,
    told: Told,
    plans: [Plan; MOTIONS],
    per_current_count: f32,
    vet: vet::State,
    state: State,
    seen_off: bool,
    sums: Sums,
    rest: Rest,
    floor_square: f32,
    motion: Option<Motion>,
    measured: [Measured; MOTIONS],
    fitting: Option<Fitting>,
    finding: Option<Finding>,
}

impl Commission {
    /// The test for a parameter table, waiting.
    ///
    /// # Errors
    /// When a parameter cannot be used; the error names it.
    pub fn new(parameters: &crate::Parameters) -> Result<Self, BuildError> {
        let timing = &parameters.timing;
        let config = parameters.commission.build(timing)?;
        parameters.limit.check(timing)?;
        parameters.weigh.check()?;
        let (limit, p) = (&parameters.limit, &parameters.commission);
        for (field, value) in [
            ("limit.spring_npm", limit.spring_npm),
            ("limit.viscous_nspm", limit.viscous_nspm),
            ("limit.coulomb_n", limit.coulomb_n),
        ] {
            let expected = "above zero: the commissioning test compares with it";
            require(value > 0.0, field, value, expected)?;
        }
        let told = Told {
            force_constant_npa: limit.force_constant_npa,
            mass_kg: parameters.weigh.empty_mass_kg,
            spring_npm: limit.spring_npm,
            viscous_nspm: limit.viscous_nspm,
            coulomb_n: limit.coulomb_n,
        };
        let step_s = timing.step_s;
        let current_max_a = p.force_max_n / told.force_constant_npa;
        require(
            current_max_a <= limit.current_max_a,
            "commission.force_max_n",
            p.force_max_n,
            "at most limit.current_max_a times limit.force_constant_npa",
        )?;
        let sine =
            |steps, travel_m, coulomb_n| Sine::new(&told, steps, step_s, travel_m, coulomb_n);
        let plan = |fast, slow| Plan {
            fast,
            slow,
            current_max_a,
            slew_a: current_max_a * step_s / RAMP_S,
            step_s,
            current_lag_s: p.current_lag_s,
        };
        let dry = told.coulomb_n;
        let small = sine(config.high_steps, p.small_travel_m, dry);
        // Kept sliding by the other, the slow motion feels little of dry friction.
        let slow = sine(config.slow_steps, p.slow_travel_m, 0.0);
        Ok(Self {
            plans: [
                plan(sine(config.low_steps, p.low_travel_m, dry), None),
                plan(small, None),
                plan(sine(config.high_steps, p.large_travel_m, dry), None),
                plan(small, Some(slow)),
            ],
            calibrate: parameters.calibrate.build()?,
            vet_config: parameters.vet.build()?,
            floor_lag: Lag::new(FLOOR_S, step_s),
            per_current_count: 1.0 / parameters.calibrate.current.per_count,
            vet: vet::State::default(),
            state: State::Waiting,
            seen_off: false,
            sums: Sums::default(),
            rest: Rest::default(),
            floor_square: 0.0,
            motion: None,
            measured: [Measured::default(); MOTIONS],
            fitting: None,
            finding: None,
            config,
            told,
        })
    }

    /// One control period; like [`crate::Cycle::step`]. Every bit pattern of the frame gives a command within
    /// the stated force. It does not panic, allocate or wait.
    pub fn step(&mut self, frame: &SensorFrame) -> DriveFrame {
        let calibrated = (self.calibrate).step(frame, self.vet.turn(), self.vet.slow());
        let driven = matches!(self.state, State::Motion(_));
        let vetted = self.vet.step(
            &self.vet_config,
            &calibrated,
            frame.sequence,
            frame.marks,
            driven,
            0,
        );
        let of = <f32 as Scalar>::from_q24;
        let r = &vetted.readings;
        let values = [r.current, r.travel, r.seat_accel, r.floor_accel].map(of);
        let mut current_a = 0.0;
        if let Some(reason) = self.objection(frame.switches, vetted.faults, &values) {
            self.state = State::Aborted(reason);
        } else {
            match self.state {
                State::Waiting => {
                    let on = frame.switches.has(Switches::ARM);
                    if on && self.seen_off {
                        self.state = State::Rest;
                    }
                    self.seen_off |= !on;
                }
                State::Rest => self.rest(&values),
                State::Motion(number) => current_a = self.motion(number, &values),
                State::Judging => self.work_out(),
                State::Done | State::Aborted(_) => {}
            }
        }
        self.answer(frame.sequence, current_a, vetted.faults)
    }

    /// Where the test is.
    #[must_use]
    pub const fn state(&self) -> State {
        self.state
    }

    /// What was found, once the test is done.
    #[must_use]
    pub const fn result(&self) -> Option<&Finding> {
        self.finding.as_ref()
    }

    /// Whether the test is done and every item agrees. Until then the law must not be armed.
    #[must_use]
    pub fn may_arm(&self) -> bool {
        self.finding.as_ref().is_some_and(Finding::agrees)
    }

    /// Why the test may not go on; nothing before it began or after it ended.
    fn objection(
        &self,
        switches: Switches,
        faults: Faults,
        values: &[f32; CHANNELS],
    ) -> Option<Reason> {
        let resting = match self.state {
            State::Rest => true,
            State::Motion(_) => false,
            _ => return None,
        };
        let [_, travel, ..] = *values;
        let p = &self.config.told;
        let travel_max = if resting {
            p.rest_travel_max_m
        } else {
            p.travel_max_m
        };
        let far = travel.abs() > travel_max;
        let floor_max = p.floor_rms_max_mps2 * p.floor_rms_max_mps2;
        [
            (!switches.has(Switches::STOP_CIRCUIT), Reason::StopCircuit),
            (!switches.has(Switches::ARM), Reason::Disarmed),
            (switches.has(Switches::OCCUPANT), Reason::Occupied),
            (faults.any(), Reason::Fault(faults)),
            (far && resting, Reason::NotLevel),
            (far && !resting, Reason::Travel),
            (self.floor_square > floor_max, Reason::FloorMoves),
        ]
        .into_iter()
        .find_map(|(holds, reason)| holds.then_some(reason))
    }

    fn rest(&mut self, values: &[f32; CHANNELS]) {
        if self.sums.push(values) < self.config.rest_steps {
            return;
        }
        self.rest = self.sums.rest();
        self.state = if self.rest.floor_rms_mps2 > self.config.told.floor_rms_max_mps2 {
            State::Aborted(Reason::FloorMoves)
        } else {
            self.begin(0)
        };
    }

    /// Begins the motion of this number; after the last one, the judging.
    fn begin(&mut self, number: u8) -> State {
        self.motion = self
            .plans
            .get(usize::from(number))
            .copied()
            .map(Motion::new);
        if self.motion.is_some() {
            return State::Motion(number);
        }
        let floor_sign = self.relative().floor_to_travel();
        self.fitting = Some(Fitting::new(&self.told, floor_sign));
        State::Judging
    }

    /// One step of a motion: its current, A.
    fn motion(&mut self, number: u8, values: &[f32; CHANNELS]) -> f32 {
        let rest = &self.rest;
        let at = [
            rest.current_a,
            rest.travel_m,
            rest.seat_mps2,
            rest.floor_mps2,
        ];
        let mut off = *values;
        for (off, at) in off.iter_mut().zip(at) {
            *off -= at;
        }
        let [.., floor] = off;
        let _ = self.floor_lag.step(&mut self.floor_square, floor * floor);
        match self.motion.as_mut().map(|m| m.step(&off)) {
            Some(Progress::Drive(current_a)) => return current_a,
            Some(Progress::Ended(measured)) => {
                if let Some(place) = self.measured.get_mut(usize::from(number)) {
                    *place = measured;
                }
                self.state = self.begin(number.saturating_add(1));
            }
            Some(Progress::NoMotion) | None => self.state = State::Aborted(Reason::NoMotion),
        }
        0.0
    }

    fn relative(&self) -> Relative {
        let [_, _, large, _] = &self.measured;
        let correlation_min = self.config.told.correlation_min;
        Relative::new(&large.tone, large.command, &self.rest, correlation_min)
    }

    /// One step of the solution; judges once it is there.
    fn work_out(&mut self) {
        let [low, small, large, slow] = self.measured.map(|m| m.tone);
        let single = [low, small, large];
        let solution = self.fitting.as_mut().map_or(Solution::None, |fitting| {
            fitting.step(&self.told, &single, &slow)
        });
        self.finding = match solution {
            Solution::Working => return,
            Solution::Found(fit) => self.find(fit, &single),
            Solution::None => None,
        };
        self.state = match self.finding {
            Some(_) => State::Done,
            None => State::Aborted(Reason::Undetermined),
        };
    }

    /// Judges. `None` when a gain is no number.
    fn find(&self, fit: Fit, single: &[Tone; 3]) -> Option<Finding> {
        let relative = self.relative();
        let floor_sign = relative.floor_to_travel();
        let mean = |sum: f32| sum * (1.0 / 3.0);
        let against_travel = |t: &Tone| t.seat.size() / t.accel(floor_sign).size();
        let travel_gain = mean(single.iter().map(against_travel).sum());
        let measured = self.measured.iter().take(single.len());
        let current_gain = mean(
            measured
                .map(|m| m.tone.current.size() / m.command.size())
                .sum(),
        );
        let finite = travel_gain.is_finite() && current_gain.is_finite();
        finite.then(|| {
            let evidence = Evidence {
                fit,
                relative,
                rest: &self.rest,
                travel_gain,
                current_gain,
            };
            judge(&self.told, &self.config.told, &evidence)
        })
    }

    fn answer(&self, sequence: u16, current_a: f32, faults: Faults) -> DriveFrame {
        let mode = match self.state {
            State::Motion(_) => DRIVING,
            State::Aborted(_) => Mode::Fault.code(),
            State::Waiting | State::Rest | State::Judging | State::Done => Mode::Damped.code(),
        };
        if mode != DRIVING {
            return DriveFrame {
                sequence,
                mode,
                faults: faults.0,
                ..DriveFrame::SAFE
            };
        }
        DriveFrame {
            sequence,
            // Rounds toward zero, so that the stated force is kept; saturates, and is zero for what is no number.
            current_command: (current_a * self.per_current_count) as i16,
            outputs: DriveFrame::ENABLE,
            mode,
            faults: faults.0,
        }
    }
}
