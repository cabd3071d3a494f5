//! Steady-state transmissibility by stepped sine, from a lock-in fit at the drive frequency: seat
//! acceleration over floor acceleration, 80 kg, two-mass body. Our own targets; that isolation must
//! hold near 4 to 5 Hz (viscera), near 20 Hz (sight) and past it is common practice, no source.

use becalm_tests::target::{assert_none, rig};
use host_sim::body::BodyKind;
use host_sim::limits::constant as limit;
use host_sim::ride::Arithmetic;
use host_sim::sweep::{self, SweepPoint, SweepSpec};

/// Seeds of sensors and machine.
const SEEDS: [u64; 3] = [1, 2, 3];

fn swept(frequencies_hz: &[f64], seed: u64) -> Vec<SweepPoint> {
    let points = sweep::run(
        &rig(),
        &SweepSpec {
            frequencies_hz: frequencies_hz.to_vec(),
            rms_mps2: 1.0,
            amplitude_max_m: 0.03,
            occupant_kg: 80.0,
            body: BodyKind::TwoMass,
            arithmetic: Arithmetic::F32,
            seed,
        },
        || true,
        |_| {},
    )
    .expect("a sweep");
    assert_eq!(points.len(), frequencies_hz.len());
    for p in &points {
        println!(
            "seed {seed} {:7.3} Hz: floor {:.3} m/s2 {:4.1} mm, seat {:.4} (r.m.s. ratio {:.4}), passive {:.3}, travel {:.1} mm",
            p.frequency_hz,
            p.floor_rms_mps2,
            1000.0 * p.floor_amplitude_m,
            p.seat.transmissibility,
            p.seat.total_rms_ratio,
            p.passive.transmissibility,
            1000.0 * p.travel_peak_m,
        );
        assert!(!p.latched_fault && p.stop_contacts == 0, "{p:?}");
    }
    points
}

/// The points above `most`, and those that are no number.
fn above(points: &[SweepPoint], most: f64, seed: u64) -> Vec<String> {
    points
        .iter()
        .filter(|p| !matches!(p.seat.transmissibility.partial_cmp(&most), Some(o) if o.is_le()))
        .map(|p| {
            format!(
                "seed {seed}, {:.3} Hz: {:.4} > {most}",
                p.frequency_hz, p.seat.transmissibility
            )
        })
        .collect()
}

/// At 1 m/s2 r.m.s.: at most 0.10 from 2 to 16 Hz, at most 0.20 at 32 Hz.
// Demonstrates: transmissibility-2-16-hz, transmissibility-20-32-hz
#[test]
fn isolates_from_2_to_32_hz() {
    let mut failures = Vec::new();
    for seed in SEEDS {
        let points = swept(&sweep::spaced(2.0, 16.0, 13), seed);
        for p in &points {
            assert!((p.floor_rms_mps2 - 1.0).abs() < 0.02, "{p:?}");
        }
        failures.extend(above(&points, limit::TRANSMISSIBILITY_2_16_HZ, seed));
        failures.extend(above(
            &swept(&[20.0, 25.0, 32.0], seed),
            limit::TRANSMISSIBILITY_20_32_HZ,
            seed,
        ));
    }
    assert_none("transmissibility", &failures);
}

/// From 0.1 to 2 Hz, the floor held to 30 mm either way: never above 1.1.
// Demonstrates: transmissibility-below-2-hz
#[test]
fn no_peak_below_2_hz() {
    let mut failures = Vec::new();
    for seed in SEEDS {
        let points = swept(&sweep::spaced(0.1, 2.0, 16), seed);
        for p in &points {
            assert!(p.floor_amplitude_m <= 0.03 + 1.0e-12, "{p:?}");
        }
        failures.extend(above(&points, limit::TRANSMISSIBILITY_BELOW_2_HZ, seed));
    }
    assert_none("transmissibility", &failures);
}
