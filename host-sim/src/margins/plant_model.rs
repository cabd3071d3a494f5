//! The plant as a linear system: seat, body, support, current loop, delay and sensors, discretised exactly.
//!
//! The current loop has headroom: resistance, inductance, back-EMF and supply then cancel, and the
//! current follows its command with the loop's bandwidth. The floor's acceleration is given, linear
//! between samples, as in the bench's own plant. Dry friction is an equivalent viscous one.

use super::linearise::READINGS;
use super::state_space::{C64, Response, StateSpace};
use crate::body::Body;
use crate::rig::Rig;
use nalgebra::DMatrix;
use std::f64::consts::TAU;

/// Everything of a machine that the linear loop depends on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Machine {
    /// Moving mass of the empty seat, kg.
    pub seat_kg: f64,
    /// Who sits on it.
    pub body: Body,
    /// Support spring, N/m.
    pub spring_npm: f64,
    /// Viscous friction, N s/m.
    pub viscous_nspm: f64,
    /// Equivalent viscous friction of dry friction, N s/m.
    pub dry_nspm: f64,
    /// Force constant at mid travel, N/A.
    pub force_constant_npa: f64,
    /// Its fall from mid travel to the stops, share.
    pub droop: f64,
    /// Travel to either side, m.
    pub stop_m: f64,
    /// Travel at the operating point, m.
    pub travel_m: f64,
    /// Force of the motor at the operating point, N.
    pub force_n: f64,
    /// Current loop, Hz.
    pub current_loop_hz: f64,
    /// From sample to current command, s.
    pub delay_s: f64,
    /// Control period, s.
    pub step_s: f64,
    /// Bandwidths of the sensors, Hz.
    pub bandwidth_hz: [f64; READINGS],
    /// Readings over truth.
    pub gain: [f64; READINGS],
}

impl Machine {
    /// A rig's machine with `body` at mid travel, without dry friction.
    #[must_use]
    pub fn of(rig: &Rig, body: Body) -> Self {
        let sensors = &rig.sensors;
        Self {
            seat_kg: rig.seat.empty_mass_kg,
            body,
            spring_npm: rig.spring.stiffness_npm,
            viscous_nspm: rig.friction.viscous_nspm,
            dry_nspm: 0.0,
            force_constant_npa: rig.actuator.force_constant_npa,
            droop: rig.actuator.force_constant_droop,
            stop_m: rig.seat.travel_m,
            travel_m: 0.0,
            force_n: 0.0,
            current_loop_hz: rig.actuator.current_loop_hz,
            delay_s: rig.timing.transport_steps as f64 * rig.timing.step_s,
            step_s: rig.timing.step_s,
            bandwidth_hz: [
                sensors.floor_accel.bandwidth_hz,
                sensors.seat_accel.bandwidth_hz,
                sensors.travel.bandwidth_hz,
            ],
            gain: [1.0; READINGS],
        }
    }
}

/// Inputs of the motion from one sample to the next.
const OLD_COMMAND: usize = 0;
const NEW_COMMAND: usize = 1;
const FLOOR_NOW: usize = 2;
const FLOOR_NEXT: usize = 3;

/// The linear plant.
#[derive(Clone, Debug)]
pub struct LinearPlant {
    /// From sample to sample. Outputs: seat acceleration, travel.
    motion: StateSpace,
    response: Response,
    /// Whole periods of delay.
    periods: usize,
    follow: [f64; READINGS],
    gain: [f64; READINGS],
}

impl LinearPlant {
    /// The plant of a machine.
    #[must_use]
    pub fn new(machine: &Machine) -> Self {
        let m = machine;
        let step = m.step_s;
        let (a, command, floor, seat_row) = continuous(m);
        let n = a.nrows();
        let periods = (m.delay_s / step + 1.0e-9).floor();
        let rest = (m.delay_s - periods * step).max(0.0);
        let (phi, _) = held(&a, &command, step);
        // The old command holds for `rest`, the new one after it.
        let (_, old) = held(&a, &command, rest);
        let (later, new) = held(&a, &command, step - rest);
        let [at_start, at_end] = ramped(&a, &floor, step);
        let mut b = DMatrix::zeros(n, 4);
        b.set_column(OLD_COMMAND, &(later * old).column(0));
        b.set_column(NEW_COMMAND, &new.column(0));
        b.set_column(FLOOR_NOW, &at_start.column(0));
        b.set_column(FLOOR_NEXT, &at_end.column(0));
        let mut c = DMatrix::zeros(2, n);
        c.set_row(0, &seat_row.row(0));
        c[(1, 0)] = 1.0;
        let motion = StateSpace {
            a: phi,
            b,
            c,
            d: DMatrix::zeros(2, 4),
        };
        Self {
            response: Response::new(&motion),
            motion,
            periods: periods as usize,
            follow: m.bandwidth_hz.map(|hz| -(-TAU * hz * step).exp_m1()),
            gain: m.gain,
        }
    }

    fn sensor(&self, j: usize, z: C64) -> C64 {
        let follow = self.follow[j];
        z * (self.gain[j] * follow) / (z - (1.0 - follow))
    }

    /// From current command (A) to the readings.
    #[must_use]
    pub fn to_readings(&self, z: C64) -> [C64; READINGS] {
        let y = self.response.at(z);
        let late = z.powi(-(self.periods as i32));
        let through = |i: usize| (y[(i, NEW_COMMAND)] + y[(i, OLD_COMMAND)] / z) * late;
        [
            C64::ZERO,
            through(0) * self.sensor(1, z),
            through(1) * self.sensor(2, z),
        ]
    }

    /// From current command (A) and from floor acceleration (m/s^2) to seat acceleration (m/s^2).
    #[must_use]
    pub fn to_seat(&self, z: C64) -> [C64; 2] {
        let y = self.response.at(z);
        let late = z.powi(-(self.periods as i32));
        [
            (y[(0, NEW_COMMAND)] + y[(0, OLD_COMMAND)] / z) * late,
            y[(0, FLOOR_NOW)] + y[(0, FLOOR_NEXT)] * z,
        ]
    }

    /// From floor acceleration (m/s^2) to the readings.
    #[must_use]
    pub fn floor_to_readings(&self, z: C64) -> [C64; READINGS] {
        let y = self.response.at(z);
        let through = |i: usize| y[(i, FLOOR_NOW)] + y[(i, FLOOR_NEXT)] * z;
        [
            self.sensor(0, z),
            through(0) * self.sensor(1, z),
            through(1) * self.sensor(2, z),
        ]
    }

    /// Command in, readings out, as one system. States: motion, commands on their way (newest first),
    /// filtered readings.
    #[must_use]
    pub fn system(&self) -> StateSpace {
        let n = self.motion.a.nrows();
        let line = self.periods + 1;
        let total = n + line + READINGS;
        let mut a = DMatrix::zeros(total, total);
        let mut b = DMatrix::zeros(total, 1);
        let mut c = DMatrix::zeros(READINGS, total);
        a.view_mut((0, 0), (n, n)).copy_from(&self.motion.a);
        // The old command is the last of the line, the new one that before it, or this step's own.
        for i in 0..n {
            a[(i, n + line - 1)] = self.motion.b[(i, OLD_COMMAND)];
            let new = self.motion.b[(i, NEW_COMMAND)];
            if line >= 2 {
                a[(i, n + line - 2)] = new;
            } else {
                b[(i, 0)] = new;
            }
        }
        b[(n, 0)] = 1.0;
        for i in 1..line {
            a[(n + i, n + i - 1)] = 1.0;
        }
        for j in 0..READINGS {
            let (row, follow) = (n + line + j, self.follow[j]);
            a[(row, row)] = 1.0 - follow;
            // The floor is at rest.
            if let Some(output) = j.checked_sub(1) {
                for i in 0..n {
                    a[(row, i)] = follow * self.motion.c[(output, i)];
                }
            }
            for i in 0..total {
                c[(j, i)] = self.gain[j] * a[(row, i)];
            }
        }
        StateSpace {
            a,
            b,
            c,
            d: DMatrix::zeros(READINGS, 1),
        }
    }
}

/// States: travel, travel rate, displacement and rate of each sprung mass on the seat, current. Gives
/// `a`, the columns of command and floor acceleration, and the row of seat acceleration.
fn continuous(m: &Machine) -> (DMatrix<f64>, DMatrix<f64>, DMatrix<f64>, DMatrix<f64>) {
    let sprung: Vec<_> = m.body.sprung.iter().filter(|s| s.mass_kg > 0.0).collect();
    let n = 3 + 2 * sprung.len();
    let current = n - 1;
    let share = m.travel_m / m.stop_m;
    let per_amp = m.force_constant_npa * (1.0 - m.droop * share * share);
    // A held current pushes less where the force constant has fallen.
    let slope = -2.0 * m.force_constant_npa * m.droop * share / m.stop_m * m.force_n / per_amp;
    let base = m.seat_kg + m.body.base_kg;
    let mut seat = DMatrix::zeros(1, n);
    seat[(0, 0)] = (slope - m.spring_npm) / base;
    seat[(0, 1)] = -(m.viscous_nspm + m.dry_nspm) / base;
    seat[(0, current)] = per_amp / base;
    for (i, s) in sprung.iter().enumerate() {
        seat[(0, 2 + 2 * i)] = s.stiffness_npm / base;
        seat[(0, 3 + 2 * i)] = s.damper_nspm / base;
    }
    let mut a = DMatrix::zeros(n, n);
    a[(0, 1)] = 1.0;
    a.set_row(1, &seat.row(0));
    for (i, s) in sprung.iter().enumerate() {
        let (q, p) = (2 + 2 * i, 3 + 2 * i);
        a[(q, p)] = 1.0;
        a.set_row(p, &(-seat.row(0)));
        a[(p, q)] -= s.stiffness_npm / s.mass_kg;
        a[(p, p)] -= s.damper_nspm / s.mass_kg;
    }
    let bandwidth = TAU * m.current_loop_hz;
    a[(current, current)] = -bandwidth;
    let mut command = DMatrix::zeros(n, 1);
    command[(current, 0)] = bandwidth;
    let mut floor = DMatrix::zeros(n, 1);
    floor[(1, 0)] = -1.0;
    (a, command, floor, seat)
}

/// `exp(a t)` and its integral times `b`, by one exponential of a larger matrix.
fn held(a: &DMatrix<f64>, b: &DMatrix<f64>, t: f64) -> (DMatrix<f64>, DMatrix<f64>) {
    let n = a.nrows();
    let mut big = DMatrix::zeros(n + 1, n + 1);
    big.view_mut((0, 0), (n, n)).copy_from(&(a * t));
    big.view_mut((0, n), (n, 1)).copy_from(&(b * t));
    let whole = big.exp();
    (
        whole.view((0, 0), (n, n)).into_owned(),
        whole.view((0, n), (n, 1)).into_owned(),
    )
}

/// Effect of an input that goes linearly from one value at the start to another at the end.
fn ramped(a: &DMatrix<f64>, b: &DMatrix<f64>, t: f64) -> [DMatrix<f64>; 2] {
    let n = a.nrows();
    let mut big = DMatrix::zeros(n + 2, n + 2);
    big.view_mut((0, 0), (n, n)).copy_from(&(a * t));
    big.view_mut((0, n), (n, 1)).copy_from(&(b * t));
    big[(n, n + 1)] = 1.0;
    let whole = big.exp();
    let level = whole.view((0, n), (n, 1)).into_owned();
    let ramp = whole.view((0, n + 1), (n, 1)).into_owned();
    [level - &ramp, ramp]
}
