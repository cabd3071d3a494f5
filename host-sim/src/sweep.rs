//! Stepped sine: transmissibility of the law and of the passive seat.
//!
//! At each frequency a ride on a steady sine. After everything has settled,
//! floor and seat acceleration over whole periods are fitted by least squares
//! with a sine and a cosine at the drive frequency and a constant. The
//! transmissibility is the ratio of the fitted amplitudes; beside it stands the
//! ratio of the r.m.s. values with all that is not the sine, harmonics of friction
//! and noise included. Below the frequency at which the floor would move further
//! than the permitted amplitude, the amplitude is held.

use crate::body::BodyKind;
use crate::floor::FloorSpec;
use crate::parallel::{processors, try_map};
use crate::ride::{self, Arithmetic, RideError, RideSpec, Sample};
use crate::rig::Rig;
use nalgebra::{Matrix3, Vector3};
use serde::Serialize;
use std::f64::consts::{SQRT_2, TAU};

/// What is swept.
#[derive(Clone, Debug, PartialEq)]
pub struct SweepSpec {
    /// Frequencies, Hz, 0.05 to an eighth of the control rate.
    pub frequencies_hz: Vec<f64>,
    /// Floor acceleration, r.m.s., m/s^2, where the amplitude permits it.
    pub rms_mps2: f64,
    /// Greatest amplitude of the floor, m.
    pub amplitude_max_m: f64,
    /// Occupant, kg.
    pub occupant_kg: f64,
    /// Seated body.
    pub body: BodyKind,
    /// Arithmetic of the law.
    pub arithmetic: Arithmetic,
    /// Seed of sensors and machine.
    pub seed: u64,
}

/// One seat at one frequency.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Response {
    /// Amplitude of the seat over that of the floor at the drive frequency.
    pub transmissibility: f64,
    /// Phase of the seat against the floor, degrees, -180 to 180.
    pub phase_deg: f64,
    /// R.m.s. acceleration of the seat over that of the floor, all frequencies.
    pub total_rms_ratio: f64,
}

/// Both seats at one frequency.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct SweepPoint {
    /// Drive frequency, Hz.
    pub frequency_hz: f64,
    /// Floor acceleration as measured, r.m.s., m/s^2.
    pub floor_rms_mps2: f64,
    /// Amplitude of the floor, m.
    pub floor_amplitude_m: f64,
    /// The seat under the law.
    pub seat: Response,
    /// The passive seat.
    pub passive: Response,
    /// Largest travel under the law, m.
    pub travel_peak_m: f64,
    /// How often the law met a stop.
    pub stop_contacts: u32,
    /// Highest closing speed at a stop, m/s.
    pub contact_speed_max_mps: f64,
    /// Whether a fault was latched.
    pub latched_fault: bool,
}

/// Rise, levelling and bias learning, s.
const SETTLE_S: f64 = 15.0;
/// Periods to settle after the fade-in.
const SETTLE_PERIODS: f64 = 6.0;
/// Least time and least number of periods of a measurement.
const MEASURE: (f64, f64) = (10.0, 8.0);

/// Frequencies from `from_hz` to `to_hz` at equal ratios, both ends included.
#[must_use]
pub fn spaced(from_hz: f64, to_hz: f64, points: usize) -> Vec<f64> {
    let last = points.saturating_sub(1).max(1) as f64;
    (0..points)
        .map(|i| from_hz * (to_hz / from_hz).powf(i as f64 / last))
        .collect()
}

/// Runs the sweep on all processors. `look` is asked in every period and may stop
/// the sweep by returning false; `done` hears how many points are ready. The
/// points come in the order of the frequencies.
///
/// # Errors
/// As [`ride::run`].
pub fn run(
    rig: &Rig,
    spec: &SweepSpec,
    look: impl Fn() -> bool + Sync,
    done: impl Fn(usize) + Sync,
) -> Result<Vec<SweepPoint>, RideError> {
    let frequencies = &spec.frequencies_hz;
    try_map(
        processors(),
        frequencies.len(),
        |n| measure(rig, spec, frequencies[n], &look),
        done,
    )
}

fn measure(
    rig: &Rig,
    spec: &SweepSpec,
    frequency_hz: f64,
    look: &(impl Fn() -> bool + Sync),
) -> Result<SweepPoint, RideError> {
    let omega = TAU * frequency_hz;
    let amplitude_m = (SQRT_2 * spec.rms_mps2 / (omega * omega)).min(spec.amplitude_max_m);
    let period_s = 1.0 / frequency_hz;
    // The sine fades in over two periods, at least 1 s.
    let skip_s = SETTLE_S.max((2.0 * period_s).max(1.0) + SETTLE_PERIODS * period_s);
    let periods = (MEASURE.0 / period_s).ceil().max(MEASURE.1);
    let measured_s = periods * period_s;
    let name = format!("sine:f={frequency_hz},amp={}", amplitude_m * omega * omega);
    let ride_spec = RideSpec {
        occupant_kg: spec.occupant_kg,
        body: spec.body,
        seconds: skip_s + measured_s,
        skip_s,
        arithmetic: spec.arithmetic,
        ..RideSpec::on(FloorSpec {
            seed: spec.seed,
            ..FloorSpec::named(&name)
        })
    };
    let (mut floor, mut seat, mut passive) = (Fit::default(), Fit::default(), Fit::default());
    let mut latched_fault = false;
    let summary = ride::run(rig, &ride_spec, |s: &Sample| {
        if s.time_s >= skip_s {
            let (sin, cos) = (omega * s.time_s).sin_cos();
            floor.push(sin, cos, s.floor.accel_mps2);
            seat.push(sin, cos, s.seat_accel);
            passive.push(sin, cos, s.passive_accel);
            latched_fault |= s.drive.mode == firmware::Mode::Fault.code();
        }
        look()
    })?;
    let drive = floor.phasor();
    let response = |fit: &Fit| {
        let (sin, cos) = fit.phasor();
        let turn = cos.atan2(sin) - drive.1.atan2(drive.0);
        Response {
            transmissibility: sin.hypot(cos) / drive.0.hypot(drive.1),
            phase_deg: (turn + TAU / 2.0).rem_euclid(TAU).to_degrees() - 180.0,
            total_rms_ratio: fit.rms() / floor.rms(),
        }
    };
    Ok(SweepPoint {
        frequency_hz,
        floor_rms_mps2: floor.rms(),
        floor_amplitude_m: amplitude_m,
        seat: response(&seat),
        passive: response(&passive),
        travel_peak_m: summary.travel.peak_m,
        stop_contacts: summary.travel.stop_contacts,
        contact_speed_max_mps: summary.travel.contact_speed_max_mps,
        latched_fault,
    })
}

/// Least-squares fit of `a sin + b cos + c`.
#[derive(Default)]
struct Fit {
    normal: Matrix3<f64>,
    right: Vector3<f64>,
    squares: f64,
    count: f64,
}

impl Fit {
    fn push(&mut self, sin: f64, cos: f64, value: f64) {
        let row = Vector3::new(sin, cos, 1.0);
        self.normal += row * row.transpose();
        self.right += row * value;
        self.squares += value * value;
        self.count += 1.0;
    }

    /// Sine and cosine part; nothing without samples.
    fn phasor(&self) -> (f64, f64) {
        self.normal
            .lu()
            .solve(&self.right)
            .map_or((0.0, 0.0), |x| (x[0], x[1]))
    }

    fn rms(&self) -> f64 {
        (self.squares / self.count.max(1.0)).sqrt()
    }
}
