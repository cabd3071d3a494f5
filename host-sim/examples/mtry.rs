use host_sim::body::{Body, BodyKind};
use host_sim::design;
use host_sim::margins::{friction, law::LawPoint, linearise::linearise, loops::*, margin::*, plant_model::*};
use host_sim::rig::Rig;
use std::time::Instant;
fn main() {
    let rig = match std::env::args().nth(1) { Some(p) => Rig::read(p.as_ref()).unwrap(), None => Rig::default_machine().unwrap() };
    for (v, fr) in [(f64::INFINITY, 1.0), (1.0, 1.0), (0.1, 1.0), (0.03, 1.0), (0.01, 1.0), (0.005,1.0), (0.003,1.0), (0.01, 0.0)] {
        for kind in BodyKind::ALL {
            for kg in [40.0, 80.0, 130.0] {
                let mut p = design::parameters(&rig).unwrap();
                let body = Body::new(kind, kg * rig.seat.on_seat_share);
                let mass = rig.seat.empty_mass_kg + body.total_kg();
                let l = rig.firmware.limit;
                let n = if v.is_finite() { friction::saturating(f64::from(l.coulomb_n * l.coulomb_share), f64::from(l.coulomb_full_mps), v) } else { 0.0 };
                p.limit.coulomb_n = n as f32; p.limit.coulomb_share = 1.0; p.limit.coulomb_full_mps = 1.0;
                let t0 = Instant::now();
                let law = linearise(&p, &LawPoint { friction: fr, ..LawPoint::still(mass) }).unwrap();
                let t1 = t0.elapsed();
                let resp = LawResponse::new(&law);
                let mut m = Machine::of(&rig, body);
                if v.is_finite() { m.dry_nspm = friction::dry(rig.friction.coulomb_n, v); }
                let plant = LinearPlant::new(&m);
                let c = ClosedLoop { law: &resp, plant: &plant };
                let t0 = Instant::now();
                let ms = margins(&c, m.step_s);
                let t2 = t0.elapsed();
                let t0 = Instant::now();
                let pole = c.largest_pole();
                let t3 = t0.elapsed();
                println!("v {v} fr {fr} {} {kg}: states {} per {} pole {pole:.6} ({:.2?} {:.2?} {:.2?})", kind.name(), resp.states(), law.steps.len(), t1, t2, t3);
                for (b, x) in Break::ALL.iter().zip(ms) {
                    if *b == Break::FloorAccel { continue; }
                    println!("    {:20} up {:.2} down {:.2} PM {:.1} @ {:.1} Hz DM {:.3} @ {:.1} delay {:.2} ms", b.name(), x.gain_margin_up_db, x.gain_margin_down_db, x.phase_margin_deg, x.crossover_hz, x.disk_margin, x.disk_hz, 1e3*x.delay_margin_s);
                }
            }
        }
    }
}
