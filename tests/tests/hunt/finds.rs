//! Floors that `becalm hunt` has found, ridden again; and the hunt itself: bounds, round trip, the arrest.
//! The bounds on floor and occupant are those of the certificate; the formulas of the floor are closed forms.

use host_sim::body::BodyKind;
use host_sim::design;
use host_sim::fault_words::fault_words;
use host_sim::floor::{self, FloorMotion};
use host_sim::hunt::floor::Bounds;
use host_sim::hunt::search::{self, Plan};
use host_sim::hunt::{Aim, keep};
use host_sim::proof::claim::Claim;
use host_sim::ride;
use host_sim::rig::Rig;
use host_sim::scenario::Scenario;
use std::path::PathBuf;

const BOUNDS: Bounds = Bounds {
    accel_mps2: 15.0,
    jerk_mps3: 750.0,
    searched_s: 2.0,
    start_s: 10.0,
};

fn plan(evaluations: usize, threads: usize) -> Plan {
    Plan {
        bounds: BOUNDS,
        occupants_kg: (40.0, 130.0),
        bodies: BodyKind::SEATED.to_vec(),
        coil_max_c: 110.0,
        aims: vec![Aim::Contact],
        evaluations,
        seed: 5,
        threads,
    }
}

fn found() -> Vec<PathBuf> {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../host-sim/scenarios/found");
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder)
        .expect("the folder of finds")
        .map(|entry| entry.expect("an entry").path())
        .filter(|path| path.extension().is_some_and(|e| e == "toml"))
        .collect();
    files.sort();
    files
}

/// Every find is ridden: no stop is met faster than the certificate says, no fault, the seat stays within the proven
/// set, and all that the proof takes for granted holds. A rigid load is outside the certificate: it met a stop at
/// 0.19 m/s.
// Demonstrates: stop-touch-speed, proved-mass, astray-near, astray-away, astray-step, foresight-rate
// Demonstrates: foresight-rate-away, foresight-travel, set-margin
#[test]
fn finds_are_ridden_again() {
    let rig = Rig::default_machine().unwrap();
    let claim = Claim::of(&rig);
    let files = found();
    assert!(!files.is_empty());
    for file in files {
        let scenario = Scenario::read(&file).unwrap();
        let name = file.file_stem().unwrap().to_string_lossy().into_owned();
        let summary = ride::run(&rig, &scenario.into_ride(None), |s| {
            assert!(
                s.drive.mode != firmware::Mode::Fault.code(),
                "{name}: a fault at {} s: {:?}",
                s.time_s,
                fault_words(s.inside.faults)
            );
            true
        })
        .unwrap();
        let met = summary.travel.contact_speed_max_mps;
        let a = &summary.assumptions;
        let seen = [
            ("astray near", a.astray_near_mps),
            ("astray away", a.astray_away_mps),
            ("astray step", a.astray_step_mps),
            ("foresight rate", a.foresight_rate_mps),
            ("foresight rate away", a.foresight_rate_away_mps),
            ("foresight travel", a.foresight_travel_m),
        ];
        println!("{name}: {met:.3} m/s, {:?}", a.set_margin_mps);
        if name.starts_with("rigid") {
            assert!(!a.held && met <= 0.20, "{name}: a stop met at {met} m/s");
            continue;
        }
        for (what, b) in seen {
            println!("   {what}: {:.4} of {:.4}", b.seen, b.assumed);
            assert!(b.holds(), "{name}: {what} {b:?}");
        }
        assert!(met <= claim.touch_mps, "{name}: a stop met at {met} m/s");
        assert!(
            a.set_margin_mps.is_some_and(|margin| margin > 0.0),
            "{name}"
        );
        for b in [a.floor_acceleration_mps2, a.floor_jerk_mps3, a.mass_kg] {
            assert!(b.holds(), "{name}: {b:?}");
        }
    }
}

/// Whatever the genome: acceleration and jerk within their bounds, and the floor at rest at its height in the end.
// Demonstrates: proved-floor-accel, proved-floor-jerk
#[test]
fn floors_keep_their_bounds() {
    let mut x = 1_u64;
    for round in 0..200 {
        let genome: Vec<f64> = (0..BOUNDS.genes(0.001))
            .map(|_| {
                x = x
                    .wrapping_mul(6364136223846793005)
                    .wrapping_add(1442695040888963407);
                ((x >> 33) as f64 / (1_u64 << 31) as f64 - 0.5)
                    * if round % 2 == 0 { 2.0 } else { 20.0 }
            })
            .collect();
        let knots = BOUNDS.knots(&genome, round % 3 == 0, 0.001);
        let samples = knots.samples(0.001).unwrap();
        for pair in samples.windows(2) {
            assert!(pair[0].abs() <= 15.0 + 1e-6);
            assert!((pair[1] - pair[0]).abs() <= 0.75 + 1e-6);
        }
        let mut motion = FloorMotion::new(1000.0, samples[0], samples[1]);
        for sample in &samples[2..] {
            motion.advance(*sample);
        }
        // Knots are rounded to a millionth of a m/s2.
        let end = motion.at(1.0);
        assert!(
            end.velocity_mps.abs() < 1e-5 && end.displacement_m.abs() < 1e-4,
            "{end:?}"
        );
    }
}

/// The floor of a find, written and read as any recording, has the same bits, and its ride the same contact speed.
/// The find itself does not depend on the number of threads.
#[test]
fn round_trip_and_threads() {
    let rig = Rig::default_machine().unwrap();
    let parameters = design::parameters(&rig).unwrap();
    let one = search::run(&rig, &parameters, &plan(400, 1), |_| true).unwrap();
    let three = search::run(&rig, &parameters, &plan(400, 3), |_| true).unwrap();
    let (find, other) = (&one.finds[0], &three.finds[0]);
    assert_eq!(
        (&find.knots, find.figures, find.machine),
        (&other.knots, other.figures, other.machine)
    );
    let folder = tempfile::tempdir().unwrap();
    let csv = folder.path().join("find.csv");
    std::fs::write(&csv, find.knots.csv("a find")).unwrap();
    std::fs::write(
        folder.path().join("find.toml"),
        keep::scenario(find, "find.csv", None, "a find"),
    )
    .unwrap();
    let spec = Scenario::read(&folder.path().join("find.toml"))
        .unwrap()
        .into_ride(None);
    assert_eq!(spec, keep::ride(find, &csv));
    let mut source = floor::build(&spec.floor, 1000.0).unwrap();
    for sample in find.knots.samples(0.001).unwrap() {
        assert_eq!(source.next_accel().to_bits(), sample.to_bits());
    }
    let mut peak = 0.0_f64;
    let summary = ride::run(&rig, &spec, |s| {
        if s.time_s > spec.skip_s {
            peak = peak.max(s.travel.abs());
        }
        true
    })
    .unwrap();
    assert_eq!(
        summary.travel.contact_speed_max_mps,
        find.figures.contact_speed_mps
    );
    assert_eq!(peak, find.figures.travel_peak_m);
    assert_eq!(Some(summary.assumptions), find.figures.assumptions);
}

/// With an arrest that never acts the hunt finds a hard contact at once; with it, not on the same rides.
#[test]
fn without_arrest_a_stop_is_met_hard() {
    let mut rig = Rig::default_machine().unwrap();
    let met = |rig: &Rig| {
        let parameters = design::parameters(rig).unwrap();
        let hunt = search::run(rig, &parameters, &plan(300, 2), |_| true).unwrap();
        hunt.finds[0].figures.contact_speed_mps
    };
    let with = met(&rig);
    let arrest = &mut rig.firmware.arrest;
    (arrest.rest_m, arrest.braking_mps2, arrest.accel_max_mps2) = (1.0, 50.0, 60.0);
    arrest.floor_accel_max_mps2 = 100.0;
    let without = met(&rig);
    println!("with the arrest {with:.3} m/s, without {without:.3} m/s");
    assert!(without > 0.5 && with < 0.4 * without, "{with} {without}");
}
