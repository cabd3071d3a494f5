//! The closed loop: plant, sensors, the firmware's own cycle, and the way of its answers to the plant.
//!
//! Every period has two halves: [`ClosedLoop::ask`] samples the sensors and steps the law;
//! [`ClosedLoop::advance`] sends an answer on its way and moves the plant under the one that
//! arrives. Between them a caller may look, or replace the answer. A loop that runs can be
//! cloned: both copies go on with the same bits.

use crate::body::Body;
use crate::fault::Injection;
use crate::machine::{MachineErrors, adjuster};
use crate::plant::{Config, Drive, Plant};
use crate::rig::Rig;
use crate::sensors::{Chance, SensorBank, Truth};
use firmware::{Cycle, DriveFrame, Inside, SensorFrame, Switches};
use shared_math::Scalar;

/// One machine under its law.
#[derive(Clone)]
pub struct ClosedLoop<'a, S> {
    rig: &'a Rig,
    plant: Plant,
    sensors: SensorBank,
    cycle: Cycle<S>,
    pipe: Vec<DriveFrame>,
    period: u64,
    injection: Option<Box<Injection<S>>>,
}

/// What the law was shown and what it said.
#[derive(Clone, Copy, Debug)]
pub struct Asked<S> {
    /// What the sensors gave.
    pub frame: SensorFrame,
    /// The law's answer.
    pub answer: DriveFrame,
    /// What it thought.
    pub inside: Inside<S>,
    /// The law made a step; if not, it stood still, and the answer is an earlier one.
    pub stepped: bool,
}

impl<'a, S: Scalar> ClosedLoop<'a, S> {
    /// A machine at rest with `body` on it, its hidden errors drawn from `seed`. `coil_c` is the
    /// winding's temperature at the start, ambient when absent.
    #[must_use]
    pub fn new(rig: &'a Rig, cycle: Cycle<S>, body: Body, seed: u64, coil_c: Option<f64>) -> Self {
        let draw = MachineErrors::draw(rig, &mut Chance::new(seed, 1));
        let config = Config::active(rig, draw.force, draw.level);
        let preload = f64::from(rig.firmware.weigh.preload_n) + draw.preload_n;
        let at = Plant::rest_travel(&config, &body, preload);
        let mut plant = Plant::new(config, body, preload, at);
        if let Some(c) = coil_c {
            plant.set_temperatures([c, 0.5 * (c + rig.thermal.ambient_c)]);
        }
        let start = Truth::of(&plant, 0.0);
        Self {
            rig,
            sensors: SensorBank::new(&rig.sensors, rig.timing.step_s, seed, &start),
            plant,
            cycle,
            pipe: vec![DriveFrame::default(); rig.timing.transport_steps],
            period: 0,
            injection: None,
        }
    }

    /// Puts faults into the machine, before or while it runs. Their onsets count from its first period.
    pub fn inject(&mut self, injection: Injection<S>) {
        self.injection = Some(Box::new(injection));
    }

    /// Time at the start of this period, s.
    #[must_use]
    pub fn time_s(&self) -> f64 {
        self.period as f64 * self.rig.timing.step_s
    }

    /// The plant.
    #[must_use]
    pub const fn plant(&self) -> &Plant {
        &self.plant
    }

    /// The law.
    #[must_use]
    pub const fn cycle(&self) -> &Cycle<S> {
        &self.cycle
    }

    /// The law, for one who reaches into it.
    pub const fn cycle_mut(&mut self) -> &mut Cycle<S> {
        &mut self.cycle
    }

    /// Supported mass in truth, kg.
    #[must_use]
    pub fn mass_kg(&self) -> f64 {
        self.rig.seat.empty_mass_kg + self.plant.body().total_kg()
    }

    /// Puts another body on the seat.
    pub fn set_body(&mut self, body: Body) {
        self.plant.set_body(body);
    }

    /// Leaves the meetings with the stops until now out of the figures.
    pub fn forget_stops(&mut self) {
        self.plant.forget_stops();
    }

    /// First half of a period: the sensors are sampled on a floor of `floor_accel` m/s^2 and the
    /// law answers.
    pub fn ask(&mut self, floor_accel: f64, switches: Switches) -> Asked<S> {
        let switches = self.armed_after_the_start(switches);
        if let Some(injection) = &mut self.injection {
            let now = (self.period, floor_accel);
            let (plant, sensors) = (&mut self.plant, &mut self.sensors);
            return injection.ask(plant, sensors, &mut self.cycle, now, switches);
        }
        self.ask_altered(floor_accel, switches, |_| {})
    }

    /// The operator arms after the controller has started, as it demands.
    const fn armed_after_the_start(&self, switches: Switches) -> Switches {
        if self.period == 0 {
            Switches(switches.0 & !Switches::ARM)
        } else {
            switches
        }
    }

    /// [`ClosedLoop::ask`] of a machine without injected faults, whose frame is altered before the law sees it.
    pub fn ask_altered(
        &mut self,
        floor_accel: f64,
        switches: Switches,
        alter: impl FnOnce(&mut SensorFrame),
    ) -> Asked<S> {
        let switches = self.armed_after_the_start(switches);
        let truth = Truth::of(&self.plant, floor_accel);
        let mut frame = self.sensors.sample(&truth, self.time_s(), switches);
        alter(&mut frame);
        let (answer, inside) = self.cycle.watch(&frame);
        Asked {
            frame,
            answer,
            inside,
            stepped: true,
        }
    }

    /// Second half: `answer` is sent, the answer of [`crate::rig::Timing::transport_steps`] periods
    /// ago acts, and the plant moves on while the floor's acceleration goes from `start` to `end`, m/s^2.
    pub fn advance(&mut self, answer: DriveFrame, start: f64, end: f64) {
        let answer = match &mut self.injection {
            Some(injection) => injection.send(answer, &mut self.pipe, self.period),
            None => answer,
        };
        let slot = self.period as usize % self.pipe.len();
        let acting = core::mem::replace(&mut self.pipe[slot], answer);
        let asked = Drive::of(&acting, self.rig);
        let drive = match &mut self.injection {
            Some(injection) => injection.drive(&self.plant, asked, self.period),
            None => asked,
        };
        self.plant.step(start, end, drive, adjuster(&acting));
        self.period += 1;
    }
}

/// Armed, with the stop circuit closed; and seated, when somebody is.
#[must_use]
pub const fn switches(seated: bool) -> Switches {
    let occupant = if seated { Switches::OCCUPANT } else { 0 };
    Switches(Switches::ARM | Switches::STOP_CIRCUIT | occupant)
}
