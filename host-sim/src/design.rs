//! From a rig to the firmware's parameters.
//!
//! The observer's gains are those of the steady Kalman filter for the rig's
//! noise figures, from a discrete algebraic Riccati equation. Nothing in the
//! observer is tuned by hand.

use crate::bounds_of_checks::Bounds;
use crate::rig::{Rig, Sensor};
use firmware::calibrate::{self, Channel};
use firmware::{Parameters, agree, estimate, vet};
use nalgebra::{DMatrix, SMatrix};

/// Why a design failed.
#[derive(Debug, thiserror::Error)]
pub enum DesignError {
    /// The Riccati equation has no stabilising solution that the method finds.
    #[error("the Riccati equation did not converge: is every state seen by a measurement?")]
    Riccati,
}

/// Solves `X = A' X A - A' X B (R + B' X B)^-1 B' X A + Q` for the stabilising
/// `X` by the structure-preserving doubling algorithm (E. K.-W. Chu, H.-Y. Fan,
/// W.-W. Lin, 2005), which converges quadratically.
///
/// Shapes: `a` n x n, `b` n x m, `q` n x n symmetric, `r` m x m positive definite.
///
/// # Errors
/// When it does not converge to a stabilising solution, as when (A, B) cannot be
/// stabilised or an unstable mode does not show in the cost.
pub fn riccati(
    a: &DMatrix<f64>,
    b: &DMatrix<f64>,
    q: &DMatrix<f64>,
    r: &DMatrix<f64>,
) -> Result<DMatrix<f64>, DesignError> {
    let n = a.nrows();
    let eye = DMatrix::<f64>::identity(n, n);
    let r_inverse = r.clone().try_inverse().ok_or(DesignError::Riccati)?;
    let (mut a, mut g, mut h) = (a.clone(), b * r_inverse * b.transpose(), q.clone());
    for _ in 0..100 {
        let w = (&eye + &g * &h).try_inverse().ok_or(DesignError::Riccati)?;
        let aw = &a * &w;
        let next_g = &g + &aw * &g * a.transpose();
        let step = a.transpose() * &h * &w * &a;
        let next_h = &h + &step;
        a = &aw * &a;
        g = (&next_g + next_g.transpose()) * 0.5;
        h = (&next_h + next_h.transpose()) * 0.5;
        if !h.iter().all(|x| x.is_finite()) {
            return Err(DesignError::Riccati);
        }
        // `a` has become a power of the closed loop: it dies out if that is stable, and only then.
        if step.amax() <= 1.0e-14 * h.amax() && a.amax() < 1.0e-3 {
            return Ok(h);
        }
    }
    Err(DesignError::Riccati)
}

/// Steady gain of the filter form (correction after prediction) of a Kalman filter:
/// `K = P C' (C P C' + R)^-1`, `P` the covariance before the correction.
///
/// Shapes: `a` n x n, `c` m x n, `q` n x n, `r` m x m; result n x m.
///
/// # Errors
/// See [`riccati`].
pub fn kalman_gain(
    a: &DMatrix<f64>,
    c: &DMatrix<f64>,
    q: &DMatrix<f64>,
    r: &DMatrix<f64>,
) -> Result<DMatrix<f64>, DesignError> {
    let p = riccati(&a.transpose(), &c.transpose(), q, r)?;
    let s = (c * &p * c.transpose() + r)
        .try_inverse()
        .ok_or(DesignError::Riccati)?;
    Ok(p * c.transpose() * s)
}

/// The model behind the observer. States: floor displacement, floor velocity, bias of the floor
/// accelerometer, travel, travel rate, bias of the seat accelerometer (m, m/s, m/s^2).
#[derive(Clone, Copy, Debug)]
pub struct ObserverModel {
    /// From one sample to the next.
    pub a: SMatrix<f64, 6, 6>,
    /// How noise enters: floor accelerometer, seat accelerometer, wander of either bias (m/s^2).
    pub b: SMatrix<f64, 6, 4>,
    /// What is measured: floor displacement (taken to be 0) and travel, m.
    pub c: SMatrix<f64, 2, 6>,
}

/// The observer's model for a control period of `step_s`, s.
#[must_use]
pub fn observer_model(step_s: f64) -> ObserverModel {
    let t = step_s;
    let half = 0.5 * t * t;
    ObserverModel {
        a: SMatrix::<f64, 6, 6>::from_row_slice(&[
            1.0, t, -half, 0.0, 0.0, 0.0, //
            0.0, 1.0, -t, 0.0, 0.0, 0.0, //
            0.0, 0.0, 1.0, 0.0, 0.0, 0.0, //
            0.0, 0.0, half, 1.0, t, -half, //
            0.0, 0.0, t, 0.0, 1.0, -t, //
            0.0, 0.0, 0.0, 0.0, 0.0, 1.0,
        ]),
        b: SMatrix::<f64, 6, 4>::from_row_slice(&[
            half, 0.0, 0.0, 0.0, //
            t, 0.0, 0.0, 0.0, //
            0.0, 0.0, 1.0, 0.0, //
            -half, half, 0.0, 0.0, //
            -t, t, 0.0, 0.0, //
            0.0, 0.0, 0.0, 1.0,
        ]),
        c: SMatrix::<f64, 2, 6>::from_row_slice(&[
            1.0, 0.0, 0.0, 0.0, 0.0, 0.0, //
            0.0, 0.0, 0.0, 1.0, 0.0, 0.0,
        ]),
    }
}

pub(crate) type Gains = [[f32; estimate::INNOVATIONS]; estimate::STATES];

/// What enters the observer's model: noise of the accelerations (variance of a sample, m^2/s^4) and wander of the
/// biases (m/s^2 per square root of a second), floor before seat.
struct Entering {
    accel: [f64; 2],
    wander: [f64; 2],
}

impl Entering {
    /// Both accelerometers at work, with bias drifts of `drift`.
    fn sound(rig: &Rig, drift: f64) -> Self {
        let accel = |s: &Sensor| {
            s.noise_rms.powi(2) + rig.observer.unmodelled_mps2.powi(2) + s.per_count.powi(2) / 12.0
        };
        Self {
            accel: [
                accel(&rig.sensors.floor_accel),
                accel(&rig.sensors.seat_accel),
            ],
            wander: [drift; 2],
        }
    }
}

/// Gains of the firmware's observer.
fn observer_gains(rig: &Rig, entering: &Entering) -> Result<Gains, DesignError> {
    let t = rig.timing.step_s;
    let ObserverModel { a, b, c } = observer_model(t);
    let w = SMatrix::<f64, 4, 4>::from_diagonal(&nalgebra::SVector::<f64, 4>::new(
        entering.accel[0],
        entering.accel[1],
        entering.wander[0].powi(2) * t,
        entering.wander[1].powi(2) * t,
    ));
    // The floor's displacement is taken as noise of a given r.m.s. and correlation time:
    // at low frequency it acts like white noise of variance 2 sigma^2 tau / t a sample.
    let floor =
        rig.observer.floor_displacement_rms_m.powi(2) * 2.0 * rig.observer.floor_correlation_s / t;
    let travel = rig.sensors.travel.noise_rms.powi(2)
        + rig.observer.unmodelled_travel_m.powi(2)
        + rig.sensors.travel.per_count.powi(2) / 12.0;
    let r = SMatrix::<f64, 2, 2>::from_diagonal(&nalgebra::SVector::<f64, 2>::new(floor, travel));
    let q = b * w * b.transpose();
    let dynamic = |m: &[f64], rows, columns| DMatrix::from_column_slice(rows, columns, m);
    let k = kalman_gain(
        &dynamic(a.as_slice(), 6, 6),
        &dynamic(c.as_slice(), 2, 6),
        &dynamic(q.as_slice(), 6, 6),
        &dynamic(r.as_slice(), 2, 2),
    )?;
    Ok(core::array::from_fn(|i| {
        core::array::from_fn(|j| k[(i, j)] as f32)
    }))
}

/// The faster gains after a reset. The first set is that of a bias which wanders
/// as far as the bias at switch-on within `start_s`; from set to set the wander falls by
/// the same factor down to the steady one, and a set lasts the longer the slower it is,
/// as its bandwidth goes with the cube root of the wander.
fn start_stages(rig: &Rig) -> Result<[estimate::StartStage; estimate::START_STAGES], DesignError> {
    let o = &rig.observer;
    let first = o.start_bias_mps2 / o.start_s.sqrt();
    let factor = (o.bias_wander_mps2_psqrts / first).powf(1.0 / estimate::START_STAGES as f64);
    let mut until_s = 0.0;
    let mut stages = [estimate::StartStage {
        until_s: 0.0,
        gains: Gains::default(),
    }; estimate::START_STAGES];
    for (i, stage) in stages.iter_mut().enumerate() {
        let slower = factor.powi(i as i32);
        until_s += o.start_s / slower.cbrt();
        *stage = estimate::StartStage {
            until_s: until_s as f32,
            gains: observer_gains(rig, &Entering::sound(rig, first * slower))?,
        };
    }
    Ok(stages)
}

fn channel(sensor: &Sensor) -> Channel {
    Channel {
        zero_counts: 0,
        per_count: sensor.per_count as f32,
    }
}

/// The firmware's whole parameter table for a rig.
///
/// # Errors
/// When the observer cannot be designed.
pub fn parameters(rig: &Rig) -> Result<Parameters, DesignError> {
    let f = &rig.firmware;
    let o = &rig.observer;
    let sound = Entering::sound(rig, o.bias_wander_mps2_psqrts);
    let without_floor = Entering {
        accel: [0.0, sound.accel[1]],
        wander: [o.floor_wander_mps2_psqrts, sound.wander[1]],
    };
    let without_seat = Entering {
        accel: [sound.accel[0], o.model_mps2.powi(2)],
        ..sound
    };
    let gains = observer_gains(rig, &sound)?;
    let bounds = Bounds::of(rig, &gains);
    let given = |x: f32, else_: f64| if x == 0.0 { else_ as f32 } else { x };
    Ok(Parameters {
        timing: f.timing,
        calibrate: calibrate::Parameters {
            floor_accel: channel(&rig.sensors.floor_accel),
            seat_accel: channel(&rig.sensors.seat_accel),
            travel: channel(&rig.sensors.travel),
            current: channel(&rig.sensors.current),
            supply: channel(&rig.sensors.supply),
            coil_temperature: channel(&rig.sensors.coil_temperature),
        },
        vet: vet::Parameters {
            stuck_steps: match f.vet.stuck_steps {
                0 => bounds.stuck_steps,
                given => given,
            },
            ..f.vet
        },
        estimate: estimate::Parameters {
            gains,
            start: start_stages(rig)?,
            without_floor: observer_gains(rig, &without_floor)?,
            without_seat: observer_gains(rig, &without_seat)?,
            bias_max_mps2: (1.5 * o.start_bias_mps2) as f32,
            forecast_window_s: f.forecast.window_s,
            forecast_floor_mps: f.forecast.floor_mps,
            forecast_residual_mps: f.forecast.residual_mps,
            forecast_persistence: f.forecast.persistence,
        },
        weigh: f.weigh,
        isolate: f.isolate,
        arrest: f.arrest,
        limit: f.limit,
        agree: agree::Parameters {
            travel_noise_m: given(f.agree.travel_noise_m, bounds.travel_noise_m),
            travel_scale_s2: given(f.agree.travel_scale_s2, bounds.travel_scale_s2),
            ..f.agree
        },
        brake: f.brake,
        supervise: f.supervise,
        commission: f.commission,
    })
}
