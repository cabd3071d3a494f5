//! Bounds of the firmware's checks, from the noise figures of the sensors and a stated rate of false alarms.
//!
//! The derivation is this project's own; the normal distribution's tail is textbook material.

use crate::design::{Gains, ObserverModel, observer_model};
use crate::rig::Rig;
use nalgebra::{Complex, DMatrix, SMatrix};

/// The bounds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bounds {
    /// Equal readings of an accelerometer in a row that make a bad sample; with those that make a fault of bad samples
    /// they mean that it is stuck.
    pub stuck_steps: u32,
    /// Innovation of travel that noise alone makes twice in a row once in the stated time, m.
    pub travel_noise_m: f64,
    /// Largest innovation of travel that scale errors make of 1 m/s^2 of floor acceleration, m/(m/s^2).
    pub travel_scale_s2: f64,
}

impl Bounds {
    /// The bounds for a rig whose observer has these `gains`.
    #[must_use]
    pub fn of(rig: &Rig, gains: &Gains) -> Self {
        let samples_per_hour = 3600.0 / rig.timing.step_s;
        let chance = rig.checks.false_alarms_per_hour / samples_per_hour;
        let filter = Filter::new(rig.timing.step_s, gains);
        Self {
            stuck_steps: stuck_steps(rig, chance),
            travel_noise_m: filter.noise_m(rig, chance),
            travel_scale_s2: filter.scale_s2(rig),
        }
    }
}

/// `n` readings in a row are equal with the chance sum p^n over all counts. For normal noise of `s` counts, where the
/// sum is an integral, that is (2 pi s^2)^(-(n - 1) / 2) / sqrt(n). The quieter of the two accelerometers counts.
fn stuck_steps(rig: &Rig, chance: f64) -> u32 {
    let sensors = &rig.sensors;
    let counts = [&sensors.floor_accel, &sensors.seat_accel].map(|s| s.noise_rms / s.per_count);
    let spread = std::f64::consts::TAU.sqrt() * counts[0].min(counts[1]);
    // With hardly any noise a reading may repeat for ever: no number of steps tells.
    let equal = (2..=60_000_u32).find(|n| {
        let n = f64::from(*n);
        spread > 1.0 && spread.powf(1.0 - n) / n.sqrt() <= chance
    });
    let Some(equal) = equal else {
        return u16::MAX.into();
    };
    // The last of them make the bad samples of the fault.
    equal
        .saturating_sub(rig.firmware.vet.fault_steps.saturating_sub(1))
        .max(2)
}

/// The `z` that two neighbours of a normal sequence both exceed in size with the chance `p`, when they are correlated by
/// `r`; by bisection.
fn standard_deviations(p: f64, r: f64) -> f64 {
    let (mut low, mut high) = (0.0, 40.0);
    for _ in 0..60 {
        let z = 0.5 * (low + high);
        if both_beyond(z, r) > p {
            low = z;
        } else {
            high = z;
        }
    }
    high
}

/// Chance that two normal variables correlated by `r` are both more than `z` standard deviations from their mean, on the
/// same side or not. Plackett 1954 (from memory): the chance that both are above `z` changes with their correlation `t` as
/// their joint density there does, exp(-z^2 / (1 + t)) / (2 pi sqrt(1 - t^2)).
fn both_beyond(z: f64, r: f64) -> f64 {
    let alone = simpson(z, z + 10.0, |x| {
        (-0.5 * x * x).exp() / std::f64::consts::TAU.sqrt()
    });
    let joint = |t: f64| (-z * z / (1.0 + t)).exp() / (1.0 - t * t).sqrt();
    let by_correlation = simpson(0.0, r, joint) + simpson(0.0, -r, joint);
    4.0 * alone * alone + by_correlation / std::f64::consts::PI
}

/// Integral by Simpson's rule.
fn simpson(from: f64, to: f64, of: impl Fn(f64) -> f64) -> f64 {
    let steps = 400;
    let h = (to - from) / f64::from(steps);
    let sum: f64 = (0..=steps)
        .map(|k| {
            let weight = match k {
                0 => 1.0,
                k if k == steps => 1.0,
                k if k % 2 == 1 => 4.0,
                _ => 2.0,
            };
            weight * of(from + h * f64::from(k))
        })
        .sum();
    sum * h / 3.0
}

/// The observer's error from one prediction to the next: `e' = A (I - K C) e + B w - A K v`.
struct Filter {
    model: ObserverModel,
    kept: SMatrix<f64, 6, 6>,
    gain: SMatrix<f64, 6, 2>,
    step_s: f64,
}

impl Filter {
    fn new(step_s: f64, gains: &Gains) -> Self {
        let model = observer_model(step_s);
        let k = SMatrix::<f64, 6, 2>::from_fn(|i, j| f64::from(gains[i][j]));
        let eye = SMatrix::<f64, 6, 6>::identity();
        Self {
            kept: model.a * (eye - k * model.c),
            gain: model.a * k,
            model,
            step_s,
        }
    }

    /// What travel's innovation exceeds in size twice in a row with a `chance`, under the sensors' noise and rounding
    /// alone, m. The gains allow for more than these, so that neighbours are correlated.
    fn noise_m(&self, rig: &Rig, chance: f64) -> f64 {
        let s = &rig.sensors;
        let variance = |s: &crate::rig::Sensor| s.noise_rms.powi(2) + s.per_count.powi(2) / 12.0;
        let travel = variance(&s.travel);
        let mut entering = SMatrix::<f64, 6, 6>::zeros();
        for (column, v) in [(0, variance(&s.floor_accel)), (1, variance(&s.seat_accel))] {
            let b = self.model.b.column(column);
            entering += b * b.transpose() * v;
        }
        let k = self.gain.column(1);
        entering += k * k.transpose() * travel;
        // Doubling: P = sum F^n Q F'^n.
        let (mut f, mut p) = (self.kept, entering);
        for _ in 0..40 {
            p += f * p * f.transpose();
            f *= f;
        }
        let variance = p[(3, 3)] + travel;
        // With C the row of travel: C F P C' - C A K R.
        let neighbours = (self.kept * p)[(3, 3)] - k[3] * travel;
        standard_deviations(chance, neighbours / variance) * variance.sqrt()
    }

    /// Largest innovation of travel, over 0.5 to 32 Hz, that the sensors' scale errors make of a floor which shakes
    /// with 1 m/s^2 under a seat that moves as much as the floor, or less. All errors are taken to add up.
    fn scale_s2(&self, rig: &Rig) -> f64 {
        let s = &rig.sensors;
        (0..=240)
            .map(|n| 0.5 * 64_f64.powf(f64::from(n) / 240.0))
            .map(|hz| {
                let omega = std::f64::consts::TAU * hz;
                let [accel, travel] = self.responses(omega);
                (s.floor_accel.gain_error + s.seat_accel.gain_error) * accel
                    + s.travel.gain_error * travel / omega.powi(2)
            })
            .fold(0.0, f64::max)
    }

    /// Size of travel's innovation for 1 m/s^2 of error in the floor's acceleration, and for 1 m in travel.
    fn responses(&self, omega: f64) -> [f64; 2] {
        let z = Complex::from_polar(1.0, omega * self.step_s);
        let system = DMatrix::from_fn(6, 6, |i, j| {
            Complex::from(-self.kept[(i, j)]) + if i == j { z } else { Complex::from(0.0) }
        });
        let lu = system.lu();
        let from = |column: &[f64]| {
            let right = DMatrix::from_fn(6, 1, |i, _| Complex::from(column[i]));
            lu.solve(&right).map_or(f64::INFINITY.into(), |e| e[(3, 0)])
        };
        let accel = from(self.model.b.column(0).as_slice());
        let travel = Complex::from(1.0) - from(self.gain.column(1).as_slice());
        [accel.norm(), travel.norm()]
    }
}
