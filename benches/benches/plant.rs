//! Cost of one control period of the plant (two plant steps in the default rig) and of a whole ride.

use criterion::{BatchSize, Criterion, Throughput, criterion_group, criterion_main};
use host_sim::body::{Body, BodyKind};
use host_sim::floor::FloorSpec;
use host_sim::plant::{Config, Drive, Plant};
use host_sim::ride::{self, Arithmetic, RideSpec};
use host_sim::rig::Rig;
use std::hint::black_box;

const PERIODS: usize = 2000;

fn balanced(config: Config, body: Body) -> Plant {
    Plant::new(config, body, Plant::balance_n(&config, &body), 0.0)
}

fn plant(criterion: &mut Criterion) {
    let rig = Rig::default_machine().expect("the default rig");
    // Invented: 2 m/s2 at 1.9 Hz with a current that follows, so that friction slides and sticks.
    let wave = |k: usize, hz: f64| (std::f64::consts::TAU * hz * k as f64 * 1e-3).sin();
    let floor: Vec<f64> = (0..=PERIODS).map(|k| 2.0 * wave(k, 1.9)).collect();
    let mut group = criterion.benchmark_group("plant_period");
    group.throughput(Throughput::Elements(PERIODS as u64));
    for (name, config, driven, kind) in [
        (
            "active_rigid",
            Config::active(&rig, 0.0, 0.0),
            true,
            BodyKind::Rigid,
        ),
        (
            "active_two_mass",
            Config::active(&rig, 0.0, 0.0),
            true,
            BodyKind::TwoMass,
        ),
        (
            "passive_rigid",
            Config::passive(&rig),
            false,
            BodyKind::Rigid,
        ),
        (
            "passive_two_mass",
            Config::passive(&rig),
            false,
            BodyKind::TwoMass,
        ),
    ] {
        let plant = balanced(config, Body::new(kind, 60.0));
        group.bench_function(name, |bencher| {
            bencher.iter_batched_ref(
                || plant.clone(),
                |plant| {
                    for k in 0..PERIODS {
                        let drive = if driven {
                            Drive::Current(black_box(3.0 * floor[k]))
                        } else {
                            Drive::None
                        };
                        plant.step(black_box(floor[k]), floor[k + 1], drive, 0);
                    }
                    plant.travel()
                },
                BatchSize::SmallInput,
            );
        });
    }
    group.finish();
}

fn whole_ride(criterion: &mut Criterion) {
    let rig = Rig::default_machine().expect("the default rig");
    let mut group = criterion.benchmark_group("ride_of_10_s");
    group.sample_size(30);
    for arithmetic in [Arithmetic::F32, Arithmetic::F64, Arithmetic::Fixed] {
        let mut spec = RideSpec::on(FloorSpec::named("hauler"));
        spec.seconds = 10.0;
        spec.arithmetic = arithmetic;
        group.bench_function(arithmetic.name(), |bencher| {
            bencher.iter(|| ride::run(&rig, black_box(&spec), |_| true).expect("a ride"));
        });
    }
    group.finish();
}

criterion_group!(benches, plant, whole_ride);
criterion_main!(benches);
