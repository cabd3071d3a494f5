//! try
use host_sim::margins::{loops::*, margin, plant_model::*, point::*, study, vary::Truth};
use host_sim::rig::Rig;
use host_sim::body::BodyKind;
use std::time::Instant;
fn main() {
    let rig = Rig::default_machine().unwrap();
    let bench = Bench::new(&rig).unwrap();
    for d in Doing::ISOLATING {
        let pt = Point { doing: d, ..Point::plain(&rig, 80.0, BodyKind::TwoMass)};
        let t = Instant::now(); let law = study::law_at(&bench, &pt).unwrap(); let t0 = t.elapsed();
        let m = Truth::of(&rig).machine(&bench, &pt);
        let plant = LinearPlant::new(&m);
        let c = ClosedLoop { law: &law.response, plant: &plant };
        let t = Instant::now(); let x = margin::margins(&c, m.step_s); let t1 = t.elapsed();
        let t = Instant::now(); let y = margin::margins(&c, m.step_s); let t1b = t.elapsed();
        let t = Instant::now(); let p = c.largest_pole(); let t2 = t.elapsed();
        println!("{} n {} law {t0:.2?} margins {t1:.2?} {t1b:.2?} pole {t2:.2?} {p} {}", d.name(), law.response.states(), x[0].disk_margin - y[0].disk_margin);
    }
}
