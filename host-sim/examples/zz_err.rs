//! scratch
use host_sim::body::BodyKind;
use host_sim::floor::FloorSpec;
use host_sim::ride::{self, RideSpec};
use host_sim::rig::Rig;
fn main() {
    let path = std::env::args().nth(1).unwrap();
    let rig = if path == "-" {
        Rig::default_machine().unwrap()
    } else {
        Rig::read(std::path::Path::new(&path)).unwrap()
    };
    let floors: Vec<(String, f64, f64)> = std::env::args()
        .skip(2)
        .map(|a| {
            let (n, l) = a.rsplit_once('@').unwrap();
            (n.to_string(), l.parse().unwrap(), 25.0)
        })
        .collect();
    let keep = 1.0 - f64::from(rig.firmware.arrest.approach_ps) * 0.001;
    for (name, level, secs) in floors {
        for body in [BodyKind::TwoMass, BodyKind::OneMass, BodyKind::Rigid] {
            for kg in [40.0, 80.0, 130.0] {
                let mut floor = FloorSpec {
                    level,
                    ..FloorSpec::named(&name)
                };
                if name.ends_with(".csv") {
                    floor.recording.fade_s = 0.0;
                    floor.recording.high_pass_hz = 0.0;
                }
                let spec = RideSpec {
                    occupant_kg: kg,
                    body,
                    seconds: secs,
                    ..RideSpec::on(floor)
                };
                let mut v: Vec<[f64; 10]> = vec![];
                let sum = ride::run(&rig, &spec, |s| {
                    let a = &s.inside.arrest;
                    v.push([
                        a.permitted,
                        s.seat_accel,
                        s.floor.accel_mps2,
                        a.ahead.floor_accel,
                        a.ahead.travel_rate,
                        a.ahead.travel,
                        a.astray,
                        s.travel,
                        s.travel_rate,
                        s.inside.wanted,
                    ]);
                    true
                });
                let sum = match sum {
                    Ok(s) => s,
                    Err(e) => {
                        println!("{e}");
                        continue;
                    }
                };
                let (
                    mut leak,
                    mut leak_act,
                    mut own,
                    mut ev,
                    mut ex,
                    mut a0,
                    mut j,
                    mut fh,
                    mut fe,
                    mut rel,
                    mut xm,
                ) = (
                    0.0f64, 0.0f64, 0.0f64, 0.0f64, 0.0f64, 0.0f64, 0.0f64, 0.0f64, 0.0f64, 0.0f64,
                    0.0f64,
                );
                let mut since = 1000;
                let (mut act, mut n) = (0.0, 0);
                let mut t = 0.0f64;
                for k in 6000..v.len() - 8 {
                    let (x, w) = (
                        0.5 * (v[k + 2][7] + v[k + 3][7]),
                        0.5 * (v[k + 2][8] + v[k + 3][8]),
                    );
                    // true rates instead of foreseen ones: what the force did
                    let _ = x;
                    let nxt = 0.5 * (v[k + 3][8] + v[k + 4][8]);
                    t = keep * t + (nxt - w) - 0.001 * (v[k][0] - v[k][3]);
                    own = own.max(t.abs());
                    leak = leak.max(v[k][6].abs());
                    if v[k][0] != v[k][9] {
                        since = 0;
                        n += 1;
                        act = (v[k][9] - v[k][0]).signum();
                    } else {
                        since += 1;
                    }
                    if since < 5 {
                        leak_act = leak_act.max(v[k][6] * act);
                    }
                    ev = ev.max((w - v[k][4]).abs());
                    ex = ex.max((x - v[k][5]).abs());
                    a0 = a0.max(v[k][2].abs());
                    j = j.max((v[k + 1][2] - v[k][2]).abs() * 1000.0);
                    fh = fh.max(v[k][3].abs());
                    let fl = 0.5 * (v[k + 3][2] + v[k + 3][2]);
                    fe = fe.max((fl - v[k][3]).abs());
                    rel = rel.max((v[k][1] - v[k][2]).abs());
                    xm = xm.max(v[k][7].abs());
                }
                println!(
                    "{:28} {level:.2} {:9} {kg:4} a0 {a0:5.1} j {j:5.0} | astray {leak:.4} act {leak_act:.4} true {own:.4} | Ev {:.1} mm/s Ex {:.2} mm fhat {fh:.2} err {fe:.2} rel {rel:.1} | n {n} xmax {:.1} contact {} {:.3} seat {:.3}",
                    name.rsplit('/').next().unwrap(),
                    body.name(),
                    ev * 1e3,
                    ex * 1e3,
                    xm * 1e3,
                    sum.travel.stop_contacts,
                    sum.travel.contact_speed_max_mps,
                    sum.seat_value.unwrap_or(0.0)
                );
            }
        }
    }
}
