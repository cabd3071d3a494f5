//! scratch
use host_sim::fault_words::fault_words;
use host_sim::ride;
use host_sim::rig::Rig;
use host_sim::scenario::Scenario;
use std::path::Path;
fn main() {
    let rig = Rig::default_machine().unwrap();
    for f in std::fs::read_dir("host-sim/scenarios/found").unwrap() {
        let p = f.unwrap().path();
        if p.extension().unwrap() != "toml" {
            continue;
        }
        let sc = Scenario::read(Path::new(&p)).unwrap();
        let mut slow = 0.0;
        let mut seen = 0u16;
        let (mut mi, mut md) = (0.0f64, 0.0f64);
        let mut pk = 0.0f64;
        let _ = ride::run(&rig, &sc.into_ride(None), |s| {
            let d = s.inside.drive.disturbance;
            slow += (d - slow) * 0.0025;
            let iso = s.inside.permit.isolation == 1 << 24;
            pk = pk.max(s.floor.accel_mps2.abs());
            if s.time_s > 4.0 && seen == 0 {
                mi = mi.max(s.inside.motion.travel_innovation.abs());
                if iso && s.travel.abs() < 0.04 {
                    md = md.max((d - slow).abs());
                }
            }
            let new = s.inside.faults.0 & !seen;
            if new != 0 {
                seen |= new;
                println!(
                    "{:?} t {:.3} {:?} innov {:.2} mm dist {:.2} slow {:.2} travel {:.4} peakfloor {:.1} mode {}",
                    p.file_name().unwrap(),
                    s.time_s,
                    fault_words(firmware::Faults(new)),
                    1e3 * s.inside.motion.travel_innovation,
                    d,
                    slow,
                    s.travel,
                    pk,
                    s.drive.mode
                );
            }
            true
        });
        println!(
            "{:?} before any fault: innov max {:.3} mm, dist dev {:.2} kN, floor {:.1}",
            p.file_name().unwrap(),
            1e3 * mi,
            md,
            pk
        );
    }
}
