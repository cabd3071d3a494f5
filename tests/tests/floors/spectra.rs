//! Random floors: strength, stationarity, seeds.
//!
//! The reference r.m.s. values are numeric integrals with scipy 1.17.1 filters (`reference/floors`).

use becalm_tests::floors::{number, reference};
use host_sim::floor::noise::WhiteNoise;
use host_sim::floor::{FloorMotion, FloorSpec, build, catalogue, model_density};

const RATE_HZ: f64 = 1000.0;

fn spec(name: &str, seed: u64) -> FloorSpec {
    FloorSpec {
        seed,
        ..FloorSpec::named(name)
    }
}

fn random_names() -> Vec<String> {
    let rms = reference()["rms"].clone();
    rms.as_object().unwrap().keys().cloned().collect()
}

/// The catalogue's r.m.s. against scipy's integral of the digital density (tolerance: its grid of
/// 4000 points), and against the analogue prototype (bilinear transform: below 0.1 % up to 32 Hz).
#[test]
fn catalogue_strength_matches_scipy() {
    let reference = reference();
    let entries = catalogue().unwrap();
    assert_eq!(entries.iter().filter(|e| e.random).count(), 14);
    for entry in entries.iter().filter(|entry| entry.random) {
        let theirs = &reference["rms"][entry.name];
        let digital = entry.rms_mps2 / number(&theirs["rms"]) - 1.0;
        let analogue = entry.rms_mps2 / number(&theirs["analogue_rms"]) - 1.0;
        assert!(digital.abs() < 1e-4, "{}: {digital}", entry.name);
        assert!(analogue.abs() < 1e-3, "{}: {analogue}", entry.name);
    }
}

/// The streams themselves, 8 seeds of 300 s. The mean square of a Gaussian signal over T seconds has
/// the relative variance (integral of S^2) / (integral of S)^2 / T; four standard deviations are
/// allowed (once in 16000 for each of 14 floors; the seeds are fixed).
#[test]
fn streams_have_the_strength_of_the_catalogue() {
    let reference = reference();
    for name in random_names() {
        let theirs = &reference["rms"][&name];
        let (mut sum, mut count) = (0.0, 0_u32);
        for seed in 1..=8 {
            let mut source = build(&spec(&name, seed), RATE_HZ).unwrap();
            assert_eq!(source.duration_s(), None);
            for _ in 0..1000 {
                source.next_accel();
            }
            for _ in 0..300_000 {
                sum += source.next_accel().powi(2);
                count += 1;
            }
        }
        let mean_square = sum / f64::from(count);
        let off = mean_square / number(&theirs["rms"]).powi(2) - 1.0;
        let deviation = (number(&theirs["variance_s"]) / 2400.0).sqrt();
        println!(
            "{name}: rms {:.4}, off {:.2} deviations",
            mean_square.sqrt(),
            off / deviation
        );
        assert!(off.abs() < 4.0 * deviation, "{name}: {off} of {deviation}");
    }
}

/// Stationary from the end of the fade-in: the mean square over 300 seeds within 0.5 s to 1.5 s is
/// that of the whole. Deviation as above with T = 300 s.
#[test]
fn stationary_after_the_fade() {
    let reference = reference();
    for name in ["hauler", "ballast", "road-c"] {
        let theirs = &reference["rms"][name];
        let mut sum = 0.0;
        for seed in 0..300 {
            let mut source = build(&spec(name, seed), RATE_HZ).unwrap();
            let first: Vec<f64> = (0..1500).map(|_| source.next_accel()).collect();
            assert_eq!(first[0], 0.0, "no jump at the start");
            assert!(
                first[..20]
                    .iter()
                    .all(|a| a.abs() < 0.1 * number(&theirs["rms"]))
            );
            sum += first[500..].iter().map(|a| a * a).sum::<f64>();
        }
        let off = sum / 300_000.0 / number(&theirs["rms"]).powi(2) - 1.0;
        let deviation = (number(&theirs["variance_s"]) / 300.0).sqrt();
        assert!(off.abs() < 4.0 * deviation, "{name}: {off} of {deviation}");
    }
}

/// Velocity and displacement neither drift nor start with an offset: r.m.s. displacement over 20
/// minutes is that of the density over (2 pi f)^4.
#[test]
fn displacement_does_not_drift() {
    for name in ["hauler", "grader", "ballast"] {
        let spec = spec(name, 3);
        let mut source = build(&spec, RATE_HZ).unwrap();
        let mut motion = FloorMotion::new(RATE_HZ, source.next_accel(), source.next_accel());
        let (mut square, mut mean, mut start_peak) = (0.0, 0.0, 0.0_f64);
        let count = 1_200_000;
        for index in 0..count {
            let x = motion.start().displacement_m;
            if index < 10_000 {
                start_peak = start_peak.max(x.abs());
            }
            square += x * x;
            mean += x;
            motion.advance(source.next_accel());
        }
        let rms = (square / f64::from(count)).sqrt();
        let grid: Vec<f64> = (1..40_000).map(|i| 0.0025 * f64::from(i)).collect();
        let density = model_density(&spec, RATE_HZ, &grid).unwrap().unwrap();
        let model: f64 = grid
            .iter()
            .zip(&density)
            .map(|(f, s)| s / (2.0 * std::f64::consts::PI * f).powi(4) * 0.0025)
            .sum::<f64>()
            .sqrt();
        println!("{name}: displacement {rms:.5} m, model {model:.5} m");
        // 1200 s with a bandwidth of about 1 Hz: 1.5 % on the r.m.s.; four of these.
        assert!((rms / model - 1.0).abs() < 0.06, "{name}: {rms} {model}");
        assert!(
            (mean / f64::from(count)).abs() < 0.01 * model,
            "{name}: mean"
        );
        assert!(start_peak < 5.0 * model, "{name}: {start_peak}");
    }
}

/// Level multiplies the signal, exactly up to rounding.
#[test]
fn level_multiplies() {
    let one = spec("crawler", 9);
    let strong = FloorSpec {
        level: 2.5,
        ..one.clone()
    };
    let mut a = build(&one, RATE_HZ).unwrap();
    let mut b = build(&strong, RATE_HZ).unwrap();
    for _ in 0..5000 {
        assert!((2.5 * a.next_accel() - b.next_accel()).abs() < 1e-9);
    }
}

#[test]
fn seeds_and_names_part_the_noise() {
    let take = |name: &str, seed: u64| -> Vec<f64> {
        let mut source = build(&spec(name, seed), RATE_HZ).unwrap();
        (0..5000).map(|_| source.next_accel()).collect()
    };
    assert_eq!(take("hauler", 5), take("hauler", 5));
    assert_ne!(take("hauler", 5), take("hauler", 6));
    let names = random_names();
    let noise: Vec<Vec<f64>> = names
        .iter()
        .map(|name| {
            let mut source = WhiteNoise::new(5, name, 2.0, 1.0);
            (0..20_000).map(|_| source.sample()).collect()
        })
        .collect();
    for (i, a) in noise.iter().enumerate() {
        let power: f64 = a.iter().map(|v| v * v).sum::<f64>() / 20_000.0;
        // Unit variance; its estimate has a standard deviation of sqrt(2 / 20000) = 1 %.
        assert!((power - 1.0).abs() < 0.05, "{}: {power}", names[i]);
        for (j, b) in noise.iter().enumerate().skip(i + 1) {
            let correlation: f64 = a.iter().zip(b).map(|(x, y)| x * y).sum::<f64>() / 20_000.0;
            // Standard deviation 1 / sqrt(20000) = 0.7 %.
            assert!(
                correlation.abs() < 0.035,
                "{} {}: {correlation}",
                names[i],
                names[j]
            );
        }
    }
}
