//! A sound ride up to an onset, to be cloned for every fault, and its references over the window.

use super::plan::Place;
use super::window::Window;
use crate::body::BodyKind;
use crate::closed_loop::{Asked, ClosedLoop, switches};
use crate::fault::{Fault, Injection, occupants};
use crate::floor::{self, period_ends};
use crate::occupancy::Occupancy;
use crate::plant::{Config, Drive, Plant};
use crate::ride::{OccupantChange, RideError};
use crate::rig::Rig;
use firmware::{Cycle, DriveFrame, Faults, Parameters};

/// Faults are put in this long before their onset, s: some remember what was before.
const LEAD_S: f64 = 0.1;

/// A machine and a passive seat just before the onset.
pub struct Start<'a> {
    pub(super) rig: &'a Rig,
    pub(super) place: &'a Place,
    /// The law as it comes out of a reset.
    reset: Cycle<f32>,
    machine: ClosedLoop<'a, f32>,
    passive: Plant,
    /// The floor's acceleration, a sample a period from time 0 on.
    samples: Vec<f64>,
    /// Period in which faults are put in, and that of the onset.
    lead: usize,
    onset: usize,
    pub(super) healthy: Window,
    pub(super) passive_alone: Window,
}

/// A look at a period: its number since the onset, negative before; what the law was asked; the machine.
pub(super) type Look<'l> = dyn FnMut(i64, &Asked<f32>, &Plant) + 'l;

impl<'a> Start<'a> {
    /// Rides up to the onset of `place`, and the references on for `window_s`.
    ///
    /// # Errors
    /// The floor or the firmware's parameters.
    pub fn ride(
        rig: &'a Rig,
        parameters: &Parameters,
        place: &'a Place,
        window_s: f64,
    ) -> Result<Self, RideError> {
        let step_s = rig.timing.step_s;
        let rate = 1.0 / step_s;
        let count = |s: f64| (s * rate).round() as usize;
        let onset = count(place.onset_s);
        let last = onset + count(window_s);
        let mut source = floor::build(&place.floor, rate)?;
        let samples: Vec<f64> = (0..last + 2).map(|_| source.next_accel()).collect();

        let reset = Cycle::<f32>::new(parameters)?;
        let nobody_moves = Occupancy::new(rig, BodyKind::TwoMass, place.occupant_kg, &[]);
        let body = nobody_moves.body_at(place.occupant_kg);
        let config = Config::passive(rig);
        let mut start = Self {
            rig,
            place,
            machine: ClosedLoop::new(rig, reset.clone(), body, place.floor.seed, None),
            reset,
            passive: Plant::new(config, body, Plant::balance_n(&config, &body), 0.0),
            samples,
            lead: onset.saturating_sub(count(LEAD_S)),
            onset,
            healthy: Window::default(),
            passive_alone: Window::default(),
        };
        for k in 0..start.lead {
            let (now, end) = period_ends(&start.samples, k);
            let asked = start.machine.ask(now, switches(nobody_moves.seated(&body)));
            start.machine.advance(asked.answer, now, end);
            start.passive.step(now, end, Drive::None, 0);
        }
        let window = last - onset;
        start.healthy = start.law(&[], window, Firmware::AsItIs, &mut |_, _, _| ())?;
        start.passive_alone = start.passive(&[], window)?;
        Ok(start)
    }

    /// Who sits there, and when another one does.
    fn people<'c>(&self, changes: &'c [OccupantChange]) -> Occupancy<'c> {
        Occupancy::new(self.rig, BodyKind::TwoMass, self.place.occupant_kg, changes)
    }

    /// The machine from here on, with faults, for `window` periods from the onset.
    pub(super) fn law(
        &self,
        faults: &[Fault],
        window: usize,
        firmware: Firmware,
        look: &mut Look<'_>,
    ) -> Result<Window, RideError> {
        let mut machine = self.machine.clone();
        let mut reset = self.reset.clone();
        if firmware == Firmware::Unreacting {
            machine.cycle_mut().ignore_faults();
            reset.ignore_faults();
        }
        if !faults.is_empty() {
            machine.inject(Injection::new(
                self.rig,
                faults,
                self.place.floor.seed,
                reset,
            )?);
        }
        let changes = occupants(&[], self.place.occupant_kg, faults);
        let mut people = self.people(&changes);
        let mut kept = Window::default();
        for k in self.lead..self.onset + window {
            if k == self.onset {
                machine.forget_stops();
                if let Firmware::Told(faults) = firmware {
                    machine.cycle_mut().assume(faults);
                }
            }
            if let Some(body) = people.step(machine.time_s()) {
                machine.set_body(body);
            }
            let (now, end) = period_ends(&self.samples, k);
            let seated = people.seated(machine.plant().body());
            let asked = machine.ask(now, switches(seated));
            look(k as i64 - self.onset as i64, &asked, machine.plant());
            let answer = match firmware {
                Firmware::MotorOff { outputs, from } if k >= self.onset + from => DriveFrame {
                    outputs,
                    ..DriveFrame::SAFE
                },
                _ => asked.answer,
            };
            if k >= self.onset {
                kept.start(machine.plant());
            }
            machine.advance(answer, now, end);
            if k >= self.onset {
                kept.end(machine.plant());
            }
        }
        Ok(kept)
    }

    /// The passive seat from here on.
    pub(super) fn passive(&self, faults: &[Fault], window: usize) -> Result<Window, RideError> {
        let mut plant = self.passive.clone();
        let mut injection =
            Injection::new(self.rig, faults, self.place.floor.seed, self.reset.clone())?;
        let changes = occupants(&[], self.place.occupant_kg, faults);
        let mut people = self.people(&changes);
        let sound = *plant.config();
        let mut kept = Window::default();
        for k in self.lead..self.onset + window {
            if k == self.onset {
                plant.forget_stops();
            }
            if let Some(body) = people.step(k as f64 * self.rig.timing.step_s) {
                plant.set_body(body);
                plant.set_preload(Plant::balance_n(&sound, &body));
            }
            injection.break_plant(&mut plant, k as u64);
            let (now, end) = period_ends(&self.samples, k);
            if k >= self.onset {
                kept.start(&plant);
            }
            plant.step(now, end, Drive::None, 0);
            if k >= self.onset {
                kept.end(&plant);
            }
        }
        Ok(kept)
    }
}

/// Which firmware drives.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Firmware {
    /// As it is.
    AsItIs,
    /// No fault stands in it.
    Unreacting,
    /// As it is, and in the period of the onset it is told of these faults.
    Told(Faults),
    /// From so many periods after the onset on these outputs and no current.
    MotorOff { outputs: u8, from: usize },
}
