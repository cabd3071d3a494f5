//! Prints the project's target table as measured: mean and worst over seeds.
//!
//! `cargo run --release --example targets [-- RIG.toml [SEEDS]]`

use host_sim::body::BodyKind;
use host_sim::floor::FloorSpec;
use host_sim::limits::{SEAT_VALUES, constant as limit};
use host_sim::parallel::{processors, try_map};
use host_sim::ride::{self, RideError, RideSpec};
use host_sim::rig::Rig;
use host_sim::summary::Summary;
use std::path::Path;

/// Events with the seat peak aimed at, m/s^2.
const EVENTS: [(&str, f64); 4] = [
    ("edge", limit::EDGE_PEAK),
    ("bump", limit::BUMP_PEAK),
    ("edge:flank=0.08", limit::STEEP_EDGE_PEAK),
    ("bump:time=0.3", limit::SHORT_BUMP_PEAK),
];

fn spec(name: &str, level: f64, seed: u64) -> RideSpec {
    let mut spec = RideSpec::on(FloorSpec {
        level,
        seed,
        ..FloorSpec::named(name)
    });
    spec.skip_s = 5.0;
    spec
}

fn all(rig: &Rig, specs: &[RideSpec]) -> Result<Vec<Summary>, RideError> {
    try_map(
        processors(),
        specs.len(),
        |n| ride::run(rig, &specs[n], |_| true),
        |_| (),
    )
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut arguments = std::env::args().skip(1);
    let rig = match arguments.next() {
        Some(path) => Rig::read(Path::new(&path))?,
        None => Rig::default_machine()?,
    };
    let seeds: u64 = arguments.next().map_or(Ok(10), |s| s.parse())?;
    let seeds: Vec<u64> = (1..=seeds).collect();

    println!(
        "floor    level  SEAT mean  worst  target  passive  peak m/s2  stops  rate mm/s  floor mm/s  mass %  coil C  x real time"
    );
    for (name, low, high) in SEAT_VALUES {
        for (level, target) in [(1.0, low), (2.5, high)] {
            let specs: Vec<_> = seeds.iter().map(|&s| spec(name, level, s)).collect();
            let rides = all(&rig, &specs)?;
            let of = |f: &dyn Fn(&Summary) -> f64| -> (f64, f64) {
                let v: Vec<f64> = rides.iter().map(f).collect();
                (
                    v.iter().sum::<f64>() / v.len() as f64,
                    v.iter().copied().fold(f64::MIN, f64::max),
                )
            };
            let (mean, worst) = of(&|r| r.seat_value.unwrap_or(0.0));
            println!(
                "{name:8} {level:5.1} {mean:10.4} {worst:6.3} {target:7.3}{} {:7.2} {:10.1} {:6.0} {:10.1} {:11.1} {:7.1} {:7.1} {:8.0}",
                if mean <= target { " " } else { "!" },
                of(&|r| r.seat_value_passive.unwrap_or(0.0)).0,
                of(&|r| r.seat.peak_mps2).1,
                of(&|r| f64::from(r.travel.stop_contacts)).1,
                1000.0 * of(&|r| r.estimate.travel_rate_rms_error_mps).1,
                1000.0 * of(&|r| r.estimate.floor_velocity_rms_error_mps).1,
                100.0 * of(&|r| r.estimate.mass_error_fraction.abs()).1,
                of(&|r| r.actuator.coil_temperature_max_c).1,
                of(&|r| r.real_time_factor).0,
            );
        }
    }

    println!(
        "\nevent              body      kg  seat peak  aim   floor peak  contacts  speed m/s  travel mm"
    );
    for (name, aim) in EVENTS {
        for body in [BodyKind::TwoMass, BodyKind::Rigid] {
            for kg in [40.0, 80.0, 130.0] {
                let specs: Vec<_> = seeds
                    .iter()
                    .map(|&s| {
                        let mut spec = spec(name, 1.0, s);
                        (spec.seconds, spec.skip_s, spec.occupant_kg, spec.body) =
                            (16.0, 11.5, kg, body);
                        spec
                    })
                    .collect();
                let rides = all(&rig, &specs)?;
                let worst =
                    |f: &dyn Fn(&Summary) -> f64| rides.iter().map(f).fold(f64::MIN, f64::max);
                let peak = worst(&|r| r.seat.peak_mps2);
                println!(
                    "{name:18} {:8} {kg:4.0} {peak:10.1} {aim:4.0}{} {:10.1} {:9.0} {:10.3} {:9.1}",
                    body.name(),
                    if peak <= aim { " " } else { "!" },
                    worst(&|r| r.floor.peak_mps2),
                    worst(&|r| f64::from(r.travel.stop_contacts)),
                    worst(&|r| r.travel.contact_speed_max_mps),
                    1000.0 * worst(&|r| r.travel.peak_m),
                );
            }
        }
    }

    println!("\nall floors, worst over seeds       contacts  speed m/s  seat peak m/s2");
    for body in [BodyKind::TwoMass, BodyKind::Rigid] {
        for kg in [40.0, 80.0, 130.0] {
            for level in [1.0, 2.5, 4.0] {
                let specs: Vec<_> = SEAT_VALUES
                    .iter()
                    .flat_map(|f| seeds.iter().map(|&s| spec(f.0, level, s)))
                    .map(|mut spec| {
                        (spec.body, spec.occupant_kg) = (body, kg);
                        spec
                    })
                    .collect();
                let rides = all(&rig, &specs)?;
                let worst =
                    |f: &dyn Fn(&Summary) -> f64| rides.iter().map(f).fold(f64::MIN, f64::max);
                println!(
                    "{:8} {kg:4.0} kg level {level:3.1} {:18.0} {:10.3} {:12.1}",
                    body.name(),
                    worst(&|r| f64::from(r.travel.stop_contacts)),
                    worst(&|r| r.travel.contact_speed_max_mps),
                    worst(&|r| r.seat.peak_mps2),
                );
            }
        }
    }
    Ok(())
}
