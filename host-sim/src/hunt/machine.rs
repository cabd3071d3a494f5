//! One machine, ridden through its start once, and candidates that branch off from there.

use super::Figures;
use super::floor::{Bounds, Knots, Wave};
use crate::body::{Body, BodyKind};
use crate::closed_loop::{Asked, ClosedLoop, switches};
use crate::floor::{FloorError, FloorState};
use crate::proof::watch::Watch;
use crate::ride::{RideError, Sample};
use crate::rig::Rig;
use firmware::{Cycle, Mode, Parameters};
use serde::Serialize;

/// Which machine, and who sits on it: within the rig's own errors.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Machine {
    /// Mass of the occupant, kg.
    pub occupant_kg: f64,
    /// Seated body.
    pub body: BodyKind,
    /// Draws force constant, adjuster, preload and all sensor errors and noise.
    pub seed: u64,
    /// Winding temperature at the start, degrees Celsius.
    pub coil_c: f64,
    /// The floor shakes during the start, so that the mass is found; else it stands still.
    pub shaken: bool,
}

/// A machine after its start.
#[derive(Clone)]
pub struct Warm<'a> {
    machine: Machine,
    bounds: Bounds,
    step_s: f64,
    running: ClosedLoop<'a, f32>,
    watch: Watch,
}

impl<'a> Warm<'a> {
    /// Rides the start.
    ///
    /// # Errors
    /// When a parameter cannot be used.
    pub fn start(
        rig: &'a Rig,
        parameters: &Parameters,
        machine: Machine,
        bounds: Bounds,
    ) -> Result<Self, RideError> {
        let step_s = rig.timing.step_s;
        let body = Body::new(machine.body, machine.occupant_kg * rig.seat.on_seat_share);
        let cycle = Cycle::<f32>::new(parameters)?;
        let mut running = ClosedLoop::new(rig, cycle, body, machine.seed, Some(machine.coil_c));
        let genome = vec![0.0; bounds.genes(step_s)];
        let knots = bounds.knots(&genome, machine.shaken, step_s);
        let samples = knots.samples(step_s)?;
        let mut watch = Watch::new(rig)?;
        for pair in samples.windows(2).take(knots.searched_from * knots.periods) {
            let (now, end) = ends(pair);
            let asked = running.ask(now, switches(true));
            watch.push(&sample(&running, &asked, now), false);
            running.advance(asked.answer, now, end);
        }
        running.forget_stops();
        Ok(Self {
            machine,
            bounds,
            step_s,
            running,
            watch,
        })
    }

    /// The machine.
    #[must_use]
    pub const fn machine(&self) -> &Machine {
        &self.machine
    }

    /// Number of genes of a floor.
    #[must_use]
    pub fn genes(&self) -> usize {
        self.bounds.genes(self.step_s)
    }

    /// The floor of a genome under this machine.
    #[must_use]
    pub fn knots(&self, genome: &[f64]) -> Knots {
        self.bounds.knots(genome, self.machine.shaken, self.step_s)
    }

    /// The floor of a wave under this machine.
    #[must_use]
    pub fn wave(&self, wave: &Wave) -> Knots {
        self.bounds.wave(wave, self.machine.shaken, self.step_s)
    }

    /// The genome whose floor is nearest to a floor of this machine.
    #[must_use]
    pub fn genome(&self, knots: &Knots) -> Vec<f64> {
        let searched = knots.accel_mps2.iter().skip(knots.searched_from + 1);
        let mut genome: Vec<f64> = searched.map(|a| a / self.bounds.accel_mps2).collect();
        genome.resize(self.genes(), 0.0);
        genome
    }

    /// Rides a floor from the end of the start on.
    ///
    /// # Errors
    /// As [`Knots::samples`].
    pub fn ride(&self, knots: &Knots) -> Result<Figures, FloorError> {
        let samples = knots.samples(self.step_s)?;
        let mut running = self.running.clone();
        let mut watch = self.watch.clone();
        let mut worst = Figures::default();
        for pair in samples.windows(2).skip(knots.searched_from * knots.periods) {
            let (now, end) = ends(pair);
            let asked = running.ask(now, switches(true));
            let plant = running.plant();
            let most = |worst: &mut f64, x: f64| *worst = worst.max(x.abs());
            most(&mut worst.travel_peak_m, plant.travel());
            most(&mut worst.seat_peak_mps2, plant.seat_accel());
            most(&mut worst.force_peak_n, plant.force());
            watch.push(&sample(&running, &asked, now), true);
            worst.latched |= asked.answer.mode == Mode::Fault.code();
            running.advance(asked.answer, now, end);
        }
        worst.contact_speed_mps = running.plant().stops().speed_max_mps;
        worst.assumptions = Some(watch.figures());
        Ok(worst)
    }
}

/// What a watch is shown of a period, as a ride shows it; of the floor only the acceleration.
fn sample(running: &ClosedLoop<'_, f32>, asked: &Asked<f32>, floor_accel: f64) -> Sample {
    let floor = FloorState {
        accel_mps2: floor_accel,
        ..FloorState::default()
    };
    Sample::new(running, floor, asked, asked.answer)
}

/// Both ends of a period, the second as `FloorMotion` gives it to the plant.
fn ends(pair: &[f64]) -> (f64, f64) {
    let (now, end) = (pair[0], pair[1]);
    (now, now + (end - now))
}
