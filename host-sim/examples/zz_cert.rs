//! scratch
use firmware::arrest::Config;
use host_sim::proof::{certify::*, claim::Claim, interval::*, set::ProvenSet};
use host_sim::rig::Rig;
fn main() {
    let path = std::env::args().nth(1).unwrap();
    let rig = if path == "-" {
        Rig::default_machine().unwrap()
    } else {
        Rig::read(std::path::Path::new(&path)).unwrap()
    };
    let claim = Claim::of(&rig);
    println!("{claim:?}");
    let a = &rig.firmware.arrest;
    let law: Config<f64> = a.build(&rig.firmware.timing).unwrap();
    let set = ProvenSet::design(
        &law,
        &claim,
        std::env::args().nth(2).unwrap().parse().unwrap(),
    );
    for x in [
        -0.045, -0.03, -0.015, 0.0, 0.015, 0.03, 0.04, 0.042, 0.043, 0.044, 0.0445, 0.045,
    ] {
        print!("{:.1}: {:.4}  ", x * 1e3, set.rate(x));
    }
    println!();
    let edge = set.rate(0.045 - 0.0002) + claim.astray_near_mps() + claim.foresight_rate_mps;
    println!("touch {edge:.4}");
    let t = std::time::Instant::now();
    let law: Config<Interval<Single>> = a.build(&rig.firmware.timing).unwrap();
    println!(
        "floor {:?}",
        floor_pushes(
            &a.build::<host_sim::proof::slope::Slope>(&rig.firmware.timing)
                .unwrap(),
            &claim,
            10.0
        )
    );
    let prover = Prover::new(&law, &claim, &set);
    let (mut boxes, mut least) = (0, f64::INFINITY);
    for end in End::BOTH {
        for n in 0..180 {
            let x = -0.045 + 0.0005 * n as f64;
            let p = prover.prove(end, x, x + 0.0005, || true).unwrap();
            boxes += p.boxes;
            if p.smallest.margin_mps2 < least {
                least = p.smallest.margin_mps2;
            }
            if let Some(r) = p.refused {
                println!("refused at {n} {} boxes {r:?}", p.boxes);
                if n % 20 > 2 {
                    std::process::exit(1)
                }
            }
            if n % 20 == 0 {
                println!(
                    "{end:?} {n} boxes {} smallest {:?} {:.2}s",
                    p.boxes,
                    p.smallest,
                    t.elapsed().as_secs_f64()
                );
            }
        }
    }
    println!(
        "boxes {boxes} least {least} in {:.1} s",
        t.elapsed().as_secs_f64()
    );
}
