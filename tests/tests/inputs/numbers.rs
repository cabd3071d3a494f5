//! Numbers behind the command: interpolation of slow recordings, and the sweep
//! against the closed form of base excitation.

use host_sim::body::BodyKind;
use host_sim::ride::Arithmetic;
use host_sim::rig::Rig;
use host_sim::sweep::{self, SweepSpec};
use host_sim::upsample::upsample;
use std::f64::consts::TAU;

/// Against the sine itself, which is known between the samples.
#[test]
fn a_sine_is_interpolated_to_half_a_percent() {
    for share in [0.05, 0.3, 0.6, 0.85] {
        // Cycles a sample; half is the limit.
        let frequency = 0.5 * share;
        let samples: Vec<f64> = (0..600)
            .map(|i| (TAU * frequency * f64::from(i)).sin())
            .collect();
        for factor in [1, 3, 10] {
            let fine: Vec<f64> = upsample(&samples, factor).collect();
            assert_eq!(fine.len(), 600 * factor);
            for (k, value) in fine.iter().enumerate() {
                if k % factor == 0 {
                    assert_eq!(*value, samples[k / factor]);
                }
                // Away from the ends, beyond which there is nothing.
                if (40 * factor..560 * factor).contains(&k) {
                    let truth = (TAU * frequency * k as f64 / factor as f64).sin();
                    assert!(
                        (value - truth).abs() < 0.005,
                        "{share} {factor} {k}: {value} {truth}"
                    );
                }
            }
        }
    }
}

/// Transmissibility of a mass on spring and damper under base excitation,
/// `sqrt((1 + (2 z r)^2) / ((1 - r^2)^2 + (2 z r)^2))`: any vibration textbook, for example
/// S. S. Rao, Mechanical Vibrations, section 3.6 (from memory; the formula follows in three lines
/// from m x'' = k (y - x) + c (y' - x')).
#[test]
fn the_passive_seat_without_dry_friction_follows_the_closed_form() {
    let mut rig = Rig::default_machine().unwrap();
    (rig.friction.coulomb_n, rig.friction.stiction_n) = (0.0, 0.0);
    let spec = SweepSpec {
        frequencies_hz: vec![0.4, 0.9, 1.2, 1.7, 2.5, 5.0, 16.0],
        rms_mps2: 0.3,
        amplitude_max_m: 0.01,
        occupant_kg: 80.0,
        body: BodyKind::Rigid,
        arithmetic: Arithmetic::F64,
        seed: 1,
    };
    let points = sweep::run(&rig, &spec, || true, |_| {}).unwrap();
    for point in points {
        let r = point.frequency_hz / rig.passive.frequency_hz;
        let d = 2.0 * rig.passive.damping_ratio * r;
        let (top, bottom) = ((1.0, d), (1.0 - r * r, d));
        let size = |z: (f64, f64)| z.0.hypot(z.1);
        let truth = size(top) / size(bottom);
        let phase = (top.1.atan2(top.0) - bottom.1.atan2(bottom.0)).to_degrees();
        let got = point.passive;
        assert!(
            (got.transmissibility / truth - 1.0).abs() < 0.005,
            "{point:?} {truth}"
        );
        assert!((got.phase_deg - phase).abs() < 0.5, "{point:?} {phase}");
        // A linear seat answers a sine with a sine alone.
        assert!(
            (got.total_rms_ratio / got.transmissibility - 1.0).abs() < 0.005,
            "{point:?}"
        );
    }
}
