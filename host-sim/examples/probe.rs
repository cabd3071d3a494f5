use firmware::{Cycle, DriveFrame};
use host_sim::body::{Body, BodyKind};
use host_sim::closed_loop::{ClosedLoop, switches};
use host_sim::design;
use host_sim::floor::{self, FloorMotion, FloorSpec};
use host_sim::plant::{Config, Drive, Plant};
use host_sim::rig::Rig;

fn main() {
    let rig = Rig::default_machine().unwrap();
    let par = design::parameters(&rig).unwrap();
    println!(
        "floor occ onset | healthy peak/contact | passive | open, soft, half, short: peak/contact, step"
    );
    for (name, level) in [
        ("hauler", 1.0),
        ("hauler", 2.5),
        ("loader", 1.0),
        ("loader", 2.5),
        ("ballast", 1.0),
        ("ballast", 2.5),
        ("edge", 1.0),
        ("edge", 2.5),
    ] {
        for kg in [40.0, 80.0, 130.0] {
            for onset in [0.8, 10.0, 11.37] {
                let spec = FloorSpec {
                    level,
                    seed: 1,
                    ..FloorSpec::named(name)
                };
                let mut source = floor::build(&spec, 1000.0).unwrap();
                let body = Body::new(BodyKind::TwoMass, kg * rig.seat.on_seat_share);
                let mut m = ClosedLoop::new(&rig, Cycle::<f32>::new(&par).unwrap(), body, 1, None);
                let pc = Config::passive(&rig);
                let mut p = Plant::new(pc, body, Plant::balance_n(&pc, &body), 0.0);
                let mut motion = FloorMotion::new(1000.0, source.next_accel(), source.next_accel());
                let (mut hp, mut pp) = (0.0f64, 0.0f64);
                let mut variants: Vec<(f64, ClosedLoop<f32>, f64, f64, f64)> = vec![];
                let n0 = (onset * 1000.0) as u64;
                for k in 0..n0 + 3000 {
                    if k == n0 {
                        m.forget_stops();
                        p.forget_stops();
                        for share in [0.0, 1.0, 2.0, 3.0, 4.0, 9.0] {
                            variants.push((share, m.clone(), 0.0, m.plant().seat_accel(), 0.0));
                        }
                    }
                    let f = motion.start().accel_mps2;
                    let fe = motion.at(1.0).accel_mps2;
                    let a = m.ask(f, switches(true));
                    m.advance(a.answer, f, fe);
                    p.step(f, fe, Drive::None, 0);
                    for (share, v, peak, last, step) in &mut variants {
                        let a = v.ask(f, switches(true));
                        let w = v.plant().travel_rate().abs();
                        let ramp = |w0: f64, w1: f64| ((w - w0) / (w1 - w0)).clamp(0.0, 1.0);
                        let id = *share;
                        let share = match id as i32 {
                            0 => 0.0,
                            1 => ramp(0.3, 0.8),
                            2 => ramp(0.4, 1.0),
                            3 => ramp(0.25, 0.6),
                            4 => ramp(0.1, 0.8),
                            _ => (-a.inside.arrest.closing() / 10.0).clamp(0.0, 1.0) as f64,
                        };
                        let fr = DriveFrame {
                            current_command: (share * 32767.0) as i16,
                            outputs: DriveFrame::DAMP,
                            ..DriveFrame::SAFE
                        };
                        v.advance(fr, f, fe);
                        let s = v.plant().seat_accel();
                        if k < n0 + 50 {
                            *step = step.max((s - *last).abs());
                        }
                        *last = s;
                        *peak = peak.max(s.abs());
                    }
                    if k >= n0 {
                        hp = hp.max(m.plant().seat_accel().abs());
                        pp = pp.max(p.seat_accel().abs());
                    }
                    motion.advance(source.next_accel());
                }
                print!(
                    "{name:8} {level} {kg:4} {onset:5} | {hp:5.1} {:4.2} | {pp:5.1} {:4.2} |",
                    m.plant().stops().speed_max_mps,
                    p.stops().speed_max_mps
                );
                for (_, v, peak, _, step) in &variants {
                    let c = v.plant().stops().speed_max_mps;
                    let bad = if *peak > 1.2 * hp.max(pp) { "P" } else { " " };
                    let badc = if c > p.stops().speed_max_mps.max(0.25) {
                        "C"
                    } else {
                        " "
                    };
                    print!("  {peak:5.1}{bad}{c:4.2}{badc} {step:4.1}");
                }
                println!();
            }
        }
    }
}
