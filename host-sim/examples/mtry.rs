//! try
use host_sim::margins::{loops::Break, point::*, study};
use host_sim::rig::Rig;
use std::time::Instant;
fn main() {
    for p in std::env::args().skip(1) {
    let rig = Rig::read(p.as_ref()).unwrap();
    let bench = Bench::new(&rig).unwrap();
    let t = Instant::now();
    let s = study::run(&bench, &study::StudySpec { draws: 0, ..Default::default() }, || true, |_| ()).unwrap();
    println!("== {p} {:?} points {}", t.elapsed(), s.points.len());
    for brakes in [false, true] {
    for b in Break::ALL { if b == Break::FloorAccel { continue } let w = s.worst_at(b, brakes); println!("   {brakes} {:20} {:.2} {:.2} {:.1} {:.3} {:.2}   {}", b.name(), w.gain_margin_up_db, w.gain_margin_down_db, w.phase_margin_deg, w.disk_margin, 1e3*w.delay_margin_s, w.place.phase_margin_deg); }
    }}
}
