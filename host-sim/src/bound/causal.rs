//! The best causal linear law for a floor of known spectrum.
//!
//! The floor is white noise through its own shaping filter; the law knows the state of that filter (all of the
//! floor's past), travel, travel rate and what has been felt, commands the seat's acceleration without force
//! limit, delay or noise, and makes the mean square of the felt acceleration plus a penalty times the mean
//! square of the travel least (a linear-quadratic regulator). Its gains come from the discrete Riccati equation
//! of [`crate::design::riccati`].
//!
//! A Gaussian law cannot promise a travel. The rule here: the penalty is such that on the very record it is
//! judged by, its largest travel equals the limit. So the law is tuned in hindsight for its record, which
//! favours it: a law tuned beforehand needs a reserve.

use super::BoundError;
use super::comfort::{Comfort, Continuous};
use crate::design::{DesignError, riccati};
use crate::exposure::{ExposureMeter, Weighting};
use crate::floor::noise::{SLOW_HIGH_PASS_HZ, WhiteNoise};
use crate::floor::spectra::{SPECTRA, Spectrum};
use crate::floor::{self, FloorSpec};
use nalgebra::{DMatrix, DVector, RowDVector};
use std::f64::consts::PI;

/// Share of the plain acceleration that is added to the felt one: the weighting lets high frequencies
/// through without end, so something must keep the law from using them.
const PLAIN_SHARE: f64 = 1.0e-3;

/// A floor as white noise through a filter, on the grid of the samples.
#[derive(Clone, Debug)]
pub struct FloorModel {
    a: DMatrix<f64>,
    b: DVector<f64>,
    c: RowDVector<f64>,
    d: f64,
    step_s: f64,
}

impl FloorModel {
    /// A floor whose velocity is white noise: no filter; the noise goes straight into the travel.
    #[must_use]
    pub fn white_velocity(step_s: f64) -> Self {
        Self {
            a: DMatrix::zeros(0, 0),
            b: DVector::zeros(0),
            c: RowDVector::zeros(0),
            d: 0.0,
            step_s,
        }
    }

    /// An invented floor: its Butterworth filters by the bilinear rule with prewarped corners, as the floor
    /// itself runs them, and the slow high-pass; in states of the size of the noise.
    #[must_use]
    pub fn spectrum(spectrum: &Spectrum, rate_hz: f64) -> Self {
        let warped = |hz: f64| rate_hz / PI * (PI * hz / rate_hz).tan();
        let mut system: Option<Continuous> = None;
        let mut add = |numerator: fn(f64) -> [f64; 3], hz: f64, quality: f64| {
            let w = 2.0 * PI * warped(hz);
            let section = Continuous::second_order(numerator(w), warped(hz), quality);
            system = Some(match system.take() {
                None => section,
                Some(before) => before.then(&section),
            });
        };
        let high: fn(f64) -> [f64; 3] = |_| [1.0, 0.0, 0.0];
        let low: fn(f64) -> [f64; 3] = |w| [0.0, 0.0, w * w];
        for k in [1.0, 3.0] {
            add(high, spectrum.low_hz, 0.5 / (PI * k / 8.0).sin());
        }
        for k in [1.0, 3.0] {
            add(low, spectrum.high_hz, 0.5 / (PI * k / 8.0).sin());
        }
        add(high, SLOW_HIGH_PASS_HZ, 0.5_f64.sqrt());
        let system = system.unwrap_or_else(|| Comfort::Plain.system());
        Self::bilinear(&system, 1.0 / rate_hz)
    }

    fn bilinear(s: &Continuous, step_s: f64) -> Self {
        let n = s.b.len();
        let half = &s.a * (0.5 * step_s);
        let eye = DMatrix::<f64>::identity(n, n);
        // A stable filter has no pole at 2 / step.
        let inverse = (&eye - &half).try_inverse().unwrap_or_else(|| eye.clone());
        let b = &inverse * &s.b * step_s;
        Self {
            a: &inverse * (&eye + &half),
            d: s.d + 0.5 * (&s.c * &b)[0],
            c: &s.c * &inverse,
            b,
            step_s,
        }
    }

    /// Gain from noise to floor acceleration at a frequency.
    #[must_use]
    pub fn gain(&self, frequency_hz: f64) -> f64 {
        let n = self.b.len();
        let z = nalgebra::Complex::from_polar(1.0, 2.0 * PI * frequency_hz * self.step_s);
        let complex = |m: &DMatrix<f64>| m.map(|x| nalgebra::Complex::new(x, 0.0));
        let left = DMatrix::identity(n, n) * z - complex(&self.a);
        let right = self.b.map(|x| nalgebra::Complex::new(x, 0.0));
        let state = left.lu().solve(&right).unwrap_or(right);
        let output: nalgebra::Complex<f64> =
            self.c.iter().zip(state.iter()).map(|(c, x)| x * *c).sum();
        (output + self.d).norm()
    }
}

/// Gains of a linear law: seat acceleration = - gains x (floor filter, travel, travel rate, weighting). On a
/// floor of white velocity the travel rate is replaced by the seat's own velocity.
#[derive(Clone, Debug)]
pub struct LinearLaw {
    model: FloorModel,
    comfort: Comfort,
    a: DMatrix<f64>,
    b: DVector<f64>,
    gains: RowDVector<f64>,
}

impl LinearLaw {
    /// Designs the law for a penalty on the mean square of the travel, (m/s^2)^2/m^2.
    ///
    /// # Errors
    /// See [`riccati`].
    pub fn design(model: &FloorModel, comfort: Comfort, penalty: f64) -> Result<Self, DesignError> {
        let t = model.step_s;
        let felt = comfort.system();
        let (f, g0, g1) = felt.linear_step(t);
        let (n, m) = (model.b.len(), felt.b.len());
        let size = n + 2 + m;
        let mut a = DMatrix::zeros(size, size);
        a.view_mut((0, 0), (n, n)).copy_from(&model.a);
        for j in 0..n {
            a[(n, j)] = -0.5 * t * t * model.c[j];
            a[(n + 1, j)] = -t * model.c[j];
        }
        a[(n, n)] = 1.0;
        a[(n, n + 1)] = t;
        a[(n + 1, n + 1)] = 1.0;
        a.view_mut((n + 2, n + 2), (m, m)).copy_from(&f);
        let mut b = DVector::zeros(size);
        b[n] = 0.5 * t * t;
        b[n + 1] = t;
        b.rows_mut(n + 2, m).copy_from(&(g0 + g1));
        let mut q = DMatrix::zeros(size, size);
        q[(n, n)] = penalty;
        let c = felt.c.transpose();
        q.view_mut((n + 2, n + 2), (m, m))
            .copy_from(&(&c * c.transpose()));
        let r = match comfort {
            Comfort::Plain => 1.0,
            Comfort::Wk => PLAIN_SHARE,
        };
        let bm = DMatrix::from_column_slice(size, 1, b.as_slice());
        let x = riccati(&a, &bm, &q, &DMatrix::from_element(1, 1, r))?;
        let xb = &x * &b;
        let gains = (xb.transpose() * &a) / (r + xb.dot(&b));
        Ok(Self {
            model: model.clone(),
            comfort,
            a,
            b,
            gains: RowDVector::from_row_slice(gains.as_slice()),
        })
    }

    /// The gains.
    #[must_use]
    pub fn gains(&self) -> &[f64] {
        self.gains.as_slice()
    }

    /// Exact r.m.s. of plain acceleration (m/s^2) and travel (m) on a floor of white velocity of two-sided
    /// density `density` (m^2/s, as variance of the displacement gained in a second).
    ///
    /// # Errors
    /// When the steady covariance is not found.
    pub fn white_velocity_rms(&self, density: f64) -> Result<(f64, f64), DesignError> {
        let n = self.model.b.len();
        let closed = &self.a - &self.b * &self.gains;
        let mut noise = DMatrix::zeros(closed.nrows(), closed.nrows());
        noise[(n, n)] = density * self.model.step_s;
        let mut p = noise;
        let mut power = closed;
        // Doubling: after k turns the sum of 2^k terms.
        for _ in 0..60 {
            let more = &power * &p * power.transpose();
            if !more.amax().is_finite() {
                return Err(DesignError::Riccati);
            }
            let small = more.amax() <= 1.0e-15 * p.amax();
            p += more;
            if small {
                let accel = (&self.gains * &p * self.gains.transpose())[(0, 0)];
                return Ok((accel.sqrt(), p[(n, n)].sqrt()));
            }
            power = &power * &power;
        }
        Err(DesignError::Riccati)
    }

    /// Rides a record: largest travel, m, and the meter of the seat.
    fn ride(&self, record: &Record) -> Result<(f64, ExposureMeter), BoundError> {
        let t = self.model.step_s;
        let (n, m) = (self.model.b.len(), self.comfort.system().b.len());
        let mut meter = ExposureMeter::new(Weighting::Wk, 1.0 / t, record.skip_s)?;
        let (mut travel, mut rate, mut peak) = (0.0_f64, 0.0, 0.0_f64);
        let mut felt = vec![0.0; m];
        let (f, g0, g1) = self.comfort.system().linear_step(t);
        let gains = self.gains.as_slice();
        let dot = |a: &[f64], b: &[f64]| -> f64 { a.iter().zip(b).map(|(x, y)| x * y).sum() };
        for (k, pair) in record.floor.windows(2).enumerate() {
            let states = &record.states[k * n..(k + 1) * n];
            let accel = -(dot(&gains[..n], states)
                + gains[n] * travel
                + gains[n + 1] * rate
                + dot(&gains[n + 2..], &felt));
            meter.push(accel);
            peak = peak.max(travel.abs());
            // The seat's acceleration is held, the floor's runs linearly.
            travel += t * rate + t * t * (0.5 * accel - pair[0] / 3.0 - pair[1] / 6.0);
            rate += t * (accel - 0.5 * (pair[0] + pair[1]));
            felt = (0..m)
                .map(|i| {
                    let row: f64 = (0..m).map(|j| f[(i, j)] * felt[j]).sum();
                    row + (g0[i] + g1[i]) * accel
                })
                .collect();
        }
        Ok((peak, meter))
    }
}

/// A random floor with the state of its filter at every sample.
struct Record {
    /// Samples of the record and the one after.
    floor: Vec<f64>,
    states: Vec<f64>,
    skip_s: f64,
}

impl Record {
    fn new(
        spec: &FloorSpec,
        spectrum: &Spectrum,
        model: &FloorModel,
        seconds: f64,
        skip_s: f64,
    ) -> Result<Self, BoundError> {
        let rate_hz = 1.0 / model.step_s;
        let mut source = floor::build(spec, rate_hz)?;
        let count = (seconds * rate_hz).round() as usize;
        let density = spectrum.density_mps4_per_hz * spec.level * spec.level;
        let mut noise = WhiteNoise::new(spec.seed, spectrum.name, density, rate_hz);
        let mut state = DVector::zeros(model.b.len());
        let mut step = |keep: Option<&mut Vec<f64>>| {
            if let Some(states) = keep {
                states.extend_from_slice(state.as_slice());
            }
            state = &model.a * &state + &model.b * noise.sample();
        };
        for _ in 0..spectrum.warm_up_samples(rate_hz) {
            step(None);
        }
        let mut states = Vec::with_capacity(count * model.b.len());
        for _ in 0..count {
            step(Some(&mut states));
        }
        Ok(Self {
            floor: (0..=count).map(|_| source.next_accel()).collect(),
            states,
            skip_s,
        })
    }
}

/// The best causal linear law on one record.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CausalLinear {
    /// Wk-weighted r.m.s. acceleration, m/s^2.
    pub weighted_rms_mps2: f64,
    /// Largest travel, m.
    pub travel_peak_m: f64,
    /// Penalty on the mean square of the travel, (m/s^2)^2/m^2.
    pub penalty: f64,
}

/// Smallest and largest penalty that is tried, (m/s^2)^2/m^2, as powers of ten.
const PENALTIES: (f64, f64) = (-2.0, 10.0);
/// Halvings of that range.
const HALVINGS: usize = 22;

/// The best causal linear law on an invented floor: its largest travel on this record equals the limit, or is
/// below it where even the least penalty does not use it all. `None` on floors without a spectrum of that kind,
/// and where no penalty keeps the travel.
///
/// # Errors
/// [`BoundError`].
pub fn best(
    spec: &FloorSpec,
    rate_hz: f64,
    seconds: f64,
    skip_s: f64,
    travel_m: f64,
    stop: fn() -> bool,
) -> Result<Option<CausalLinear>, BoundError> {
    let Some(spectrum) = SPECTRA.iter().find(|s| s.name == spec.name) else {
        return Ok(None);
    };
    let model = FloorModel::spectrum(spectrum, rate_hz);
    let record = Record::new(spec, spectrum, &model, seconds, skip_s)?;
    let attempt = |power: f64| -> Result<Option<CausalLinear>, BoundError> {
        if stop() {
            return Err(BoundError::Interrupted);
        }
        let penalty = 10.0_f64.powf(power);
        let Ok(law) = LinearLaw::design(&model, Comfort::Wk, penalty) else {
            return Ok(None);
        };
        let (travel_peak_m, meter) = law.ride(&record)?;
        Ok((travel_peak_m <= travel_m).then_some(CausalLinear {
            weighted_rms_mps2: meter.figures()?.weighted_rms_mps2,
            travel_peak_m,
            penalty,
        }))
    };
    let (mut low, mut high) = PENALTIES;
    if let Some(free) = attempt(low)? {
        return Ok(Some(free));
    }
    let mut best = None;
    for _ in 0..HALVINGS {
        let middle = 0.5 * (low + high);
        match attempt(middle)? {
            Some(law) => (best, high) = (Some(law), middle),
            None => low = middle,
        }
    }
    Ok(best)
}
