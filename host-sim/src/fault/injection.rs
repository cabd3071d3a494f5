//! The faults of one ride while it runs: each period of a closed loop passes through here when there are any.

use super::kind::{ActuatorFault, Kind, TimeFault};
use super::memory::{bits, flip};
use super::time::Step;
use super::{Fault, machine, operator, sensor, time};
use crate::closed_loop::Asked;
use crate::plant::{Config, Drive, Plant};
use crate::rig::Rig;
use crate::sensors::{Quantity, SensorBank, Truth};
use firmware::{Cycle, DriveFrame, Marks, SensorFrame, Switches};
use shared_math::{Plain, Scalar};

/// Why faults cannot be put into a machine.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum InjectError {
    /// A bit beyond the law's memory.
    #[error("fault memory-flip: size = {asked}: expected a whole number from 0 to {last}")]
    Bit {
        /// The bit asked for.
        asked: f64,
        /// The last one that there is.
        last: u64,
    },
    /// The law's numbers are not words of 32 bits.
    #[error(
        "fault memory-flip: arithmetic: expected f32 or fixed: their numbers are words of 32 bits"
    )]
    NoWords,
}

/// One fault with what it remembers.
#[derive(Clone)]
pub(super) struct Running {
    pub(super) fault: Fault,
    /// First period.
    pub(super) start: u64,
    /// First period after it.
    pub(super) end: u64,
    /// Periods between two comings.
    pub(super) every: u64,
    pub(super) memory: sensor::Memory,
    /// Last command of the output stage, A.
    pub(super) last_current_a: f64,
}

impl Running {
    /// Periods since the onset, while it acts.
    const fn since(&self, period: u64) -> Option<u64> {
        if period >= self.start && period < self.end {
            Some(period - self.start)
        } else {
            None
        }
    }
}

/// How one bit of a law turns over.
type Strike<S> = fn(&mut Cycle<S>, u64);

/// The faults of one machine.
#[derive(Clone)]
pub struct Injection<S> {
    step_s: f64,
    running: Vec<Running>,
    counts_per_unit: [f64; Quantity::ALL.len()],
    chance: crate::sensors::Chance,
    reset: Cycle<S>,
    strike: Option<Strike<S>>,
    /// The plant's constants before anything broke.
    sound: Option<Config>,
    acting: Vec<bool>,
    last_truth: Option<Truth>,
    last_asked: Option<Asked<S>>,
    sent: DriveFrame,
    dead: bool,
    late: bool,
    /// Current of the output stage while the motor is shorted behind the sensor, A.
    stage_a: Option<f64>,
}

/// Streams of chance: those of the machine and its sensors are 1 and 2.
const STREAM: u64 = 100;

impl<S: Scalar> Injection<S> {
    /// The faults of a machine of that rig; what of them is random is drawn from `seed`. `reset` is the law as it
    /// comes out of a reset.
    ///
    /// # Errors
    /// A flip of memory: it needs [`Injection::into_memory`].
    pub fn new(
        rig: &Rig,
        faults: &[Fault],
        seed: u64,
        reset: Cycle<S>,
    ) -> Result<Self, InjectError> {
        if faults.iter().any(|f| f.kind == Kind::MemoryFlip) {
            return Err(InjectError::NoWords);
        }
        Ok(Self::with(rig, faults, seed, reset, None))
    }

    fn with(
        rig: &Rig,
        faults: &[Fault],
        seed: u64,
        reset: Cycle<S>,
        strike: Option<Strike<S>>,
    ) -> Self {
        let step_s = rig.timing.step_s;
        let running = faults.iter().zip(STREAM + 1..).map(|(fault, stream)| {
            let (start, end) = fault.periods(step_s);
            Running {
                fault: *fault,
                start,
                end,
                every: ((fault.every_s / step_s).round() as u64).max(1),
                memory: sensor::Memory::new(seed, stream),
                last_current_a: 0.0,
            }
        });
        Self {
            step_s,
            running: running.collect(),
            counts_per_unit: Quantity::ALL.map(|q| q.counts_per_unit(&rig.sensors)),
            chance: crate::sensors::Chance::new(seed, STREAM),
            reset,
            strike,
            sound: None,
            acting: vec![false; faults.len()],
            last_truth: None,
            last_asked: None,
            sent: DriveFrame::default(),
            dead: false,
            late: false,
            stage_a: None,
        }
    }

    /// First half of a period: what has broken breaks, the sensors are sampled, and the law answers if it can.
    #[cold]
    #[inline(never)]
    pub(crate) fn ask(
        &mut self,
        plant: &mut Plant,
        sensors: &mut SensorBank,
        cycle: &mut Cycle<S>,
        (period, floor_accel): (u64, f64),
        switches: Switches,
    ) -> Asked<S> {
        self.break_plant(plant, period);
        let step = self.step(period);
        if step == Step::Restarted {
            *cycle = self.reset.clone();
            sensors.restart_numbers();
        }
        let truth = self.truth(&Truth::of(plant, floor_accel), period);
        let frame = self.sample(sensors, &truth, period, switches);
        self.dead = step == Step::Dead;
        let held = self.last_asked.filter(|_| step != Step::Restarted);
        let asked = match (step, held) {
            (Step::Dead | Step::Skipped, Some(last)) => Asked {
                frame,
                answer: if self.dead {
                    DriveFrame::SAFE
                } else {
                    last.answer
                },
                stepped: false,
                ..last
            },
            _ => {
                self.strike_memory(cycle, period);
                let (answer, inside) = cycle.watch(&frame);
                Asked {
                    frame,
                    answer,
                    inside,
                    stepped: true,
                }
            }
        };
        self.last_asked = Some(asked);
        asked
    }

    /// What reaches the motor's controller of an answer of this period.
    #[cold]
    #[inline(never)]
    pub(crate) fn send(
        &mut self,
        answer: DriveFrame,
        pipe: &mut [DriveFrame],
        period: u64,
    ) -> DriveFrame {
        if self.dead {
            // The outputs themselves rest in the safe state, at once.
            pipe.fill(DriveFrame::SAFE);
        }
        let late = self.each(period).any(|(r, since)| time::late(r, since));
        self.late = late;
        if !self.late {
            self.sent = answer;
        }
        self.sent
    }

    /// What reaches the windings of what the answer asks for.
    #[cold]
    #[inline(never)]
    pub(crate) fn drive(&mut self, plant: &Plant, asked: Drive, period: u64) -> Drive {
        let mut drive = asked;
        let mut short = false;
        for running in &mut self.running {
            let acts = running.since(period).is_some();
            short |= acts && running.fault.kind == Kind::Actuator(ActuatorFault::WindingShort);
            drive = machine::drive(running, drive, acts);
        }
        self.stage_a = short.then(|| {
            let before = self.stage_a.unwrap_or_else(|| plant.current());
            let Drive::Current(command) = asked else {
                return 0.0;
            };
            let follow = -(-plant.config().current_loop_radps * self.step_s).exp_m1();
            before + follow * (command - before)
        });
        drive
    }

    /// The faults that act in a period, each with the periods since its onset.
    fn each(&self, period: u64) -> impl Iterator<Item = (&Running, u64)> {
        self.running
            .iter()
            .filter_map(move |r| r.since(period).map(|since| (r, since)))
    }

    /// What of the faults acts on the plant itself: its constants, the support, what lies on and under the seat.
    pub(crate) fn break_plant(&mut self, plant: &mut Plant, period: u64) {
        let sound = *self.sound.get_or_insert_with(|| *plant.config());
        let mut changed = false;
        for (running, acting) in self.running.iter().zip(&mut self.acting) {
            let acts = running.since(period).is_some();
            if acts != *acting {
                if acts {
                    machine::begin(running, plant);
                } else {
                    machine::end(running, plant);
                }
                changed = true;
                *acting = acts;
            }
        }
        if changed {
            let broken = self.each(period).fold(sound, |config, (r, _)| {
                machine::broken(config, r.fault.kind, r.fault.size)
            });
            plant.set_config(broken);
        }
        for (running, since) in self.each(period) {
            machine::act(running, plant, since);
        }
    }

    fn step(&self, period: u64) -> Step {
        self.each(period)
            .map(|(r, since)| time::step(r, since))
            .find(|step| *step != Step::Made)
            .unwrap_or(Step::Made)
    }

    /// What there is to be sensed.
    fn truth(&mut self, now: &Truth, period: u64) -> Truth {
        let last = self.last_truth.replace(*now);
        let jitter = self
            .each(period)
            .find(|(r, _)| r.fault.kind == Kind::Time(TimeFault::Jitter))
            .map(|(r, _)| r.fault.size);
        let mut truth = match (jitter, last) {
            (Some(most), Some(last)) => {
                let early = time::how_early(&mut self.chance, most);
                time::sampled_early(&last, now, early)
            }
            _ => *now,
        };
        if let Some(current) = self.stage_a {
            truth.current = current;
        }
        truth
    }

    fn sample(
        &mut self,
        sensors: &mut SensorBank,
        truth: &Truth,
        period: u64,
        switches: Switches,
    ) -> SensorFrame {
        let jump = self.each(period).map(|(r, since)| time::jump(r, since));
        sensors.skip_numbers(jump.fold(0, u16::wrapping_add));
        let shown = self.each(period).fold(switches, |switches, (r, _)| {
            operator::switches(r.fault.kind, switches)
        });
        let (step_s, per_unit) = (self.step_s, self.counts_per_unit);
        let running = &mut self.running;
        let time_s = period as f64 * step_s;
        let mut frame = sensors.sample_altered(truth, time_s, shown, |quantity, mut counts| {
            for r in running.iter_mut() {
                if let (Kind::Sensor(q, fault), Some(since)) = (r.fault.kind, r.since(period))
                    && q == quantity
                {
                    let per_unit = per_unit[q as usize];
                    counts = sensor::before_converter(r, fault, counts, per_unit, since, step_s);
                }
            }
            counts
        });
        for r in &mut self.running {
            let since = r.since(period);
            match r.fault.kind {
                Kind::Sensor(q, fault) => {
                    let per_unit = per_unit[q as usize];
                    let counts = q.of(&frame);
                    let shown =
                        sensor::behind_converter(r, (q, fault), counts, per_unit, since, step_s);
                    q.put(&mut frame, shown);
                }
                Kind::Swapped(a, b) if since.is_some() => {
                    let (first, second) = (a.of(&frame), b.of(&frame));
                    a.put(&mut frame, second);
                    b.put(&mut frame, first);
                }
                _ => {}
            }
        }
        if self.late {
            frame.marks.0 |= Marks::LATE;
        }
        let repeats = self.each(period).any(|(r, since)| time::repeats(r, since));
        match self.last_asked {
            Some(last) if repeats => last.frame,
            _ => frame,
        }
    }

    fn strike_memory(&self, cycle: &mut Cycle<S>, period: u64) {
        if let Some(strike) = self.strike {
            for (running, _) in self.each(period) {
                if running.fault.kind == Kind::MemoryFlip {
                    strike(cycle, running.fault.size as u64);
                }
            }
        }
    }
}

impl<S: Scalar + Plain> Injection<S> {
    /// The same for a law whose memory can be struck.
    ///
    /// # Errors
    /// A bit beyond the law's memory.
    pub fn into_memory(
        rig: &Rig,
        faults: &[Fault],
        seed: u64,
        reset: Cycle<S>,
    ) -> Result<Self, InjectError> {
        let last = bits::<S>() - 1;
        for fault in faults {
            let asked = fault.size;
            if fault.kind == Kind::MemoryFlip && !(asked.fract() == 0.0 && asked <= last as f64) {
                return Err(InjectError::Bit { asked, last });
            }
        }
        Ok(Self::with(rig, faults, seed, reset, Some(flip::<S>)))
    }
}
