//! The closed loop alone, in one thread: floor, sensors, the law in single precision and the full
//! plant, without the passive seat, the figures and the records that a ride adds. Ten seconds of
//! `hauler` an iteration: 5 ms an iteration are 2000 times real time.

use criterion::{Criterion, criterion_group, criterion_main};
use firmware::{Cycle, DriveFrame, Switches};
use host_sim::body::{Body, BodyKind};
use host_sim::design;
use host_sim::floor::{self, FloorSpec};
use host_sim::machine::adjuster;
use host_sim::plant::{Config, Drive, Plant};
use host_sim::rig::Rig;
use host_sim::sensors::{SensorBank, Truth};
use std::hint::black_box;

const STEPS: u32 = 10_000;

fn ten_seconds(rig: &Rig, parameters: &firmware::Parameters) -> f64 {
    let step = rig.timing.step_s;
    let mut source = floor::build(&FloorSpec::named("hauler"), 1.0 / step).expect("a floor");
    let config = Config::active(rig, 0.05, 0.1);
    let body = Body::new(BodyKind::TwoMass, 60.0);
    let preload = f64::from(rig.firmware.weigh.preload_n);
    let mut plant = Plant::new(
        config,
        body,
        preload,
        Plant::rest_travel(&config, &body, preload),
    );
    let mut sensors = SensorBank::new(&rig.sensors, step, 1, &Truth::default());
    let mut cycle = Cycle::<f32>::new(parameters).expect("a cycle");
    let switches = Switches(Switches::ARM | Switches::OCCUPANT | Switches::STOP_CIRCUIT);
    let mut acting = DriveFrame::default();
    let mut now = source.next_accel();
    for k in 0..STEPS {
        let truth = Truth::of(&plant, now);
        let frame = sensors.sample(&truth, f64::from(k) * step, switches);
        let next = cycle.step(&frame);
        let drive = Drive::of(&acting, rig);
        let end = source.next_accel();
        plant.step(now, end, drive, adjuster(&acting));
        (now, acting) = (end, next);
    }
    plant.travel()
}

fn closed_loop(c: &mut Criterion) {
    let rig = Rig::default_machine().expect("the default rig");
    let parameters = design::parameters(&rig).expect("parameters");
    c.bench_function("closed loop, 10 s of hauler, f32", |b| {
        b.iter(|| black_box(ten_seconds(&rig, &parameters)));
    });
}

criterion_group!(benches, closed_loop);
criterion_main!(benches);
