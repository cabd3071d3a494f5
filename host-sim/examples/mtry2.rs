//! try
use host_sim::margins::{loops::*, margin, plant_model::*, point::*, study, vary::Truth};
use host_sim::rig::Rig;
use host_sim::body::BodyKind;
fn main() {
    for p in std::env::args().skip(1) {
    let rig = Rig::read(p.as_ref()).unwrap();
    let bench = Bench::new(&rig).unwrap();
    println!("== {p}");
    for d in [Doing::Isolating, Doing::FollowingNearest, Doing::FollowingEarly, Doing::Braking(0.5)] {
      for kind in [BodyKind::Rigid, BodyKind::TwoMass] {
        let pt = Point { doing: d, ..Point::plain(&rig, 130.0, kind)};
        let law = study::law_at(&bench, &pt).unwrap();
        let m = Truth::of(&rig).machine(&bench, &pt);
        let plant = LinearPlant::new(&m);
        let c = ClosedLoop { law: &law.response, plant: &plant };
        let x = margin::margins(&c, m.step_s);
        for i in [0, 2, 3] { let x = x[i]; println!("{} {} {:20} {:.2} {:.2} PM {:.1} @ {:.2} Hz DM {:.3} @ {:.1} delay {:.2}", d.name(), kind.name(), Break::ALL[i].name(), x.gain_margin_up_db, x.gain_margin_down_db, x.phase_margin_deg, x.crossover_hz, x.disk_margin, x.disk_hz, 1e3*x.delay_margin_s); }
      }
    }
    }
}
