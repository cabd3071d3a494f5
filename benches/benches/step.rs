//! Cost of one control step in each arithmetic, on the frames of a ride in active mode. A step has
//! 1 ms on the controller; a ride at 2000 times real time leaves 500 ns for step, plants and meters.

use criterion::{BatchSize, Criterion, Throughput, criterion_group, criterion_main};
use firmware::{Cycle, Mode, SensorFrame};
use host_sim::design;
use host_sim::floor::FloorSpec;
use host_sim::ride::{self, RideSpec};
use host_sim::rig::Rig;
use shared_math::{Q24, Scalar};
use std::hint::black_box;

const WARM_UP: usize = 5000;
const STEPS: usize = 5000;

/// Frames of 10 s on the hauler floor.
fn record(rig: &Rig) -> Vec<SensorFrame> {
    let mut spec = RideSpec::on(FloorSpec::named("hauler"));
    spec.seconds = 1e-3 * (WARM_UP + STEPS) as f64;
    let mut frames = Vec::new();
    ride::run(rig, &spec, |sample| {
        frames.push(sample.frame);
        true
    })
    .expect("a ride");
    frames
}

fn bench<S: Scalar>(criterion: &mut Criterion, name: &str) {
    let rig = Rig::default_machine().expect("the default rig");
    let parameters = design::parameters(&rig).expect("parameters");
    let frames = record(&rig);
    let (first, rest) = frames.split_at(WARM_UP);
    let mut cycle = Cycle::<S>::new(&parameters).expect("a cycle");
    for frame in first {
        cycle.step(frame);
    }
    assert_eq!(cycle.mode(), Mode::Active);
    let mut group = criterion.benchmark_group("step");
    group.throughput(Throughput::Elements(STEPS as u64));
    group.bench_function(name, |bencher| {
        bencher.iter_batched_ref(
            || cycle.clone(),
            |cycle| {
                for frame in rest {
                    black_box(cycle.step(black_box(frame)));
                }
            },
            BatchSize::SmallInput,
        );
    });
    group.finish();
}

fn step(criterion: &mut Criterion) {
    bench::<f32>(criterion, "f32");
    bench::<f64>(criterion, "f64");
    bench::<Q24>(criterion, "fixed");
}

criterion_group!(benches, step);
criterion_main!(benches);
