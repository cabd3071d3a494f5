//! scratch
use firmware::Faults;
use host_sim::fault::{Fault, catalogue, catalogue::by_name};
use host_sim::fault_words::fault_words;
use host_sim::floor::FloorSpec;
use host_sim::parallel::{map, processors};
use host_sim::ride::{self, RideSpec};
use host_sim::rig::Rig;
#[derive(Clone, Default)]
struct R {
    det: Option<f64>,
    words: Vec<&'static str>,
    modes: Vec<u8>,
    peak: f64,
    contact: f64,
    ppeak: f64,
    pcontact: f64,
    step: f64,
    tstep: f64,
    tpeak: f64,
}
fn run(rig: &Rig, s: &RideSpec, from: f64) -> R {
    let mut r = R::default();
    let mut last = 0.0;
    let mut lasttouch = 0;
    let mut before = 0u16;
    let out = ride::run(rig, s, |x| {
        if x.time_s < from - 1e-4 {
            before = x.drive.faults;
            last = x.seat_accel;
            return true;
        }
        let new = x.drive.faults & !before;
        if new != 0 && r.det.is_none() {
            r.det = Some(x.time_s - from);
            r.words = fault_words(Faults(new));
        }
        if r.modes.last() != Some(&x.drive.mode) {
            r.modes.push(x.drive.mode)
        }
        if x.seat_accel.abs() > r.peak {
            r.tpeak = x.time_s - from
        }
        r.peak = r.peak.max(x.seat_accel.abs());
        r.ppeak = r.ppeak.max(x.passive_accel.abs());
        if x.travel.abs() > 0.0445 {
            lasttouch = 30
        } else if lasttouch > 0 {
            lasttouch -= 1
        }
        if lasttouch == 0 && x.time_s > from + 0.001 {
            let d = (x.seat_accel - last).abs();
            if d > r.step {
                r.step = d;
                r.tstep = x.time_s - from
            }
        }
        last = x.seat_accel;
        true
    });
    if let Ok(o) = out {
        r.contact = o.travel.contact_speed_max_mps;
        r.pcontact = o.passive_travel.contact_speed_max_mps;
    }
    r
}
fn main() {
    let rig = Rig::default_machine().unwrap();
    let args: Vec<String> = std::env::args().skip(1).collect();
    let onset: f64 = args[0].parse().unwrap();
    let verbose = args.len() > 1;
    let floors = [
        ("hauler", 1.0),
        ("hauler", 2.5),
        ("loader", 1.0),
        ("loader", 2.5),
        ("ballast", 1.0),
        ("ballast", 2.5),
        ("edge", 1.0),
        ("edge", 2.5),
    ];
    let mut cells = vec![];
    for (n, l) in floors {
        for kg in [40.0, 80.0, 130.0] {
            let mut s = RideSpec::on(FloorSpec {
                level: l,
                seed: 1,
                ..FloorSpec::named(n)
            });
            s.occupant_kg = kg;
            s.seconds = onset + 3.0;
            s.skip_s = onset;
            cells.push((n, l, kg, s));
        }
    }
    let healthy = map(processors(), cells.len(), |i| run(&rig, &cells[i].3, onset));
    for (c, h) in cells.iter().zip(&healthy) {
        if h.det.is_some() || !h.words.is_empty() {
            println!("FALSE ALARM {:?} {:?}", (c.0, c.1, c.2), h.words);
        }
    }
    let names: Vec<String> = catalogue()
        .iter()
        .map(|e| e.name.clone())
        .filter(|n| {
            n != "memory-flip"
                && (args.len() < 2 || args[1..].iter().any(|a| n.contains(a.as_str())))
        })
        .collect();
    let total = names.len() * cells.len();
    let all = map(processors(), total, |k| {
        let (f, i) = (k / cells.len(), k % cells.len());
        let mut s = cells[i].3.clone();
        let mut fault = Fault::usual(by_name(&names[f]).unwrap());
        fault.onset_s = onset;
        s.faults = vec![fault];
        run(&rig, &s, onset)
    });
    for (f, name) in names.iter().enumerate() {
        let rs = &all[f * cells.len()..(f + 1) * cells.len()];
        let (mut bp, mut bc, mut nd) = (0, 0, 0);
        let (mut wp, mut wc) = (0.0f64, 0.0f64);
        let mut wcell = (0, 0);
        let mut maxdet = 0.0f64;
        let mut words = std::collections::BTreeSet::new();
        for (i, (r, h)) in rs.iter().zip(&healthy).enumerate() {
            let lp = 1.2 * h.peak.max(h.ppeak.max(r.ppeak));
            let lc = 0.25f64.max(h.pcontact.max(r.pcontact));
            if r.peak > lp {
                bp += 1
            }
            if r.contact > lc {
                bc += 1
            }
            if r.det.is_none() {
                nd += 1
            }
            if r.peak / lp > wp {
                wp = r.peak / lp;
                wcell.0 = i
            }
            if r.contact / lc > wc {
                wc = r.contact / lc;
                wcell.1 = i
            }
            maxdet = maxdet.max(r.det.unwrap_or(0.0));
            for w in &r.words {
                words.insert(*w);
            }
        }
        println!(
            "{name:28} unseen {nd:2} det<= {maxdet:.3} peak broken {bp:2} (x{wp:.2} {} {} {}) contact broken {bc:2} (x{wc:.2} {:.2} {} {} {}) {:?}",
            cells[wcell.0].0,
            cells[wcell.0].1,
            cells[wcell.0].2,
            rs[wcell.1].contact,
            cells[wcell.1].0,
            cells[wcell.1].1,
            cells[wcell.1].2,
            words
        );
        if verbose {
            for (i, (r, h)) in rs.iter().zip(&healthy).enumerate() {
                let lp = 1.2 * h.peak.max(h.ppeak.max(r.ppeak));
                let lc = 0.25f64.max(h.pcontact.max(r.pcontact));
                println!(
                    "    {:7}{:4}{:4} det {:?} peak {:.1}/{:.1}{} @{:.3} contact {:.2}/{:.2}{} step {:.1}@{:.3} (h {:.1}) modes {:?} {:?}",
                    cells[i].0,
                    cells[i].1,
                    cells[i].2,
                    r.det.map(|d| (d * 1000.0).round()),
                    r.peak,
                    lp,
                    if r.peak > lp { "!" } else { "" },
                    r.tpeak,
                    r.contact,
                    lc,
                    if r.contact > lc { "!" } else { "" },
                    r.step,
                    r.tstep,
                    h.step,
                    r.modes,
                    r.words
                );
            }
        }
    }
}
