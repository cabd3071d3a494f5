//! The adaptive lattice against known autoregressions, Burg and Yule-Walker by numpy and scipy, and a
//! direct recursion.

use proptest::prelude::{ProptestConfig, any};
use proptest::{prop_assert, proptest};
use serde_json::Value;
use shared_math::{Forecast, Lattice, LatticeConfig, LatticeWork, Q24, Scalar, Turn};

fn numbers(value: &Value) -> Vec<f64> {
    let list = value.as_array().expect("a list");
    list.iter().map(|x| x.as_f64().expect("a number")).collect()
}

/// Learns a series of order `P` that is sampled every `M` steps and held between.
fn learn<S: Scalar, const P: usize, const M: usize>(series: &[f64]) -> Vec<f64> {
    // Memory of 1250 samples; priors too small to matter; sums of squares below 128.
    let config = LatticeConfig::<S>::new(0.5, 1250.0, 1e-4, 0.0, 1e-4);
    let mut lattice = Lattice::<S, P, M>::default();
    for &x in series {
        for _ in 0..M {
            let _ = lattice.step(&config, S::from_f32(x as f32));
        }
    }
    lattice.coefficients().map(Scalar::to_f64).to_vec()
}

fn worst(a: &[f64], b: &[f64]) -> f64 {
    assert_eq!(a.len(), b.len());
    a.iter()
        .zip(b)
        .map(|(x, y)| (x - y).abs())
        .fold(0.0, f64::max)
}

/// Series of 2500 samples with known coefficients. The lattice forgets over 1250 samples, so its
/// standard error is about sqrt(P / 1250) = 0.04 for two coefficients, and it is compared with the
/// whole-series estimates of the same data and with the truth within about that; Burg on the whole series is nearer kin.
#[test]
fn coefficients_of_known_autoregressions() {
    let reference: Value =
        serde_json::from_str(include_str!("../../reference/design/math.json")).expect("JSON");
    let cases = reference["autoregression"].as_array().expect("cases");
    for (case, order) in cases.iter().zip([2, 4]) {
        let series = numbers(&case["series"]);
        let all = match order {
            2 => [
                learn::<f64, 2, 3>(&series),
                learn::<f32, 2, 3>(&series),
                learn::<Q24, 2, 3>(&series),
            ],
            _ => [
                learn::<f64, 4, 5>(&series),
                learn::<f32, 4, 5>(&series),
                learn::<Q24, 4, 5>(&series),
            ],
        };
        for (ours, what) in all.iter().zip(["f64", "f32", "fixed"]) {
            for (key, most) in [("truth", 0.05), ("burg", 0.03), ("yule_walker", 0.05)] {
                let error = worst(ours, &numbers(&case[key]));
                println!("order {order} {what} {key}: {error:.4}");
                assert!(error < most, "{what} {key}: {ours:?} {}", case[key]);
            }
        }
        assert!(
            worst(&all[0], &all[1]) < 1e-3 && worst(&all[0], &all[2]) < 5e-3,
            "{all:?}"
        );
    }
}

/// A sampled sinusoid obeys x[n] = 2 cos(w) x[n-1] - x[n-2]; the edge at 0.999 keeps the second
/// coefficient that far from -1.
#[test]
fn sinusoid_is_a_second_order_recursion() {
    for w in [0.2_f64, 0.7, 1.5] {
        let series: Vec<f64> = (0..4000).map(|n| 0.4 * (w * f64::from(n)).sin()).collect();
        let ours = learn::<f64, 2, 3>(&series);
        assert!((ours[0] - 2.0 * w.cos()).abs() < 4e-3, "{w}: {ours:?}");
        assert!((ours[1] + 1.0).abs() < 4e-3, "{w}: {ours:?}");
    }
}

/// Before any experience the first coefficient is the prior's.
#[test]
fn prior_without_experience() {
    let config = LatticeConfig::<f64>::new(0.5, 240.0, 2.0, 0.98, 1e-3);
    let mut lattice = Lattice::<f64, 5, 25>::default();
    for _ in 0..100 {
        let _ = lattice.step(&config, 0.0);
    }
    let a = lattice.coefficients();
    assert!(
        (a[0] - 0.98).abs() < 1e-7 && a[1..].iter().all(|x| x.abs() < 1e-7),
        "{a:?}"
    );
}

/// A lattice with its forecast, worked as the estimator does: `H` samples of the response in the steps
/// that the lattice leaves free.
struct Ahead<S, const M: usize, const H: usize, const WORK: usize> {
    config: LatticeConfig<S>,
    lattice: Lattice<S, 5, M>,
    forecast: Forecast<S, 5, H>,
    half: S,
}

impl<S: Scalar, const M: usize, const H: usize, const WORK: usize> Ahead<S, M, H, WORK> {
    fn new(config: LatticeConfig<S>, interval_s: f32) -> Self {
        assert!(WORK * (M - 6) >= H);
        Self {
            config,
            lattice: Lattice::default(),
            forecast: Forecast::default(),
            // The interval carries the inverse of the scale of 0.5.
            half: S::from_f32(0.5 * interval_s / 0.5),
        }
    }

    /// Both halves of the forecast: integrals over 2, 4 ... samples.
    fn step<const N: usize>(&mut self, x: S) -> Vec<S> {
        match self.lattice.step(&self.config, x) {
            LatticeWork::Stage | LatticeWork::Struck => {}
            LatticeWork::Fresh => self.forecast.begin(self.lattice.coefficients()),
            LatticeWork::Rest => self.forecast.work::<WORK>(self.half),
        }
        let of = |turn| -> [S; N] {
            (self.forecast).integral::<N, 2>(self.lattice.recent(), self.half, turn)
        };
        of(Turn::Odd)
            .into_iter()
            .zip(of(Turn::Even))
            .flat_map(|(a, b)| [a, b])
            .collect()
    }
}

/// The forecast is the trapezoid sum of the recursion with the coefficients in use, written out.
#[test]
fn forecast_integral_against_direct_recursion() {
    const M: usize = 7;
    let config = LatticeConfig::<f64>::new(0.5, 60.0, 0.01, 0.9, 1e-3);
    let mut ahead = Ahead::<f64, M, 13, 13>::new(config, 0.007);
    let mut past = Vec::new();
    for n in 0..2000 {
        let t = f64::from(n) * 0.001;
        let x = 0.6 * (11.0 * t).sin() + 0.3 * (23.0 * t + 1.0).cos();
        past.push(x);
        let ours = ahead.step::<3>(x);
        assert_eq!(ours.len(), 6);
        if n < 60 {
            continue;
        }
        let interval_s = f64::from(0.007_f32);
        let coefficients = ahead.forecast.coefficients();
        assert!(
            coefficients.iter().any(|a| a.abs() > 0.1),
            "{coefficients:?}"
        );
        let mut samples: Vec<f64> = (0..5).rev().map(|k| past[past.len() - 1 - k * M]).collect();
        let mut sum = 0.0;
        for (j, ours) in ours.iter().enumerate() {
            for _ in 0..2 {
                let next: f64 = coefficients
                    .iter()
                    .zip(samples.iter().rev())
                    .map(|(a, x)| a * x)
                    .sum();
                sum += 0.5 * interval_s * (samples[samples.len() - 1] + next);
                samples.push(next);
            }
            assert!((ours - sum).abs() < 1e-9, "{n} {j}: {ours} {sum}");
        }
    }
}

/// A learnt sinusoid is forecast as it goes on: the integral of a sine, 0.5 s ahead.
#[test]
fn sinusoid_is_forecast() {
    let f = |t: f64| 0.4 * (std::f64::consts::TAU * 1.7 * t).sin();
    let config = LatticeConfig::<f64>::new(0.5, 240.0, 1e-4, 0.98, 1e-6);
    let mut ahead = Ahead::<f64, 25, 21, 3>::new(config, 0.025);
    let mut worst = 0.0_f64;
    for n in 0..20_000 {
        let t = f64::from(n) * 0.001;
        let ours = ahead.step::<5>(f(t));
        if n > 15_000 {
            let w = std::f64::consts::TAU * 1.7;
            for (j, ours) in ours.iter().enumerate() {
                let ahead = 0.05 * (j as f64 + 1.0);
                let closed = 0.4 / w * ((w * t).cos() - (w * (t + ahead)).cos());
                worst = worst.max((ours - closed).abs());
            }
        }
    }
    println!("forecast error of a sinusoid of 75 mm swing: {worst:e} m");
    // Measured 2.1 mm, 3 % of 75 mm: the trapezoid rule takes (w dt)^2 / 12 = 0.6 %, the edge at 0.999
    // about 0.05 % in each of 20 recursions, and the higher stages see next to nothing.
    assert!(worst < 2.5e-3, "{worst}");
}

/// Reflection coefficients of a predictor, by the step-down recursion (textbook, Levinson backward).
fn reflections(a: &[f64]) -> Vec<f64> {
    let mut a = a.to_vec();
    let mut out = Vec::new();
    while let Some(&k) = a.last() {
        out.push(k);
        let m = a.len() - 1;
        a = (0..m)
            .map(|i| (a[i] + k * a[m - 1 - i]) / (1.0 - k * k))
            .collect();
    }
    out
}

fn run<S: Scalar>(config: LatticeConfig<S>, input: &[i32]) -> Vec<f64> {
    let mut ahead = Ahead::<S, 8, 26, 13>::new(config, 0.05);
    let mut out = Vec::new();
    for &bits in input {
        let forecast = ahead.step::<6>(S::from_q24(bits));
        assert!(forecast.iter().all(|x| x.is_finite()));
        out = ahead.forecast.coefficients().map(Scalar::to_f64).to_vec();
        assert!(out.iter().all(|x| x.is_finite()));
    }
    out
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 200,
        failure_persistence: None,
        rng_seed: proptest::test_runner::RngSeed::Fixed(6),
        ..ProptestConfig::default()
    })]

    /// Whatever goes in (the full range of +-128, wild or small): every reflection coefficient stays
    /// within +-1 in f64; in the product's arithmetics the last one does and the coefficients stay
    /// within their binomials, which is all that rounding leaves visible.
    #[test]
    fn reflection_coefficients_stay_within_one(
        wild in proptest::collection::vec(any::<i32>(), 60..400),
        shift in 0_u32..24,
        window in 2.0_f32..300.0,
    ) {
        let input: Vec<i32> = wild.iter().map(|x| x >> shift).collect();
        fn config<S: Scalar>(window: f32) -> LatticeConfig<S> {
            LatticeConfig::new(0.5, window, 0.02, 0.98, 1e-6)
        }
        let exact = run::<f64>(config(window), &input);
        for k in reflections(&exact) {
            prop_assert!(k.abs() <= 0.999, "{exact:?}");
        }
        let single = run::<f32>(config(window), &input);
        let fixed = run::<Q24>(config(window), &input);
        for a in [&single, &fixed] {
            prop_assert!(a[4].abs() <= 0.999);
            for (a, most) in a.iter().zip([5.0, 10.0, 10.0, 5.0, 1.0]) {
                prop_assert!(a.abs() <= most, "{single:?} {fixed:?}");
            }
        }
    }
}
