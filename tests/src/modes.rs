//! Shared by the checks of the modes: frames fed to a cycle, and a machine with switches.

use crate::brakes::Brakes;
use firmware::{Cycle, DriveFrame, Fault, Faults, Marks, Mode, Parameters, SensorFrame, Switches};
use host_sim::body::{Body, BodyKind};
use host_sim::design;
use host_sim::machine::adjuster;
use host_sim::plant::{Config, Drive, Plant};
use host_sim::rig::Rig;
use host_sim::sensors::{SensorBank, Truth};
use shared_math::Scalar;

/// Armed, seated, stop circuit closed.
pub const ALL_ON: u8 = Switches::ARM | Switches::OCCUPANT | Switches::STOP_CIRCUIT;

/// Settle is over after this many steps at the latest.
pub const HAND_OVER_STEPS: u32 = 13_000;

pub fn rig() -> Rig {
    Rig::default_machine().expect("the default rig")
}

pub fn parameters() -> Parameters {
    design::parameters(&rig()).expect("parameters")
}

pub fn mode(drive: &DriveFrame) -> Mode {
    Mode::from_code(drive.mode).expect("a mode")
}

/// Steps of a time in the parameter table.
pub fn steps(time_s: f32) -> u32 {
    (time_s / parameters().timing.step_s).round() as u32
}

/// Within two steps: one of rounding, one because modes change with the next frame.
pub fn about(found: u32, stated: u32, what: &str) {
    assert!(
        found.abs_diff(stated) <= 2,
        "{what}: {found} steps, stated {stated}"
    );
}

/// Frames of a still, healthy machine, fed to a cycle; any field may be changed. The current follows its command.
pub struct Feed {
    pub cycle: Cycle<f32>,
    /// The next frame but for the noise.
    pub frame: SensorFrame,
    noise: u64,
    brakes: Brakes,
}

impl Feed {
    /// One step after reset; stop circuit closed, the other switches off.
    pub fn new() -> Self {
        Self::at(0)
    }

    /// The same with the seat at `travel`, counts.
    pub fn at(travel: i16) -> Self {
        let mut feed = Self::at_reset();
        feed.frame.travel = travel;
        feed.holds(Mode::Off, 1);
        feed
    }

    /// The same before the first step.
    pub fn at_reset() -> Self {
        Self {
            cycle: Cycle::new(&parameters()).expect("a cycle"),
            frame: SensorFrame {
                supply: 4800,
                coil_temperature: 250,
                switches: Switches(Switches::STOP_CIRCUIT),
                ..SensorFrame::default()
            },
            noise: 0x9E37_79B9_7F4A_7C15,
            brakes: Brakes::default(),
        }
    }

    /// Armed, seated and isolating for a second.
    pub fn active() -> Self {
        let mut feed = Self::new();
        feed.frame.switches = Switches(ALL_ON);
        feed.until(Mode::Active, 4000);
        feed.run(1000);
        assert_eq!(feed.cycle.mode(), Mode::Active);
        feed
    }

    /// Noise of both accelerometers, within 5 counts (20 mm/s2), by xorshift64*.
    fn next_noise(&mut self) -> i16 {
        self.noise ^= self.noise >> 12;
        self.noise ^= self.noise << 25;
        self.noise ^= self.noise >> 27;
        ((self.noise.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 40) % 11) as i16 - 5
    }

    /// One step; what holds in every step is checked here.
    pub fn step(&mut self) -> DriveFrame {
        let noisy = SensorFrame {
            floor_accel: self.frame.floor_accel.saturating_add(self.next_noise()),
            seat_accel: self.frame.seat_accel.saturating_add(self.next_noise()),
            ..self.frame
        };
        self.step_exactly(&noisy)
    }

    /// One step on this very frame; its number is given here.
    pub fn step_exactly(&mut self, frame: &SensorFrame) -> DriveFrame {
        let frame = SensorFrame {
            sequence: self.frame.sequence,
            ..*frame
        };
        self.frame.sequence = self.frame.sequence.wrapping_add(1);
        let drive = self.cycle.step(&frame);
        let now = mode(&drive);
        assert_eq!(now, self.cycle.mode());
        self.brakes.hold(&drive);
        let faults = Faults(drive.faults);
        if faults.any() {
            let allowed = match now {
                Mode::Settle if faults.within(Faults::BEARABLE) => true,
                Mode::Settle if faults.0 == Fault::Travel as u16 => true,
                Mode::Limp | Mode::Settle => {
                    faults.within(Faults::DISPENSABLE) && faults.0.is_power_of_two()
                }
                Mode::Release => faults.within(Faults::PASSING) || faults.within(Faults::RELEASED),
                _ => !now.drives(),
            };
            assert!(allowed, "{drive:?}");
        }
        if !frame.switches.has(Switches::STOP_CIRCUIT) {
            assert!(!drive.has(DriveFrame::ENABLE), "{drive:?}");
        }
        // Without ENABLE it is the share of the brake.
        self.frame.current = if now.drives() {
            drive.current_command
        } else {
            assert!(drive.current_command >= 0, "{drive:?}");
            0
        };
        drive
    }

    pub fn run(&mut self, steps: u32) {
        for _ in 0..steps {
            self.step();
        }
    }

    /// Steps until the mode is reached, itself counted; fails after `most`.
    pub fn until(&mut self, wanted: Mode, most: u32) -> u32 {
        for n in 1..=most {
            if mode(&self.step()) == wanted {
                return n;
            }
        }
        panic!(
            "{} not reached, still {}",
            wanted.name(),
            self.cycle.mode().name()
        );
    }

    /// Steps that hold a mode; fails when another one comes.
    pub fn holds(&mut self, wanted: Mode, steps: u32) {
        for n in 0..steps {
            let now = mode(&self.step());
            assert_eq!(now, wanted, "after {n} steps");
        }
    }
}

/// What one period of a [`Machine`] showed.
#[derive(Clone, Copy, Debug)]
pub struct Seen {
    pub time_s: f64,
    pub seat_accel: f64,
    pub travel: f64,
    pub mode: Mode,
    pub drive: DriveFrame,
    /// Share of the isolation, 0 to 1.
    pub isolation: f64,
    /// Share of the current limit that heat leaves, 0 to 1.
    pub heat_share: f64,
    /// Current limit of the firmware, share of the winding's own.
    pub coil_c: f64,
    pub contacts: u32,
}

/// Plant, sensors and cycle, with switches and occupant by hand. The machine's errors (force
/// constant, preload) are given, not drawn.
pub struct Machine {
    pub switches: u8,
    /// What the board says of its sensors.
    pub marks: Marks,
    pub plant: Plant,
    rig: Rig,
    cycle: Cycle<f32>,
    sensors: SensorBank,
    acting: DriveFrame,
    steps: u64,
    kind: BodyKind,
    load: (f64, f64, f64),
}

impl Machine {
    /// With `kg` on the seat (0 for nobody), armed, at rest under its own weight.
    pub fn new(rig: &Rig, kind: BodyKind, kg: f64, seed: u64) -> Self {
        let sign = if seed.is_multiple_of(2) { 1.0 } else { -1.0 };
        let config = Config::active(rig, sign * rig.actuator.force_constant_error, 0.0);
        let body = body(rig, kind, kg);
        let preload = f64::from(rig.firmware.weigh.preload_n) + sign * rig.spring.preload_error_n;
        let plant = Plant::new(
            config,
            body,
            preload,
            Plant::rest_travel(&config, &body, preload),
        );
        let parameters = design::parameters(rig).expect("parameters");
        Self {
            switches: Switches::ARM | Switches::STOP_CIRCUIT,
            marks: Marks::default(),
            sensors: SensorBank::new(
                &rig.sensors,
                rig.timing.step_s,
                seed,
                &Truth::of(&plant, 0.0),
            ),
            plant,
            rig: rig.clone(),
            cycle: Cycle::new(&parameters).expect("a cycle"),
            acting: DriveFrame::default(),
            steps: 0,
            kind,
            load: (kg, kg, -1.0),
        }
    }

    pub fn time_s(&self) -> f64 {
        self.steps as f64 * self.rig.timing.step_s
    }

    /// From now on the weight goes smoothly to `kg` within 0.4 s.
    pub fn change_occupant(&mut self, kg: f64) {
        self.load = (self.load.1, kg, self.time_s());
    }

    /// One control period on a floor whose acceleration goes from `floor.0` to `floor.1`.
    pub fn step(&mut self, floor: (f64, f64)) -> Seen {
        let time_s = self.time_s();
        let (from, to, since) = self.load;
        let x = ((time_s - since) / 0.4).min(1.0);
        let kg = from + (to - from) * x * x * (3.0 - 2.0 * x);
        if time_s - since < 0.41 {
            self.plant.set_body(body(&self.rig, self.kind, kg));
        }
        let mut switches = self.switches;
        // Power comes on with the arming switch off.
        if self.steps == 0 {
            switches &= !Switches::ARM;
        }
        if kg > 10.0 {
            switches |= Switches::OCCUPANT;
        }
        let mut frame =
            self.sensors
                .sample(&Truth::of(&self.plant, floor.0), time_s, Switches(switches));
        frame.marks = self.marks;
        let (drive, inside) = self.cycle.watch(&frame);
        let acting = core::mem::replace(&mut self.acting, drive);
        let inside = inside.map(Scalar::to_f64);
        let seen = Seen {
            time_s,
            seat_accel: self.plant.seat_accel(),
            travel: self.plant.travel(),
            mode: mode(&drive),
            drive,
            isolation: f64::from(inside.permit.isolation) / f64::from(1 << 24),
            heat_share: inside.drive.heat_share,
            coil_c: self.plant.temperatures()[0],
            contacts: self.plant.stops().contacts,
        };
        let output = Drive::of(&acting, &self.rig);
        self.plant.step(floor.0, floor.1, output, adjuster(&acting));
        self.steps += 1;
        seen
    }

    /// Steps on a still floor while `goes_on`, but at most `most_s`.
    pub fn still(&mut self, most_s: f64, goes_on: impl Fn(&Seen) -> bool) -> Vec<Seen> {
        let count = (most_s / self.rig.timing.step_s).round() as usize;
        let mut all = Vec::with_capacity(count);
        for _ in 0..count {
            let seen = self.step((0.0, 0.0));
            all.push(seen);
            if !goes_on(&seen) {
                break;
            }
        }
        all
    }
}

fn body(rig: &Rig, kind: BodyKind, kg: f64) -> Body {
    Body::new(kind, (kg * rig.seat.on_seat_share).max(0.01))
}

/// Largest seat acceleration, and its largest change within 20 ms, m/s2.
pub fn roughness(seen: &[Seen]) -> (f64, f64) {
    let peak = seen.iter().fold(0.0, |m: f64, s| m.max(s.seat_accel.abs()));
    let change = seen
        .windows(21)
        .map(|w| {
            let (lo, hi) = w.iter().fold((f64::MAX, f64::MIN), |m, s| {
                (m.0.min(s.seat_accel), m.1.max(s.seat_accel))
            });
            hi - lo
        })
        .fold(0.0, f64::max);
    (peak, change)
}
