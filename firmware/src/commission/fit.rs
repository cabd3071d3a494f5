//! From the locked-in readings to force constant, mass and friction.
//!
//! # Equations
//!
//! The seat moves by `m a = kf i - k r - c r' - Fc sign(r')` around its rest, `r` the travel, `a` the seat's
//! acceleration in space, `-w^2 R` and that of the floor. With the phase taken from travel (`R` real), the
//! fundamental of dry friction being `(4/pi) Fc` (describing function, textbook), and `d` the angle by which
//! the seat turns round early:
//!
//! ```text
//! kf Re(I) - m Re(A)                      =  k R - (4/pi) Fc sin(d)
//! kf Im(I) - m Im(A) - c w R - (4/pi) Fc cos(d) = 0
//! ```
//!
//! `d` comes from the harmonics that dry friction puts on the travel. Above resonance the seat is all mass
//! to them; summing the odd ones, `1/n^2` each, gives `d = (pi^2/8 - 1) (4/pi) Fc / (m w^2 R)`. Without it
//! the mass would come out some per cent wrong.
//! It is found by solving three times.
//!
//! Every row is divided by its own force, so that a share of error weighs the same in all. The unknowns are scaled by
//! what was told, so that they are all near one.
//!
//! # The anchor
//!
//! `k` is told, not found: current, mass and friction are known only up to a common factor, and
//! the spring sets it. An error of the told stiffness goes in full into force constant, mass and friction.
//! At the upper frequencies the spring hardly counts. There the current gives the ratio of force constant and mass.
//! The slow motion gives the force constant against the spring.
//! Its friction would drown the little current, so the seat is kept sliding by the fast motion:
//! then dry friction acts on the slow one like a damper, a quarter of a turn away from the spring.

use super::least_squares::LeastSquares;
use super::phasor::{CHANNELS, Phasor};
use core::f32::consts::PI;
use shared_math::Scalar;

/// What the parameter table says of the machine.
#[derive(Clone, Copy, Debug)]
pub(super) struct Told {
    pub(super) force_constant_npa: f32,
    pub(super) mass_kg: f32,
    pub(super) spring_npm: f32,
    pub(super) viscous_nspm: f32,
    pub(super) coulomb_n: f32,
}

/// Readings at one test motion, phases relative to travel.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Tone {
    /// Angular frequency, rad/s.
    pub(super) w_radps: f32,
    /// Travel amplitude, m.
    pub(super) travel_m: f32,
    pub(super) current: Phasor,
    pub(super) seat: Phasor,
    pub(super) floor: Phasor,
}

impl Tone {
    /// From amplitudes with any phase; `None` without motion.
    pub(super) fn new(
        w_radps: f32,
        [current, travel, seat, floor]: [Phasor; CHANNELS],
    ) -> Option<Self> {
        let travel_m = travel.size();
        (travel_m > 0.0).then(|| Self {
            w_radps,
            travel_m,
            current: current.relative_to(travel, travel_m),
            seat: seat.relative_to(travel, travel_m),
            floor: floor.relative_to(travel, travel_m),
        })
    }

    /// Acceleration of the seat in space by travel and floor, m/s^2.
    pub(super) fn accel(&self, floor_sign: f32) -> Phasor {
        Phasor {
            re: floor_sign * self.floor.re - self.w_radps * self.w_radps * self.travel_m,
            im: floor_sign * self.floor.im,
        }
    }
}

/// What the rows say.
#[derive(Clone, Copy, Debug)]
pub(super) struct Fit {
    /// Signed: negative when travel and current disagree.
    pub(super) force_constant_npa: f32,
    pub(super) mass_kg: f32,
    pub(super) viscous_nspm: f32,
    pub(super) coulomb_n: f32,
    /// R.m.s. by which the rows are missed, share of their force.
    pub(super) residual: f32,
}

const TURNS: u8 = 3;
/// `pi^2/8 - 1`: the sum of `1/n^2` over the odd harmonics from the third on.
const HARMONICS: f32 = PI * PI / 8.0 - 1.0;

/// The solution while it is being worked out: one motion's rows a step, so that no step is long on a core
/// without an FPU.
#[derive(Clone, Copy, Debug)]
pub(super) struct Fitting {
    floor_sign: f32,
    /// Fundamental of dry friction as it is known so far.
    friction_n: f32,
    mass_kg: f32,
    rows: LeastSquares,
    at: usize,
    turn: u8,
}

/// What a step of [`Fitting`] comes to.
#[derive(Clone, Copy, Debug)]
pub(super) enum Solution {
    Working,
    Found(Fit),
    /// The rows do not determine every unknown.
    None,
}

impl Fitting {
    /// `floor_sign` is the polarity of the floor accelerometer, zero to leave the floor out.
    pub(super) fn new(told: &Told, floor_sign: f32) -> Self {
        Self {
            floor_sign,
            friction_n: 0.0,
            mass_kg: told.mass_kg,
            rows: LeastSquares::default(),
            at: 0,
            turn: 0,
        }
    }

    /// One step, for the motions at one frequency (`single`) and the slow one under a fast one.
    pub(super) fn step(&mut self, told: &Told, single: &[Tone], slow: &Tone) -> Solution {
        if let Some(tone) = single.get(self.at) {
            let inertia_n = self.mass_kg * tone.w_radps * tone.w_radps * tone.travel_m;
            let early = Scalar::limit(HARMONICS * self.friction_n / inertia_n, 0.0, 0.5);
            let dry = Some((self.friction_n, early));
            add(&mut self.rows, told, tone, self.floor_sign, dry);
            self.at = self.at.saturating_add(1);
            return Solution::Working;
        }
        add(&mut self.rows, told, slow, self.floor_sign, None);
        let Some(([force, mass, viscous, coulomb], residual)) = self.rows.solve() else {
            return Solution::None;
        };
        let fit = Fit {
            force_constant_npa: force * told.force_constant_npa,
            mass_kg: mass * told.mass_kg,
            viscous_nspm: viscous * told.viscous_nspm,
            coulomb_n: coulomb * told.coulomb_n,
            residual,
        };
        self.friction_n = Scalar::max(4.0 / PI * fit.coulomb_n, 0.0);
        self.mass_kg = Scalar::max(fit.mass_kg, 0.1 * told.mass_kg);
        (self.rows, self.at) = (LeastSquares::default(), 0);
        self.turn = self.turn.saturating_add(1);
        if self.turn < TURNS {
            Solution::Working
        } else {
            Solution::Found(fit)
        }
    }
}

/// The rows of one motion. The angles are small: `sin(d) = d`, `cos(d) = 1 - d^2 / 2`.
fn add(
    rows: &mut LeastSquares,
    told: &Told,
    tone: &Tone,
    floor_sign: f32,
    dry: Option<(f32, f32)>,
) {
    let accel = tone.accel(floor_sign);
    let per = 1.0 / (told.force_constant_npa * tone.current.size());
    let force = told.force_constant_npa * per;
    let mass = told.mass_kg * per;
    let (friction_n, early) = dry.unwrap_or((0.0, 0.0));
    rows.add([
        force * tone.current.re,
        -mass * accel.re,
        0.0,
        0.0,
        (told.spring_npm * tone.travel_m - friction_n * early) * per,
    ]);
    if dry.is_some() {
        rows.add([
            force * tone.current.im,
            -mass * accel.im,
            -told.viscous_nspm * tone.w_radps * tone.travel_m * per,
            -4.0 / PI * told.coulomb_n * (1.0 - 0.5 * early * early) * per,
            0.0,
        ]);
    }
}
