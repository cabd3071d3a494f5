//! try
use host_sim::margins::{breaking, limits::Limits, loops::Break, point::*, study};
use host_sim::rig::Rig;
use host_sim::body::BodyKind;
use std::time::Instant;
fn main() {
    let rig = match std::env::args().nth(1) { Some(p) => Rig::read(p.as_ref()).unwrap(), None => Rig::default_machine().unwrap() };
    let bench = Bench::new(&rig).unwrap();
    for d in Doing::ISOLATING { println!("{} constraints {}", d.name(), bench.constraints(&Point { doing: d, ..Point::plain(&rig, 80.0, BodyKind::TwoMass)}).unwrap()); }
    let t = Instant::now();
    let s = study::run(&bench, &study::StudySpec::default(), || true, |_| ()).unwrap();
    println!("{:?} points {} electrics alike {} law alone {}", t.elapsed(), s.points.len(), s.electrics_alike, s.law_alone);
    println!("isolating {:#?}", s.worst(false));
    println!("braking {:#?}", s.worst(true));
    println!("drawn {:#?}", s.worst_drawn(false));
    println!("drawn braking {:#?}", s.worst_drawn(true));
    for b in Break::ALL { let w = s.worst_at(b, false); println!("{} {:.2} {:.2} {:.1} {:.3} {:.2}", b.name(), w.gain_margin_up_db, w.gain_margin_down_db, w.phase_margin_deg, w.disk_margin, 1e3*w.delay_margin_s); }
    println!("{:?}", s.broken(&Limits::default()));
    let t = Instant::now();
    for r in breaking::table(&bench, &s.points, &Limits::default(), || true, |_| ()).unwrap() { println!("{r:?}"); }
    println!("{:?}", t.elapsed());
}
