//! Cost of one push of the exposure meters at 1 kHz. A ride pushes three
//! channels a step and must run faster than 2000 times real time, so one push
//! should stay near 20 to 30 ns.

use criterion::{BatchSize, Criterion, Throughput, criterion_group, criterion_main};
use host_sim::exposure::{ExposureMeter, SpineMeter, Weighting};
use std::hint::black_box;

const SAMPLE_RATE_HZ: f64 = 1000.0;
const SAMPLES: usize = 10_000;

/// Invented floor motion: three sines, 10 s.
fn record() -> Vec<f64> {
    (0..SAMPLES)
        .map(|k| {
            let time_s = k as f64 / SAMPLE_RATE_HZ;
            (12.6 * time_s).sin() + 0.6 * (27.0 * time_s).sin() + 0.2 * (91.0 * time_s).sin()
        })
        .collect()
}

fn exposure(criterion: &mut Criterion) {
    let record = record();
    let mut group = criterion.benchmark_group("exposure_push");
    group.throughput(Throughput::Elements(SAMPLES as u64));
    for weighting in Weighting::ALL {
        let meter = ExposureMeter::new(weighting, SAMPLE_RATE_HZ, 0.0).expect("1 kHz is in range");
        group.bench_function(format!("{weighting:?}"), |bencher| {
            bencher.iter_batched_ref(
                || meter.clone(),
                |meter| {
                    for &acceleration_mps2 in &record {
                        meter.push(black_box(acceleration_mps2));
                    }
                    meter.figures()
                },
                BatchSize::SmallInput,
            );
        });
    }
    let meter = SpineMeter::new(SAMPLE_RATE_HZ, 0.0).expect("1 kHz is in range");
    group.bench_function("spine", |bencher| {
        bencher.iter_batched_ref(
            || meter.clone(),
            |meter| {
                for &acceleration_mps2 in &record {
                    meter.push(black_box(acceleration_mps2));
                }
                meter.figures()
            },
            BatchSize::SmallInput,
        );
    });
    // A long silence must not be slower than vibration (subnormal numbers).
    let mut meter =
        ExposureMeter::new(Weighting::Wk, SAMPLE_RATE_HZ, 0.0).expect("1 kHz is in range");
    meter.push(1.0);
    for _ in 0..2_000_000 {
        meter.push(0.0);
    }
    group.bench_function("Wk_after_long_silence", |bencher| {
        bencher.iter_batched_ref(
            || meter.clone(),
            |meter| {
                for _ in 0..SAMPLES {
                    meter.push(black_box(0.0));
                }
                meter.figures()
            },
            BatchSize::SmallInput,
        );
    });
    group.finish();
}

criterion_group!(benches, exposure);
criterion_main!(benches);
