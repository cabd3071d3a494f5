//! The states that the machine can be in and the steps between them, found by running the firmware's own code.

use super::alphabet::{Bands, Latching, Letter, letters};
use firmware::supervise::{Config, Input, Latch, Parameters, Permit, State};
use firmware::{BuildError, Faults, Mode, Timing};
use std::collections::HashMap;

/// Control period of an exploration, s. Times are whole numbers of it.
pub const STEP_S: f32 = 0.001;

/// The machine and its latch, as `Cycle::step` joins them.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct Joined {
    /// The state machine.
    pub state: State,
    /// Latched faults.
    pub latch: Latch,
}

impl Joined {
    /// One step, in the order of `Cycle::step`; also the faults that stand.
    pub fn step(&mut self, config: &Config, seen: &Input) -> (Permit, Faults) {
        let faults = self.latch.hold(seen.faults);
        let permit = self.state.step(config, &Input { faults, ..*seen });
        self.latch.reset(permit.mode, self.state.armed());
        (permit, faults)
    }

    /// The latched faults.
    #[must_use]
    pub fn latched(&self) -> Faults {
        let mut latch = self.latch;
        latch.hold(Faults::default())
    }

    /// The same with bounded counters, and of the latched faults only their class.
    #[must_use]
    pub fn bounded(self, config: &Config) -> Self {
        let mut latch = Latch::default();
        latch.hold(Latching::of(self.latched()).faults());
        Self {
            state: self.state.bounded(config),
            latch,
        }
    }
}

/// One step of one state under one class of inputs.
#[derive(Clone, Copy, Debug)]
pub struct Step<'a> {
    /// Before.
    pub from: &'a Joined,
    /// The input.
    pub letter: &'a Letter,
    /// After, counters not yet bounded.
    pub to: &'a Joined,
    /// What the mode permits now.
    pub permit: &'a Permit,
    /// Faults that stand.
    pub faults: Faults,
}

/// Classes of letters, one bit each: arming and occupant switch on or not, disturbed or not, and whether an
/// assumption of the proof of the travel does not hold.
pub type Classes = u16;
/// Arming switch on.
pub const ARM_ON: Classes = 0xaaaa;
/// Arming switch off.
pub const ARM_OFF: Classes = !ARM_ON;
/// Somebody is seated.
pub const SEATED: Classes = 0xcccc;
/// No fault is seen and the stop circuit is closed.
pub const QUIET: Classes = 0x0f0f;
/// All assumptions of the proof hold.
pub const PROVED: Classes = 0x00ff;
/// Any.
pub const ANY: Classes = 0xffff;

fn class(letter: &Letter) -> Classes {
    1 << (u8::from(letter.arm)
        + 2 * u8::from(letter.occupant)
        + 4 * u8::from(letter.disturbed())
        + 8 * u8::from(letter.beyond))
}

/// All states that can be reached after reset, and all steps between them.
pub struct Graph {
    /// Constants of the machine.
    pub config: Config,
    /// Bands of its inputs.
    pub bands: Bands,
    /// The states; the first is that after reset.
    pub states: Vec<Joined>,
    /// Where the steps of each state begin in `steps`; one more at the end.
    starts: Vec<usize>,
    /// Next state, and the classes of letters that lead there.
    steps: Vec<(u32, Classes)>,
    /// State and letter pairs that were tried.
    pub tried: u64,
}

impl Graph {
    /// Explores the machine of `parameters`, whose times are small numbers of [`STEP_S`]. `look` sees every
    /// state under every letter once.
    ///
    /// # Errors
    /// When a parameter cannot be used.
    pub fn explore(
        parameters: &Parameters,
        mut look: impl FnMut(&Step<'_>),
    ) -> Result<Self, BuildError> {
        let config = parameters.build(&Timing {
            step_s: STEP_S,
            latency_s: 0.0,
        })?;
        let bands = Bands::of(parameters);
        let alphabet: Vec<(Letter, Input)> = letters()
            .map(|letter| (letter, bands.input(&letter, [1 << 30; 4])))
            .collect();
        let start = Joined::default();
        let mut graph = Self {
            config,
            bands,
            states: vec![start],
            starts: Vec::new(),
            steps: Vec::new(),
            tried: 0,
        };
        let mut known = HashMap::from([(start, 0_u32)]);
        let mut next: Vec<(Joined, Classes)> = Vec::new();
        while let Some(from) = graph.states.get(graph.starts.len()).copied() {
            graph.starts.push(graph.steps.len());
            next.clear();
            for (letter, input) in &alphabet {
                let mut to = from;
                let (permit, faults) = to.step(&config, input);
                look(&Step {
                    from: &from,
                    letter,
                    to: &to,
                    permit: &permit,
                    faults,
                });
                let to = to.bounded(&config);
                // Most letters lead where the last ones led.
                match next.iter_mut().rev().find(|(state, _)| *state == to) {
                    Some((_, classes)) => *classes |= class(letter),
                    None => next.push((to, class(letter))),
                }
            }
            graph.tried += alphabet.len() as u64;
            for (to, classes) in &next {
                let number = *known.entry(*to).or_insert_with(|| {
                    graph.states.push(*to);
                    graph.states.len() as u32 - 1
                });
                graph.steps.push((number, *classes));
            }
        }
        graph.starts.push(graph.steps.len());
        Ok(graph)
    }

    /// Mode of a state.
    #[must_use]
    pub fn mode(&self, state: usize) -> Mode {
        self.states[state].state.mode()
    }

    /// States that follow on `state` under letters of some of `classes`.
    pub fn next(&self, state: usize, classes: Classes) -> impl Iterator<Item = usize> + '_ {
        self.steps[self.starts[state]..self.starts[state + 1]]
            .iter()
            .filter(move |(_, by)| by & classes != 0)
            .map(|(to, _)| *to as usize)
    }

    /// States from which a state that `is_goal` can be reached, by any letters.
    #[must_use]
    pub fn leading_to(&self, is_goal: impl Fn(usize) -> bool) -> Vec<bool> {
        let count = self.states.len();
        let mut before: Vec<Vec<u32>> = vec![Vec::new(); count];
        for from in 0..count {
            for to in self.next(from, ANY) {
                before[to].push(from as u32);
            }
        }
        let mut leads: Vec<bool> = (0..count).map(&is_goal).collect();
        let mut open: Vec<usize> = (0..count).filter(|s| leads[*s]).collect();
        while let Some(state) = open.pop() {
            for &from in &before[state] {
                if !core::mem::replace(&mut leads[from as usize], true) {
                    open.push(from as usize);
                }
            }
        }
        leads
    }

    /// States that can be reached from those that `is_start`, by letters of `classes`; those included.
    #[must_use]
    pub fn reached_from(&self, is_start: impl Fn(usize) -> bool, classes: Classes) -> Vec<bool> {
        let mut seen: Vec<bool> = (0..self.states.len()).map(&is_start).collect();
        let mut open: Vec<usize> = (0..seen.len()).filter(|s| seen[*s]).collect();
        while let Some(state) = open.pop() {
            for to in self.next(state, classes) {
                if !core::mem::replace(&mut seen[to], true) {
                    open.push(to);
                }
            }
        }
        seen
    }

    /// The most steps that it can take under letters of `classes` alone to a state that `is_goal`, over all
    /// states and all such letters; `None` when some sequence never gets there.
    #[must_use]
    pub fn longest_to(&self, is_goal: impl Fn(usize) -> bool, classes: Classes) -> Option<u32> {
        let count = self.states.len();
        // Longest paths in the graph without the goal, leaves first: 0 unseen, 1 open, 2 done.
        let mut mark = vec![0_u8; count];
        let mut far = vec![0_u32; count];
        for root in 0..count {
            let mut stack = vec![(root, false)];
            while let Some((state, done)) = stack.pop() {
                if done {
                    let most = self.next(state, classes).map(|to| far[to] + 1).max();
                    far[state] = most.unwrap_or(0);
                    mark[state] = 2;
                    continue;
                }
                if mark[state] != 0 {
                    continue;
                }
                if is_goal(state) {
                    mark[state] = 2;
                    continue;
                }
                mark[state] = 1;
                stack.push((state, true));
                for to in self.next(state, classes) {
                    match mark[to] {
                        0 => stack.push((to, false)),
                        // Back to a state that is still open: a circle that avoids the goal.
                        1 => return None,
                        _ => {}
                    }
                }
            }
        }
        far.into_iter().max()
    }
}
