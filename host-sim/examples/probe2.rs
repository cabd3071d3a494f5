// healthy statistics of residuals
use host_sim::floor::FloorSpec;
use host_sim::parallel::{map, processors};
use host_sim::ride::{self, RideSpec};
use host_sim::rig::Rig;
fn main() {
    let rig = Rig::default_machine().unwrap();
    let mut specs = vec![];
    for name in [
        "hauler", "loader", "grader", "compact", "crawler", "ballast", "edge", "bump",
    ] {
        for level in [1.0, 2.5] {
            for kg in [40.0, 80.0, 130.0] {
                for seed in 1..4 {
                    let mut s = RideSpec::on(FloorSpec {
                        level,
                        seed,
                        ..FloorSpec::named(name)
                    });
                    s.occupant_kg = kg;
                    s.seconds = 40.0;
                    s.skip_s = 5.0;
                    specs.push((name, level, kg, s));
                }
            }
        }
    }
    let out = map(processors(), specs.len(), |n| {
        let s = &specs[n].3;
        // innovation mm: max, boxcars; relative: divide by activity
        let mut m = [0.0f64; 12];
        let mut hist = vec![0.0f64; 64];
        let mut k = 0usize;
        let (mut p, mut q, mut dc_r, mut dc_a) = (0.0f64, 0.0f64, 0.0f64, 0.0f64);
        let mut minratio = 9.0f64;
        let mut maxratio = 0.0f64;
        let mut refd = [0.0f64; 4];
        let mut act = 0.0f64;
        ride::run(&rig, s, |x| {
            let inn = x.inside.motion.travel_innovation * 1000.0;
            hist[k % 64] = inn;
            k += 1;
            if k > 64 && x.time_s > 3.0 {
                m[0] = m[0].max(inn.abs());
                for (i, w) in [4usize, 10, 20, 40].iter().enumerate() {
                    let mean: f64 =
                        (0..*w).map(|j| hist[(k - 1 - j) % 64]).sum::<f64>() / *w as f64;
                    m[1 + i] = m[1 + i].max(mean.abs());
                }
                let a = x.floor.accel_mps2.abs().max(x.seat_accel.abs());
                act = act.max(a);
                if x.travel.abs() < 0.04 {
                    m[8] = m[8].max(x.inside.arrest.astray.abs());
                }
                let rate_err = (x.inside.motion.travel_rate - x.travel_rate).abs();
                m[9] = m[9].max(rate_err * 1000.0);
                m[10] = m[10].max(x.inside.drive.disturbance.abs());
            }
            let _ = (
                &mut p,
                &mut q,
                &mut dc_r,
                &mut dc_a,
                &mut minratio,
                &mut maxratio,
                &mut refd,
            );
            true
        })
        .unwrap();
        m[7] = act;
        m
    });
    println!(
        "floor level kg | innov max, box4, box10, box20, box40 mm | act | astray | rate err mm/s | disturbance kN"
    );
    for (s, m) in specs.iter().zip(&out) {
        if s.3.floor.seed == 1 {
            // max over seeds
            let all: Vec<&[f64; 12]> = specs
                .iter()
                .zip(&out)
                .filter(|(t, _)| t.0 == s.0 && t.1 == s.1 && t.2 == s.2)
                .map(|(_, m)| m)
                .collect();
            let mx = |i: usize| all.iter().map(|m| m[i]).fold(0.0, f64::max);
            println!(
                "{:8} {} {:4} | {:.3} {:.3} {:.3} {:.3} {:.3} | {:5.1} | {:.3} | {:5.1} | {:.2}",
                s.0,
                s.1,
                s.2,
                mx(0),
                mx(1),
                mx(2),
                mx(3),
                mx(4),
                mx(7),
                mx(8),
                mx(9),
                mx(10)
            );
            let _ = m;
        }
    }
}
