//! One closed-loop ride: floor, plant and the firmware's own cycle.
//!
//! Every period the sensors are sampled, [`firmware::Cycle::step`] answers with
//! a drive frame, and the plant moves on under the frame of one or more periods
//! ago. A passive seat rides on the same floor beside it. Memory does not grow
//! with the length of a ride; an observer may look at every step.

use crate::body::BodyKind;
use crate::closed_loop::{Asked, ClosedLoop, switches};
use crate::cores::{CoreError, Difference, Shadow};
use crate::design;
use crate::exposure::{ExposureError, ExposureMeter, SpineMeter, SpineRiskModel, Weighting};
use crate::fault::notice::Notice;
use crate::fault::{Fault, InjectError, Injection, Kind, TimeFault, occupants};
use crate::flight::FlightRecorder;
use crate::floor::{self, FloorError, FloorMotion, FloorSpec, FloorState};
use crate::occupancy::Occupancy;
use crate::plant::{Config, Drive, Plant};
use crate::proof::watch::Watch;
use crate::range::{self, OutOfRange, within};
use crate::rig::Rig;
use crate::summary::{ActuatorFigures, EstimateFigures, SeatFigures, Summary, TravelFigures};
use firmware::{BuildError, Cycle, DriveFrame, Inside, Mode, Parameters, Recorded, SensorFrame};
use serde::{Deserialize, Serialize};
use shared_math::{Plain, Q24, Scalar};
use std::time::Instant;

/// Why a ride cannot be run.
#[derive(Debug, thiserror::Error)]
pub enum RideError {
    /// The floor.
    #[error(transparent)]
    Floor(#[from] FloorError),
    /// The firmware's parameters.
    #[error("rig section firmware: {0}")]
    Parameters(#[from] BuildError),
    /// The observer's design.
    #[error("rig section observer: {0}")]
    Design(#[from] design::DesignError),
    /// The exposure figures.
    #[error(transparent)]
    Exposure(#[from] ExposureError),
    /// A value of the ride itself.
    #[error(transparent)]
    Value(#[from] OutOfRange),
    /// A fault.
    #[error(transparent)]
    Fault(#[from] InjectError),
    /// The core that the law was to run in.
    #[error(transparent)]
    Core(#[from] CoreError),
    /// The core answered otherwise than the host's own law.
    #[error("{0}")]
    Parity(Difference),
    /// The law's numbers are not words of 32 bits.
    #[error(
        "arithmetic: expected f32 or fixed with a flight recorder: their numbers are words of 32 bits"
    )]
    NotRecorded,
    /// A fault that takes the recording with it.
    #[error(
        "fault watchdog: expected none with a flight recorder: the reset that it brings takes the recording with it"
    )]
    RecorderReset,
    /// The ride was interrupted.
    #[error("interrupted; nothing was written")]
    Interrupted,
}

/// Arithmetic that the law runs in.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Arithmetic {
    /// Single precision, as on a controller with an FPU.
    #[default]
    F32,
    /// Double precision, the reference.
    F64,
    /// Saturating fixed point with 24 fractional bits.
    Fixed,
}

impl Arithmetic {
    /// All arithmetics; the place of one is its number in frame files.
    pub const ALL: [Self; 3] = [Self::F32, Self::F64, Self::Fixed];

    /// The arithmetic of that name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|a| a.name() == name)
    }

    /// Name on the command line and in files.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::F32 => "f32",
            Self::F64 => "f64",
            Self::Fixed => "fixed",
        }
    }
}

/// A change of who sits on the seat during a ride.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OccupantChange {
    /// When, s.
    pub at_s: f64,
    /// Mass of the new occupant, kg; 0 leaves the seat empty.
    pub occupant_kg: f64,
}

/// What is ridden.
#[derive(Clone, Debug, PartialEq)]
pub struct RideSpec {
    /// The floor; its seed is the ride's seed.
    pub floor: FloorSpec,
    /// Mass of the occupant at the start, kg; 0 for nobody.
    pub occupant_kg: f64,
    /// How the occupant's body moves.
    pub body: BodyKind,
    /// Length, s.
    pub seconds: f64,
    /// Start left out of all figures, s.
    pub skip_s: f64,
    /// Arithmetic of the law.
    pub arithmetic: Arithmetic,
    /// Later changes, in order of time.
    pub changes: Vec<OccupantChange>,
    /// Winding temperature at the start, degrees Celsius; ambient when absent.
    pub coil_c: Option<f64>,
    /// What breaks on the way.
    pub faults: Vec<Fault>,
}

impl RideSpec {
    /// 60 s on the named floor: 80 kg, two-mass body, single precision.
    #[must_use]
    pub fn on(floor: FloorSpec) -> Self {
        Self {
            floor,
            occupant_kg: 80.0,
            body: BodyKind::TwoMass,
            seconds: 60.0,
            skip_s: 5.0,
            arithmetic: Arithmetic::F32,
            changes: Vec::new(),
            coil_c: None,
            faults: Vec::new(),
        }
    }

    fn check(&self) -> Result<(), OutOfRange> {
        let occupant = |field, kg: f64| {
            if kg == 0.0 {
                Ok(())
            } else {
                within(field, kg, 20.0, 200.0, "0 for nobody, or 20 to 200 kg")
            }
        };
        range::lengths(self.seconds, self.skip_s)?;
        occupant("occupant", self.occupant_kg)?;
        let mut last = 0.0;
        for change in &self.changes {
            occupant("changes.occupant_kg", change.occupant_kg)?;
            within(
                "changes.at_s",
                change.at_s,
                last,
                self.seconds,
                "times in order, within the ride",
            )?;
            last = change.at_s;
        }
        for fault in &self.faults {
            within(
                "fault.onset_s",
                fault.onset_s,
                0.0,
                self.seconds - 0.001,
                "a time within the ride",
            )?;
        }
        if let Some(c) = self.coil_c {
            within("coil_c", c, -60.0, 300.0, "-60 to 300 degrees Celsius")?;
        }
        Ok(())
    }
}

/// Truth and estimates of one period, for an observer.
#[derive(Clone, Copy, Debug)]
pub struct Sample {
    /// Time of the sample, s.
    pub time_s: f64,
    /// The floor.
    pub floor: FloorState,
    /// Seat acceleration, m/s^2.
    pub seat_accel: f64,
    /// Travel, m.
    pub travel: f64,
    /// Travel rate, m/s.
    pub travel_rate: f64,
    /// Motor force, N.
    pub force: f64,
    /// Winding current, A.
    pub current: f64,
    /// Winding temperature, degrees Celsius.
    pub coil_c: f64,
    /// Supported mass, kg.
    pub mass_kg: f64,
    /// Spring preload, N.
    pub preload_n: f64,
    /// Passive seat: acceleration, m/s^2.
    pub passive_accel: f64,
    /// Passive seat: travel, m.
    pub passive_travel: f64,
    /// Passive seat: travel rate, m/s.
    pub passive_travel_rate: f64,
    /// What the sensors gave.
    pub frame: SensorFrame,
    /// What the firmware answered.
    pub drive: DriveFrame,
    /// What the firmware thought.
    pub inside: Inside<f64>,
}

impl Sample {
    /// A period of a machine on its own: `floor` at its start, what the law was `asked`, and the `drive` that is sent on
    /// its way. The passive seat is left at zero.
    #[must_use]
    pub fn new<S: Scalar>(
        machine: &ClosedLoop<'_, S>,
        floor: FloorState,
        asked: &Asked<S>,
        drive: DriveFrame,
    ) -> Self {
        let plant = machine.plant();
        Self {
            time_s: machine.time_s(),
            floor,
            seat_accel: plant.seat_accel(),
            travel: plant.travel(),
            travel_rate: plant.travel_rate(),
            force: plant.force(),
            current: plant.current(),
            coil_c: plant.temperatures()[0],
            mass_kg: machine.mass_kg(),
            preload_n: plant.preload(),
            passive_accel: 0.0,
            passive_travel: 0.0,
            passive_travel_rate: 0.0,
            frame: asked.frame,
            drive,
            inside: asked.inside.map(Scalar::to_f64),
        }
    }

    /// Whether the law isolates: mode active, derated or beyond.
    #[must_use]
    pub fn isolates(&self) -> bool {
        matches!(
            Mode::from_code(self.drive.mode),
            Some(Mode::Active | Mode::Derated | Mode::Beyond)
        )
    }

    /// By how much the arrest changes what isolation wants, m/s^2; zero where that is next to nothing, or
    /// where the law does not isolate.
    #[must_use]
    pub fn arrest_mps2(&self) -> f64 {
        let change = self.inside.arrest.permitted - self.inside.wanted;
        if self.isolates() && change.abs() > ARREST_ACTS_MPS2 {
            change
        } else {
            0.0
        }
    }
}

/// Wanted and permitted acceleration differ by more than this when the arrest acts, m/s^2.
const ARREST_ACTS_MPS2: f64 = 0.05;

/// Runs a ride. `look` sees every period and may stop the ride by returning false.
///
/// # Errors
/// A floor, parameter or value that cannot be used, or an interruption.
pub fn run(
    rig: &Rig,
    spec: &RideSpec,
    look: impl FnMut(&Sample) -> bool,
) -> Result<Summary, RideError> {
    run_answered(rig, spec, |_, drive| Ok(*drive), look)
}

/// The same, in lockstep with another core: its answers drive the plant. The host's own law runs
/// beside it and must give the same bits.
///
/// # Errors
/// As [`run`]; what the link says; the first difference between the cores.
pub fn run_in_core(
    rig: &Rig,
    spec: &RideSpec,
    core: &mut Shadow,
    look: impl FnMut(&Sample) -> bool,
) -> Result<Summary, RideError> {
    let answer = |frame: &SensorFrame, host: &DriveFrame| match core.step(frame, host)? {
        None => Ok(*host),
        Some(difference) => Err(RideError::Parity(difference)),
    };
    run_answered(rig, spec, answer, look)
}

/// The same as [`run`] with a flight recorder beside the law, which is begun here.
///
/// # Errors
/// As [`run`]; an arithmetic that cannot be recorded; a fault that resets the controller.
pub fn run_recorded(
    rig: &Rig,
    spec: &RideSpec,
    recorder: &mut FlightRecorder,
    look: impl FnMut(&Sample) -> bool,
) -> Result<Summary, RideError> {
    let resets = |f: &Fault| f.kind == Kind::Time(TimeFault::Watchdog);
    if spec.faults.iter().any(resets) {
        return Err(RideError::RecorderReset);
    }
    spec.check()?;
    let parameters = design::parameters(rig)?;
    match spec.arithmetic {
        Arithmetic::F32 => run_noted::<f32>(rig, spec, &parameters, recorder, look),
        Arithmetic::F64 => Err(RideError::NotRecorded),
        Arithmetic::Fixed => run_noted::<Q24>(rig, spec, &parameters, recorder, look),
    }
}

fn run_noted<S: Recorded>(
    rig: &Rig,
    spec: &RideSpec,
    parameters: &Parameters,
    recorder: &mut FlightRecorder,
    look: impl FnMut(&Sample) -> bool,
) -> Result<Summary, RideError> {
    let cycle = Cycle::<S>::new(parameters)?;
    recorder.begin(&cycle);
    let injection = if spec.faults.is_empty() {
        None
    } else {
        let reset = cycle.clone();
        Some(Injection::into_memory(
            rig,
            &spec.faults,
            spec.floor.seed,
            reset,
        )?)
    };
    let note = |cycle: &Cycle<S>, asked: &Asked<S>| {
        if asked.stepped {
            recorder.note(cycle, &asked.frame, &asked.answer);
        }
    };
    let answer = |_: &SensorFrame, drive: &DriveFrame| Ok(*drive);
    run_law(rig, spec, (cycle, injection), answer, note, look)
}

fn run_answered(
    rig: &Rig,
    spec: &RideSpec,
    answer: impl FnMut(&SensorFrame, &DriveFrame) -> Result<DriveFrame, RideError>,
    look: impl FnMut(&Sample) -> bool,
) -> Result<Summary, RideError> {
    spec.check()?;
    let parameters = design::parameters(rig)?;
    if spec.faults.iter().any(|f| f.kind == Kind::MemoryFlip) {
        return match spec.arithmetic {
            Arithmetic::F32 => run_struck::<f32>(rig, spec, &parameters, answer, look),
            Arithmetic::F64 => Err(InjectError::NoWords.into()),
            Arithmetic::Fixed => run_struck::<Q24>(rig, spec, &parameters, answer, look),
        };
    }
    match spec.arithmetic {
        Arithmetic::F32 => run_plain::<f32>(rig, spec, &parameters, answer, look),
        Arithmetic::F64 => run_plain::<f64>(rig, spec, &parameters, answer, look),
        Arithmetic::Fixed => run_plain::<Q24>(rig, spec, &parameters, answer, look),
    }
}

fn run_plain<S: Scalar>(
    rig: &Rig,
    spec: &RideSpec,
    parameters: &Parameters,
    answer: impl FnMut(&SensorFrame, &DriveFrame) -> Result<DriveFrame, RideError>,
    look: impl FnMut(&Sample) -> bool,
) -> Result<Summary, RideError> {
    let cycle = Cycle::<S>::new(parameters)?;
    let injection = if spec.faults.is_empty() {
        None
    } else {
        let reset = cycle.clone();
        Some(Injection::new(rig, &spec.faults, spec.floor.seed, reset)?)
    };
    run_law(rig, spec, (cycle, injection), answer, |_, _| {}, look)
}

/// With a law whose memory can be struck.
fn run_struck<S: Scalar + Plain>(
    rig: &Rig,
    spec: &RideSpec,
    parameters: &Parameters,
    answer: impl FnMut(&SensorFrame, &DriveFrame) -> Result<DriveFrame, RideError>,
    look: impl FnMut(&Sample) -> bool,
) -> Result<Summary, RideError> {
    let cycle = Cycle::<S>::new(parameters)?;
    let injection = Injection::into_memory(rig, &spec.faults, spec.floor.seed, cycle.clone())?;
    let law = (cycle, Some(injection));
    run_law(rig, spec, law, answer, |_, _| {}, look)
}

fn run_law<S: Scalar>(
    rig: &Rig,
    spec: &RideSpec,
    (cycle, injection): (Cycle<S>, Option<Injection<S>>),
    mut answer: impl FnMut(&SensorFrame, &DriveFrame) -> Result<DriveFrame, RideError>,
    mut note: impl FnMut(&Cycle<S>, &Asked<S>),
    mut look: impl FnMut(&Sample) -> bool,
) -> Result<Summary, RideError> {
    let step = rig.timing.step_s;
    let rate = 1.0 / step;
    let seed = spec.floor.seed;
    let mut source = floor::build(&spec.floor, rate)?;
    let changes = occupants(&spec.changes, spec.occupant_kg, &spec.faults);
    let mut occupancy = Occupancy::new(rig, spec.body, spec.occupant_kg, &changes);
    let body = occupancy.body_at(spec.occupant_kg);
    let mut machine = ClosedLoop::new(rig, cycle, body, seed, spec.coil_c);
    if let Some(injection) = injection {
        machine.inject(injection);
    }
    let passive_config = Config::passive(rig);
    let mut passive = Plant::new(
        passive_config,
        body,
        Plant::balance_n(&passive_config, &body),
        0.0,
    );

    let mut motion = FloorMotion::new(rate, source.next_accel(), source.next_accel());
    let mut books = Books::new(rig, spec, rate)?;
    let count = (spec.seconds * rate).round() as u64;
    let skip = (spec.skip_s * rate).round() as u64;
    let clock = Instant::now();

    for k in 0..count {
        let time = machine.time_s();
        if k == skip {
            machine.forget_stops();
            passive.forget_stops();
        }
        if let Some(body) = occupancy.step(time) {
            machine.set_body(body);
            passive.set_body(body);
            passive.set_preload(Plant::balance_n(&passive_config, &body));
        }
        let floor = motion.start();
        let seated = occupancy.seated(machine.plant().body());
        let asked = machine.ask(floor.accel_mps2, switches(seated));
        note(machine.cycle(), &asked);
        let drive = answer(&asked.frame, &asked.answer)?;

        let sample = Sample {
            passive_accel: passive.seat_accel(),
            passive_travel: passive.travel(),
            passive_travel_rate: passive.travel_rate(),
            ..Sample::new(&machine, floor, &asked, drive)
        };
        books.push(&sample, machine.plant().electrical_power(), k >= skip);
        if !look(&sample) {
            return Err(RideError::Interrupted);
        }

        let floor_end = motion.at(1.0).accel_mps2;
        machine.advance(drive, floor.accel_mps2, floor_end);
        passive.step(floor.accel_mps2, floor_end, Drive::None, 0);
        motion.advance(source.next_accel());
    }
    let real_time_factor = spec.seconds / clock.elapsed().as_secs_f64().max(1.0e-9);
    books.summary(spec, machine.plant(), &passive, real_time_factor)
}

/// A second-order Butterworth high-pass by the bilinear rule, for the floor-velocity error.
struct HighPass {
    b0: f64,
    a1: f64,
    a2: f64,
    s1: f64,
    s2: f64,
}

impl HighPass {
    fn new(corner_hz: f64, rate: f64) -> Self {
        let k = (core::f64::consts::PI * corner_hz / rate).tan();
        let norm = 1.0 / (1.0 + core::f64::consts::SQRT_2 * k + k * k);
        Self {
            b0: norm,
            a1: 2.0 * (k * k - 1.0) * norm,
            a2: (1.0 - core::f64::consts::SQRT_2 * k + k * k) * norm,
            s1: 0.0,
            s2: 0.0,
        }
    }

    fn step(&mut self, x: f64) -> f64 {
        let y = self.b0 * x + self.s1;
        self.s1 = -2.0 * self.b0 * x - self.a1 * y + self.s2;
        self.s2 = self.b0 * x - self.a2 * y;
        y
    }
}

/// Everything that is added up during a ride.
struct Books {
    floor: ExposureMeter,
    seat: ExposureMeter,
    passive: ExposureMeter,
    seat_spine: SpineMeter,
    passive_spine: SpineMeter,
    velocity_error: HighPass,
    counted: f64,
    travel: (f64, f64),
    passive_travel: (f64, f64),
    rate_error: f64,
    floor_error: f64,
    force: (f64, f64),
    power: (f64, f64),
    coil_max: f64,
    last_mass: (f64, f64),
    assumptions: Watch,
    notices: Vec<Notice>,
}

impl Books {
    fn new(rig: &Rig, spec: &RideSpec, rate: f64) -> Result<Self, RideError> {
        let meter = || ExposureMeter::new(Weighting::Wk, rate, spec.skip_s);
        let spine = || SpineMeter::new(rate, spec.skip_s);
        Ok(Self {
            floor: meter()?,
            seat: meter()?,
            passive: meter()?,
            seat_spine: spine()?,
            passive_spine: spine()?,
            velocity_error: HighPass::new(0.3, rate),
            counted: 0.0,
            travel: (0.0, 0.0),
            passive_travel: (0.0, 0.0),
            rate_error: 0.0,
            floor_error: 0.0,
            force: (0.0, 0.0),
            power: (0.0, 0.0),
            coil_max: f64::MIN,
            last_mass: (1.0, 1.0),
            assumptions: Watch::new(rig)?,
            notices: spec
                .faults
                .iter()
                .map(|fault| Notice::new(*fault))
                .collect(),
        })
    }

    fn push(&mut self, s: &Sample, power: f64, counts: bool) {
        self.assumptions.push(s, counts);
        for notice in &mut self.notices {
            notice.push(s);
        }
        self.floor.push(s.floor.accel_mps2);
        self.seat.push(s.seat_accel);
        self.passive.push(s.passive_accel);
        self.seat_spine.push(s.seat_accel);
        self.passive_spine.push(s.passive_accel);
        let floor_error = self
            .velocity_error
            .step(s.inside.motion.floor_velocity - s.floor.velocity_mps);
        if !counts {
            return;
        }
        let add = |book: &mut (f64, f64), x: f64| {
            book.0 += x * x;
            book.1 = book.1.max(x.abs());
        };
        self.counted += 1.0;
        add(&mut self.travel, s.travel);
        add(&mut self.passive_travel, s.passive_travel);
        add(&mut self.force, s.force);
        self.rate_error += (s.inside.motion.travel_rate - s.travel_rate).powi(2);
        self.floor_error += floor_error * floor_error;
        self.power.0 += power;
        self.power.1 = self.power.1.max(power);
        self.coil_max = self.coil_max.max(s.coil_c);
        self.last_mass = (s.inside.mass * 1000.0, s.mass_kg);
    }

    fn summary(
        self,
        spec: &RideSpec,
        plant: &Plant,
        passive: &Plant,
        real_time_factor: f64,
    ) -> Result<Summary, RideError> {
        let mean = |sum: f64| sum / self.counted.max(1.0);
        let travel = |book: (f64, f64), plant: &Plant| TravelFigures {
            peak_m: book.1,
            rms_m: mean(book.0).sqrt(),
            stop_contacts: plant.stops().contacts,
            contact_speed_max_mps: plant.stops().speed_max_mps,
        };
        let figures =
            |meter: &ExposureMeter, spine: &SpineMeter| -> Result<SeatFigures, RideError> {
                let e = meter.figures()?;
                let dose = spine.figures()?;
                Ok(SeatFigures {
                    weighted_rms_mps2: e.weighted_rms_mps2,
                    vdv_mps175: e.vdv_mps175,
                    mtvv_mps2: e.mtvv_mps2,
                    crest_factor: e.crest_factor,
                    peak_mps2: e.peak_mps2,
                    sd_mpa: SpineRiskModel::MALE_82_KG.daily_stress_mpa(dose.dose_mps2),
                })
            };
        let floor = self.floor.figures()?;
        let seat = figures(&self.seat, &self.seat_spine)?;
        let passive_seat = figures(&self.passive, &self.passive_spine)?;
        Ok(Summary::new(
            spec,
            floor,
            seat,
            passive_seat,
            travel(self.travel, plant),
            travel(self.passive_travel, passive),
            ActuatorFigures {
                force_rms_n: mean(self.force.0).sqrt(),
                force_peak_n: self.force.1,
                electrical_power_mean_w: mean(self.power.0),
                electrical_power_peak_w: self.power.1,
                coil_temperature_max_c: self.coil_max,
            },
            EstimateFigures {
                travel_rate_rms_error_mps: mean(self.rate_error).sqrt(),
                floor_velocity_rms_error_mps: mean(self.floor_error).sqrt(),
                mass_error_fraction: self.last_mass.0 / self.last_mass.1 - 1.0,
            },
            self.assumptions.figures(),
            self.notices.iter().map(Notice::figures).collect(),
            real_time_factor,
        ))
    }
}
