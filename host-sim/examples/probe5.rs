//! scratch
use host_sim::floor::{self, FloorSpec};
fn main() {
    for (n, l) in [
        ("edge", 1.0),
        ("edge", 2.5),
        ("edge:flank=0.08", 1.0),
        ("bump", 2.5),
        ("hauler", 2.5),
        ("hauler", 4.0),
        ("compact", 2.5),
        ("ballast", 2.5),
        ("crawler", 2.5),
    ] {
        let mut b = FloorSpec::named(n.split(':').next().unwrap());
        b.level = l;
        let mut s = floor::build(&b, 1000.0).unwrap();
        let mut last = 0.0;
        let (mut m, mut a) = (0.0f64, 0.0f64);
        let mut runs = 0;
        let mut maxrun = 0;
        for _ in 0..30000 {
            let x = s.next_accel();
            let d = (x - last as f64).abs();
            m = m.max(d);
            a = a.max(x.abs());
            if d > 12.0 {
                runs += 1;
                maxrun = maxrun.max(runs)
            } else {
                runs = 0
            }
            last = x;
        }
        println!("{n} {l} jump {m:.1} peak {a:.1} run>12 {maxrun}");
    }
}
