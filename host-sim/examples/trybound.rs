use host_sim::bound::*;
use host_sim::floor::FloorSpec;
fn main() {
    let mut args = std::env::args().skip(1);
    let lim: f64 = args.next().unwrap().parse().unwrap();
    let level: f64 = args.next().unwrap().parse().unwrap();
    let secs: f64 = args.next().unwrap().parse().unwrap();
    let fine: f64 = args.next().unwrap().parse().unwrap();
    let ahead: f64 = args.next().unwrap().parse().unwrap();
    for name in args {
        let floor = FloorSpec { level, ..FloorSpec::named(&name) };
        let mut spec = BoundSpec::new(floor.clone(), 1000.0, secs, 5.0, lim);
        spec.rms_knot_s /= fine; spec.peak_knot_s /= fine;
        if ahead > 0.0 { spec.windows = Windows { whole_s: 1.0, kept_s: 30.0, ahead_s: ahead }; }
        let t = std::time::Instant::now();
        println!("{name} {:?} {:.2} s", run(&spec, || false, |_| ()), t.elapsed().as_secs_f64());
        if secs < 61.0 {
        let t = std::time::Instant::now();
        println!("   {:?} {:.2}", causal::best(&floor, 1000.0, secs, 5.0, lim, || false), t.elapsed().as_secs_f64());
        }
    }
}
