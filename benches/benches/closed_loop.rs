//! The closed loop alone, in one thread: floor, sensors, the law in single precision and the full
//! plant, without the passive seat, the figures and the records that a ride adds. Ten seconds of
//! `hauler` an iteration: 5 ms an iteration are 2000 times real time.

use criterion::{Criterion, criterion_group, criterion_main};
use firmware::Cycle;
use host_sim::body::{Body, BodyKind};
use host_sim::closed_loop::{ClosedLoop, switches};
use host_sim::design;
use host_sim::floor::{self, FloorSpec};
use host_sim::rig::Rig;
use std::hint::black_box;

const STEPS: u32 = 10_000;

fn ten_seconds(rig: &Rig, parameters: &firmware::Parameters) -> f64 {
    let step = rig.timing.step_s;
    let mut source = floor::build(&FloorSpec::named("hauler"), 1.0 / step).expect("a floor");
    let body = Body::new(BodyKind::TwoMass, 60.0);
    let cycle = Cycle::<f32>::new(parameters).expect("a cycle");
    let mut machine = ClosedLoop::new(rig, cycle, body, 1, None);
    let mut now = source.next_accel();
    for _ in 0..STEPS {
        let asked = machine.ask(now, switches(true));
        let end = source.next_accel();
        machine.advance(asked.answer, now, end);
        now = end;
    }
    machine.plant().travel()
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
