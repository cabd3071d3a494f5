//! One test motion: current up until the travel is wanted, settle, lock in, current down.

use super::fit::{Told, Tone};
use super::phasor::{Beat, CHANNELS, Lockin, Phasor, Wave};
use core::f32::consts::{PI, TAU};
use shared_math::Scalar;

/// Cycles in which the current is led to the wanted travel.
const ADAPT: u16 = 16;
/// Cycles left out after that.
const SETTLE: u16 = 4;
/// Cycles that count.
const MEASURE: u16 = 16;
/// The same of the slow motion.
const SLOW_ADAPT: u16 = 2;
const SLOW_SETTLE: u16 = 1;
const SLOW_MEASURE: u16 = 4;
/// Least share of the wanted travel that can be used.
const TRAVEL_SHARE_MIN: f32 = 0.3;

/// A sine to be made: length of a cycle, wanted travel, first guess of the current.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sine {
    pub(super) steps: u16,
    pub(super) travel_m: f32,
    pub(super) guess_a: f32,
}

impl Sine {
    /// A sine of cycles of `steps` periods of `step_s` (s). The guess is by the parameter table, with so much
    /// dry friction; see [`super::fit`] for the equations.
    pub(super) fn new(told: &Told, steps: u16, step_s: f32, travel_m: f32, coulomb_n: f32) -> Self {
        let w = TAU / (f32::from(steps) * step_s);
        let stiff_n = (told.spring_npm - told.mass_kg * w * w) * travel_m;
        let lossy_n = told.viscous_nspm * w * travel_m + 4.0 / PI * coulomb_n;
        let force_n = Scalar::sqrt(stiff_n * stiff_n + lossy_n * lossy_n);
        Self {
            steps,
            travel_m,
            guess_a: force_n / told.force_constant_npa,
        }
    }
}

/// What is moved: a fast sine, and when told so a slow one on top of it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Plan {
    pub(super) fast: Sine,
    pub(super) slow: Option<Sine>,
    /// Largest current, A.
    pub(super) current_max_a: f32,
    /// Most that an amplitude may change in a step, A.
    pub(super) slew_a: f32,
    /// Control period, s.
    pub(super) step_s: f32,
    /// How late the current reading is, s.
    pub(super) current_lag_s: f32,
}

/// What a step comes to.
#[derive(Clone, Copy, Debug)]
pub(super) enum Progress {
    /// Goes on with this current, A.
    Drive(f32),
    /// At an end, current zero; what was measured.
    Ended(Measured),
    /// The seat moves too little for the largest current.
    NoMotion,
}

/// A measured motion and the command behind it, phase relative to travel, A.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Measured {
    pub(super) tone: Tone,
    pub(super) command: Phasor,
}

/// One sine while it runs.
#[derive(Clone, Copy, Debug)]
struct Source {
    sine: Sine,
    wave: Wave,
    lockin: Lockin,
    goal_a: f32,
    now_a: f32,
    cycles: u16,
    ends: [u16; 3],
}

impl Source {
    fn new(sine: Sine, start: f32, ends: [u16; 3], plan_max_a: f32) -> Self {
        Self {
            sine,
            wave: Wave::new(sine.steps),
            lockin: Lockin::default(),
            goal_a: Scalar::min(start * sine.guess_a, plan_max_a),
            now_a: 0.0,
            cycles: 0,
            ends,
        }
    }

    /// Readings of one step; the travel at the end of an adapting cycle when it is too little.
    fn step(&mut self, values: &[f32; CHANNELS], max_a: f32) -> (Beat, bool) {
        let beat = self.wave.step();
        self.lockin.push(beat, values);
        let mut stuck = false;
        if beat.ends {
            let [adapt, settle, measure] = self.ends;
            let counts = self.cycles >= settle && self.cycles < measure;
            let [_, travel, ..] = self.lockin.end_cycle(self.sine.steps, counts);
            let travel_m = travel.size();
            self.cycles = self.cycles.saturating_add(1);
            if self.cycles <= adapt {
                // Half way to the wanted travel: with dry friction it grows faster than the current.
                let ratio = if travel_m > 0.0 {
                    self.sine.travel_m / travel_m
                } else {
                    1.5
                };
                let by = 0.5 + 0.5 * Scalar::limit(ratio, 0.6, 1.5);
                self.goal_a = Scalar::min(self.goal_a * by, max_a);
            }
            stuck = self.cycles >= adapt && travel_m < TRAVEL_SHARE_MIN * self.sine.travel_m;
        }
        (beat, stuck)
    }

    const fn measured(&self) -> bool {
        let [.., measure] = self.ends;
        self.cycles >= measure
    }

    fn slew(&mut self, goal_a: f32, slew_a: f32) {
        self.now_a += Scalar::limit(goal_a - self.now_a, -slew_a, slew_a);
    }

    /// What was locked in to; nothing without travel.
    fn result(&self, plan: &Plan) -> Option<Measured> {
        let [current, travel, seat, floor] = self.lockin.mean();
        let w_radps = TAU / (f32::from(self.sine.steps) * plan.step_s);
        let in_time = current.turned(w_radps * plan.current_lag_s);
        let tone = Tone::new(w_radps, [in_time, travel, seat, floor])?;
        let command = Phasor {
            re: self.goal_a,
            im: 0.0,
        };
        Some(Measured {
            tone,
            command: command.relative_to(travel, tone.travel_m),
        })
    }
}

/// A test motion while it runs.
#[derive(Clone, Copy, Debug)]
pub(super) struct Motion {
    plan: Plan,
    fast: Source,
    slow: Option<Source>,
}

impl Motion {
    pub(super) fn new(plan: Plan) -> Self {
        let ends = match plan.slow {
            None => [ADAPT, ADAPT + SETTLE, ADAPT + SETTLE + MEASURE],
            // Holds its current until the slow motion is measured.
            Some(_) => [ADAPT, u16::MAX, u16::MAX],
        };
        Self {
            plan,
            // From below: the guess is the table's, the friction may be less.
            fast: Source::new(plan.fast, 0.5, ends, plan.current_max_a),
            slow: None,
        }
    }

    /// Takes current, travel, seat and floor acceleration of one step, less their values at rest.
    pub(super) fn step(&mut self, values: &[f32; CHANNELS]) -> Progress {
        let plan = &self.plan;
        let (beat, mut stuck) = self.fast.step(values, plan.current_max_a);
        let mut current = self.fast.now_a * beat.cos;
        if let Some(slow) = &mut self.slow {
            let (beat, is_stuck) = slow.step(values, plan.current_max_a);
            stuck |= is_stuck;
            current += slow.now_a * beat.cos;
        } else if beat.ends && self.fast.cycles >= ADAPT {
            const ALL: u16 = SLOW_ADAPT + SLOW_SETTLE;
            self.slow = plan.slow.map(|sine| {
                let ends = [SLOW_ADAPT, ALL, ALL + SLOW_MEASURE];
                Source::new(sine, 1.0, ends, plan.current_max_a)
            });
        }
        let chief = self.slow.as_ref().unwrap_or(&self.fast);
        let over = chief.measured();
        if over && self.fast.now_a == 0.0 && chief.now_a == 0.0 {
            return chief
                .result(plan)
                .map_or(Progress::NoMotion, Progress::Ended);
        }
        if stuck && !over {
            return Progress::NoMotion;
        }
        for source in [Some(&mut self.fast), self.slow.as_mut()]
            .into_iter()
            .flatten()
        {
            let goal = if over { 0.0 } else { source.goal_a };
            source.slew(goal, plan.slew_a);
        }
        Progress::Drive(Scalar::limit(
            current,
            -plan.current_max_a,
            plan.current_max_a,
        ))
    }
}
