//! try
use host_sim::body::{Body, BodyKind};
use host_sim::design;
use host_sim::margins::{law::{LawPoint, Law}, linearise::linearise, loops::*, margin::*, plant_model::*};
use host_sim::rig::Rig;
use std::time::Instant;
fn show(rig: &Rig, label: &str, pt: LawPoint, body: Body) {
    let mut p = design::parameters(rig).unwrap();
    p.limit.coulomb_n = 0.0;
    let t0 = Instant::now();
    let law = match linearise(&p, &pt) { Ok(l) => l, Err(e) => { println!("{label}: {e}"); return } };
    let t1 = t0.elapsed();
    let resp = LawResponse::new(&law);
    let m = Machine::of(rig, body);
    let plant = LinearPlant::new(&m);
    let c = ClosedLoop { law: &resp, plant: &plant };
    let t0 = Instant::now();
    let ms = margins(&c, m.step_s);
    let t2 = t0.elapsed();
    let t0 = Instant::now();
    let pole = c.largest_pole();
    let t3 = t0.elapsed();
    println!("{label}: wanted/perm {:?} i {:.2} states {} per {} pole {pole:.6} ({:.2?} {:.2?} {:.2?})", law.wanted_permitted, law.current_a, resp.states(), law.steps.len(), t1, t2, t3);
    for (b, x) in Break::ALL.iter().zip(ms) {
        if *b == Break::FloorAccel { continue; }
        println!("    {:20} up {:.2} down {:.2} PM {:.1} @ {:.1} Hz DM {:.3} @ {:.1} delay {:.2} ms", b.name(), x.gain_margin_up_db, x.gain_margin_down_db, x.phase_margin_deg, x.crossover_hz, x.disk_margin, x.disk_hz, 1e3*x.delay_margin_s);
    }
}
fn main() {
    let rig = match std::env::args().nth(1) { Some(p) => Rig::read(p.as_ref()).unwrap(), None => Rig::default_machine().unwrap() };
    for kind in [BodyKind::TwoMass, BodyKind::Rigid] {
    for kg in [40.0, 130.0] {
    let body = Body::new(kind, kg * rig.seat.on_seat_share);
    let mass = rig.seat.empty_mass_kg + body.total_kg();
    println!("=== {} {kg}", kind.name());
    for (name, set) in [("none", 0u8), ("last", 0x80), ("mid", 0x10), ("early", 0x02), ("first", 0x01), ("last half", 0xf0), ("all", 0xff), ("alternate", 0xaa)] {
        let mut pt = LawPoint::still(mass);
        for j in 0..8 { if set >> j & 1 == 1 { pt.ahead_m[j] = -0.06; } }
        show(&rig, &format!("horizon {name}"), pt, body);
        if set == 0xff { pt.floor_peak_mps2 = 40.0; show(&rig, "  rough", pt, body);
          for (j, a) in pt.ahead_m.iter_mut().enumerate() { *a = if j % 2 == 0 { -0.08 } else { 0.08 }; }
          show(&rig, "  zigzag", pt, body); }
    }
    for travel in [-0.02, 0.0, 0.01, 0.02, 0.03, 0.036, 0.04, 0.042] {
        // rate at which the clamp begins
        let p = design::parameters(&rig).unwrap();
        let active = |rate: f64| { let mut l = Law::<f64>::new(&p, LawPoint { travel_m: travel, rate_mps: rate, ..LawPoint::still(mass) }).unwrap(); let mut o = None; for _ in 0..100 { o = Some(l.step([0.0;3])); } let o = o.unwrap(); o.permitted < o.wanted - 1e-9 };
        let (mut lo, mut hi) = (0.0, 3.0);
        for _ in 0..30 { let mid = 0.5*(lo+hi); if active(mid) { hi = mid } else { lo = mid } }
        show(&rig, &format!("clamp at {travel} from rate {hi:.3}"), LawPoint { travel_m: travel, rate_mps: hi*1.02, ..LawPoint::still(mass) }, body);
    }
    }}
}
