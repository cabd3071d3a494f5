//! Cost of one sample of each kind of floor at 1 kHz, and of building it. A ride at 2000 times real
//! time has 500 ns for everything in a sample.

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use host_sim::floor::{self, FloorMotion, FloorSpec};
use std::hint::black_box;

const SAMPLE_RATE_HZ: f64 = 1000.0;
const SAMPLES: usize = 10_000;

fn floors(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("floor_sample");
    group.throughput(Throughput::Elements(SAMPLES as u64));
    for name in ["sine", "chirp", "edge", "hauler", "road-d"] {
        let spec = FloorSpec::named(name);
        group.bench_function(name, |bencher| {
            bencher.iter(|| {
                let mut source =
                    floor::build(black_box(&spec), SAMPLE_RATE_HZ).expect("a floor by name");
                let mut motion =
                    FloorMotion::new(SAMPLE_RATE_HZ, source.next_accel(), source.next_accel());
                for _ in 0..SAMPLES {
                    motion.advance(source.next_accel());
                }
                motion.start()
            });
        });
    }
    group.finish();
}

criterion_group!(benches, floors);
criterion_main!(benches);
