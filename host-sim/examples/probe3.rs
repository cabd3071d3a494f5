use host_sim::fault::{Fault, catalogue};
use host_sim::floor::FloorSpec;
use host_sim::parallel::{map, processors};
use host_sim::ride::{self, RideSpec};
use host_sim::rig::Rig;
fn run(rig: &Rig, s: &RideSpec, lag: f64, from: f64, thr: f64) -> (f64, f64, f64) {
    let (mut slow, mut mx, mut box10) = (0.0f64, 0.0f64, 0.0f64);
    let mut first = f64::NAN;
    let mut run = 0;
    let mut free = 0;
    let mut mxd = 0.0f64;
    let _ = ride::run(rig, s, |x| {
        let d = x.inside.drive.disturbance;
        slow += (d - slow) * (0.001 / lag);
        let iso = matches!(x.drive.mode, 3 | 4 | 8);
        free = if iso && x.travel.abs() < 0.040 {
            free + 1
        } else {
            0
        };
        let e = (d - slow).abs();
        box10 += (e - box10) * 0.1;
        if free > 50 && x.time_s > from {
            mx = mx.max(e);
            mxd = mxd.max(box10);
            if box10 > thr {
                run += 1
            } else {
                run = 0
            }
            if run >= 1 && first.is_nan() {
                first = x.time_s - from;
            }
        }
        true
    });
    (mx, mxd, first)
}
fn main() {
    let rig = Rig::default_machine().unwrap();
    let lag: f64 = std::env::args().nth(1).unwrap().parse().unwrap();
    let thr: f64 = std::env::args().nth(2).unwrap().parse().unwrap();
    let mut specs = vec![];
    for name in [
        "hauler", "loader", "grader", "compact", "crawler", "ballast", "edge", "bump",
    ] {
        for level in [1.0, 2.5] {
            for kg in [40.0, 80.0, 130.0] {
                let mut s = RideSpec::on(FloorSpec {
                    level,
                    seed: 1,
                    ..FloorSpec::named(name)
                });
                s.occupant_kg = kg;
                s.seconds = 30.0;
                s.skip_s = 5.0;
                specs.push((name, level, kg, s));
            }
        }
    }
    let out = map(processors(), specs.len(), |n| {
        run(&rig, &specs[n].3, lag, 5.0, 9.9)
    });
    for (c, o) in specs.chunks(3).zip(out.chunks(3)) {
        print!("{:8}{:4} |", c[0].0, c[0].1);
        for o in o {
            print!(" {:.3} {:.3} |", o.0, o.1);
        }
        println!();
    }
    for f in [
        "no-force",
        "winding-short",
        "winding-open",
        "force-weak",
        "jammed",
        "spring-broken",
        "occupant-leaves",
        "occupant-bounces",
        "occupant-swapped",
    ] {
        let e = catalogue::by_name(f).unwrap();
        let out = map(processors(), specs.len(), |n| {
            let mut s = specs[n].3.clone();
            s.seconds = 13.0;
            s.faults = vec![Fault::usual(e)];
            run(&rig, &s, lag, 10.0, thr)
        });
        println!("{f}");
        for (c, o) in specs.chunks(3).zip(out.chunks(3)) {
            if ["hauler", "loader", "ballast", "edge"].contains(&c[0].0) {
                print!("  {:8}{:4} |", c[0].0, c[0].1);
                for o in o {
                    print!(" {:.3} {:.3} {:.3} |", o.0, o.1, o.2);
                }
                println!();
            }
        }
    }
}
