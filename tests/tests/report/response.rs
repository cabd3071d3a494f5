//! Band-averaged transmissibility and its confidence, against systems whose answer is known.

use host_sim::report::response::{Band, bands};
use host_sim::spectrum::{CrossSpectrum, Welch};

const RATE_HZ: f64 = 1000.0;

/// Gaussian noise: xorshift of Marsaglia (2003), then Box and Muller.
struct Noise(u64);

impl Noise {
    fn even(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        ((self.0 >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
    }

    fn normal(&mut self) -> f64 {
        (-2.0 * self.even().ln()).sqrt() * (std::f64::consts::TAU * self.even()).cos()
    }
}

fn spectrum(seed: u64, samples: usize, mut system: impl FnMut(f64, f64) -> f64) -> CrossSpectrum {
    let mut noise = Noise(seed);
    let mut welch = Welch::new(RATE_HZ, 4096).unwrap();
    for _ in 0..samples {
        let (input, disturbance) = (noise.normal(), noise.normal());
        welch.push(input, system(input, disturbance));
    }
    welch.finish().unwrap()
}

/// An output of 0.3 x input and independent noise: coherence 0.09 / (0.09 + 0.04) by definition, and
/// the 95 % bounds hold 0.3 about 95 times in 100.
#[test]
fn bounds_hold_the_true_gain_as_often_as_they_say() {
    let (mut held, mut all, mut coherence) = (0.0, 0.0, 0.0);
    for seed in 1..=12 {
        let s = spectrum(seed * 7919, 60_000, |x, n| 0.3 * x + 0.2 * n);
        for band in bands(&s, 1.0, 100.0) {
            let (low, high) = band.bounds_95().expect("coherent enough");
            all += 1.0;
            coherence += band.coherence;
            held += f64::from(u8::from(low <= 0.3 && 0.3 <= high));
        }
    }
    let share = held / all;
    assert!(all > 1000.0);
    // A binomial with neighbouring bands a little alike: three standard deviations are about 0.03.
    assert!((0.92..=0.98).contains(&share), "{share} of {all}");
    let expected = 0.09 / 0.13;
    let mean = coherence / all;
    assert!(
        (mean - expected).abs() < 0.03,
        "coherence {mean}, {expected} expected"
    );
}

/// Without a common part nothing is drawn at most frequencies.
#[test]
fn unrelated_signals_are_not_sure() {
    let s = spectrum(5, 60_000, |_, n| n);
    let all = bands(&s, 1.0, 10.0);
    let sure = all.iter().filter(|b| b.bounds_95().is_some()).count();
    assert!(4 * sure < all.len(), "{sure} of {}", all.len());
}

/// A single segment is always coherent and says nothing.
#[test]
fn one_segment_says_nothing() {
    let s = spectrum(5, 4096, |x, n| x + n);
    assert_eq!(s.segments, 1);
    let low = bands(&s, 0.5, 5.0);
    assert!(!low.is_empty());
    assert!(low.iter().all(|b| b.bounds_95().is_none()), "{low:?}");
}

/// A first-order low-pass at 10 Hz: magnitude of its own difference equation at each band.
#[test]
fn a_low_pass_is_found() {
    let pole = (-std::f64::consts::TAU * 10.0 / RATE_HZ).exp();
    let mut y = 0.0;
    let s = spectrum(99, 200_000, |x, _| {
        y = pole * y + (1.0 - pole) * x;
        y
    });
    let truth = |f: f64| {
        let w = std::f64::consts::TAU * f / RATE_HZ;
        (1.0 - pole) / (1.0 + pole * pole - 2.0 * pole * w.cos()).sqrt()
    };
    for Band {
        frequency_hz,
        transmissibility,
        ..
    } in bands(&s, 1.0, 50.0)
    {
        let expected = truth(frequency_hz);
        assert!(
            (transmissibility / expected - 1.0).abs() < 0.02,
            "{frequency_hz} Hz: {transmissibility}, {expected} expected"
        );
    }
}

/// The bands keep the power: their densities times their widths add up to the mean square.
#[test]
fn white_noise_keeps_its_density() {
    let s = spectrum(3, 400_000, |x, _| 2.0 * x);
    let all = bands(&s, 1.0, 100.0);
    // One-sided density of unit white noise sampled at 1000 Hz: 1 / 500 Hz.
    let mean = all.iter().map(|b| b.input_density).sum::<f64>() / all.len() as f64;
    assert!((mean * 500.0 - 1.0).abs() < 0.03, "{mean}");
    let mean = all.iter().map(|b| b.output_density).sum::<f64>() / all.len() as f64;
    assert!((mean * 125.0 - 1.0).abs() < 0.03, "{mean}");
    assert!(
        all.windows(2)
            .all(|w| w[0].frequency_hz < w[1].frequency_hz)
    );
    assert!(all[0].frequency_hz >= 1.0 && all[all.len() - 1].frequency_hz <= 100.0);
}
