//! Shared by the checks of faults: a sound and a broken machine that get the same answers.

use firmware::{Cycle, DriveFrame, SensorFrame};
use host_sim::body::{Body, BodyKind};
use host_sim::closed_loop::{ClosedLoop, switches};
use host_sim::design;
use host_sim::fault::{Fault, Injection};
use host_sim::floor::{self, FloorSource, FloorSpec};
use host_sim::plant::Plant;
use host_sim::rig::Rig;

pub const STEP_S: f64 = 0.001;

pub fn rig() -> Rig {
    Rig::default_machine().expect("the default rig")
}

/// A rig whose sensors show the truth, rounded.
pub fn clean(mut rig: Rig) -> Rig {
    let s = &mut rig.sensors;
    for sensor in [
        &mut s.floor_accel,
        &mut s.seat_accel,
        &mut s.travel,
        &mut s.current,
        &mut s.supply,
        &mut s.coil_temperature,
    ] {
        sensor.noise_rms = 0.0;
        sensor.bias_max = 0.0;
        sensor.gain_error = 0.0;
        sensor.bandwidth_hz = 1.0e9;
    }
    rig
}

pub fn fault(text: &str) -> Fault {
    text.parse().expect(text)
}

pub fn cycle(rig: &Rig) -> Cycle<f32> {
    Cycle::new(&design::parameters(rig).expect("parameters")).expect("a cycle")
}

/// 80 kg, two-mass body, seed 3, with these faults.
pub fn machine<'a>(rig: &'a Rig, body: Body, faults: &[&str]) -> ClosedLoop<'a, f32> {
    let mut machine = ClosedLoop::new(rig, cycle(rig), body, 3, None);
    if !faults.is_empty() {
        let faults: Vec<Fault> = faults.iter().map(|text| fault(text)).collect();
        machine.inject(Injection::new(rig, &faults, 3, cycle(rig)).expect("an injection"));
    }
    machine
}

pub fn seated() -> Body {
    Body::new(BodyKind::TwoMass, 60.0)
}

pub fn hauler(level: f64) -> Box<dyn FloorSource> {
    let mut spec = FloorSpec::named("hauler");
    spec.level = level;
    floor::build(&spec, 1.0 / STEP_S).expect("a floor")
}

/// Frames of a sound machine and of a broken one whose motor gets the sound one's answers, for `periods`.
pub fn twin_frames(faults: &[&str], periods: u64) -> Vec<(SensorFrame, SensorFrame)> {
    twin_frames_of(&rig(), faults, periods)
}

pub fn twin_frames_of(rig: &Rig, faults: &[&str], periods: u64) -> Vec<(SensorFrame, SensorFrame)> {
    let mut sound = machine(rig, seated(), &[]);
    let mut broken = machine(rig, seated(), faults);
    let mut floor = hauler(1.0);
    let mut now = floor.next_accel();
    (0..periods)
        .map(|_| {
            let end = floor.next_accel();
            let (a, b) = (
                sound.ask(now, switches(true)),
                broken.ask(now, switches(true)),
            );
            sound.advance(a.answer, now, end);
            broken.advance(a.answer, now, end);
            now = end;
            (a.frame, b.frame)
        })
        .collect()
}

/// An answer that drives a current, A.
pub fn current(rig: &Rig, amperes: f64) -> DriveFrame {
    DriveFrame {
        current_command: (amperes / rig.sensors.current.per_count).round() as i16,
        outputs: DriveFrame::ENABLE,
        mode: 3,
        ..DriveFrame::default()
    }
}

/// An answer that shorts the windings.
pub const SHORT: DriveFrame = DriveFrame {
    current_command: i16::MAX,
    ..DriveFrame::SAFE
};

/// An answer that leaves the windings open.
pub fn open() -> DriveFrame {
    DriveFrame::default()
}

/// Runs a machine on a still or shaken floor with answers from `answer`, and looks at it after each period.
pub fn drive<'a>(
    rig: &'a Rig,
    body: Body,
    faults: &[&str],
    (level, periods): (f64, u64),
    mut answer: impl FnMut(u64) -> DriveFrame,
    mut look: impl FnMut(u64, &SensorFrame, &Plant),
) -> ClosedLoop<'a, f32> {
    let mut machine = machine(rig, body, faults);
    let mut floor = hauler(level);
    let mut now = floor.next_accel();
    for k in 0..periods {
        let end = floor.next_accel();
        let asked = machine.ask(now, switches(true));
        machine.advance(answer(k), now, end);
        look(k, &asked.frame, machine.plant());
        now = end;
    }
    machine
}

/// Everything of a plant that moves, as bits.
pub fn bits(plant: &Plant) -> [u64; 6] {
    [
        plant.travel(),
        plant.travel_rate(),
        plant.current(),
        plant.bus_voltage(),
        plant.seat_accel(),
        plant.temperatures()[0],
    ]
    .map(f64::to_bits)
}
