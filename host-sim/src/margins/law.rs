//! The law's own stages joined as in the control cycle, about an operating point.
//!
//! The observer is linear, so that an operating point may be added to its outputs as constants: the
//! stages behind it then work there, while all inputs stay at zero. The seat's acceleration at the
//! operating point is the one that the law permits, so that no integral moves away from it.
//!
//! Frozen: mass, share of friction cancelled, supply and coil temperature (inputs of the stages that
//! the cycle learns slowly or measures), the forecast's coefficients, and the mode (Active).

use firmware::{BuildError, Parameters, arrest, estimate, isolate, limit};
use shared_math::{Scalar, Turn};
use std::collections::VecDeque;

/// Times of one turn of the look-ahead.
const HALF: usize = estimate::TIMES / 2;

/// Linear map from the floor's velocity now and at the forecast's sampling intervals before to the
/// forecast change of its displacement: one row a forecast time, s.
pub type ForecastMap = [[f64; estimate::ORDER]; estimate::TIMES];

/// What is held still while the law is linearised.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LawPoint {
    /// Mass that the law believes is supported, seat included, kg.
    pub mass_kg: f64,
    /// Share of Coulomb cancellation in use, 0 to 1.
    pub friction: f64,
    /// Supply voltage, V.
    pub supply_v: f64,
    /// Coil temperature, degrees Celsius.
    pub coil_c: f64,
    /// Travel, m.
    pub travel_m: f64,
    /// Travel rate, m/s.
    pub rate_mps: f64,
    /// Expected change of the floor's displacement at each forecast time, m: what makes
    /// the look-ahead follow.
    pub ahead_m: [f64; estimate::TIMES],
    /// Peak of floor acceleration that the law remembers, m/s^2.
    pub floor_peak_mps2: f64,
    /// The forecast's dependence on the floor's velocity.
    pub forecast: ForecastMap,
}

impl LawPoint {
    /// At rest at mid travel on a floor of which nothing is expected.
    #[must_use]
    pub const fn still(mass_kg: f64) -> Self {
        Self {
            mass_kg,
            friction: 0.0,
            supply_v: 48.0,
            coil_c: 25.0,
            travel_m: 0.0,
            rate_mps: 0.0,
            ahead_m: [0.0; estimate::TIMES],
            floor_peak_mps2: 0.0,
            forecast: [[0.0; estimate::ORDER]; estimate::TIMES],
        }
    }
}

/// What a step of the law gives.
#[derive(Clone, Copy, Debug)]
pub struct LawOutput<S> {
    /// Current command, A.
    pub current: S,
    /// Wanted seat acceleration, m/s^2.
    pub wanted: S,
    /// Permitted seat acceleration, m/s^2.
    pub permitted: S,
}

/// The stages with their states.
#[derive(Clone, Debug)]
pub struct Law<S> {
    estimate: (estimate::Config<S>, estimate::State<S>),
    isolate: (isolate::Config<S>, isolate::State<S>),
    arrest: (arrest::Config<S>, arrest::State<S>),
    limit: (limit::Config<S>, limit::State<S>),
    point: LawPoint,
    /// The floor's velocity, newest first.
    velocities: VecDeque<S>,
    accel_mps2: f64,
    begun: bool,
    held: bool,
}

/// Steps of the floor's velocity that the forecast reaches back.
const REACH: usize = (estimate::ORDER - 1) * estimate::SAMPLE_STEPS + 1;

impl<S: Scalar> Law<S> {
    /// The law after reset, with the observer's steady gains from the first step on.
    ///
    /// # Errors
    /// When a parameter cannot be used.
    pub fn new(parameters: &Parameters, point: LawPoint) -> Result<Self, BuildError> {
        let timing = &parameters.timing;
        let mut observer = parameters.estimate;
        for stage in &mut observer.start {
            stage.until_s = 0.0;
            stage.gains = observer.gains;
        }
        Ok(Self {
            estimate: (observer.build(timing)?, estimate::State::default()),
            isolate: (parameters.isolate.build(timing)?, isolate::State::default()),
            arrest: (parameters.arrest.build(timing)?, arrest::State::default()),
            limit: (parameters.limit.build(timing)?, limit::State::default()),
            point,
            velocities: std::iter::repeat_n(S::ZERO, REACH).collect(),
            accel_mps2: 0.0,
            begun: false,
            held: false,
        })
    }

    /// The acceleration of the operating point stays from now on, whatever the readings bring.
    pub const fn hold(&mut self) {
        self.held = true;
    }

    /// One step on readings of floor acceleration, seat acceleration (m/s^2) and travel (m), each as
    /// its distance from the operating point.
    pub fn step(&mut self, readings: [S; 3]) -> LawOutput<S> {
        let number = |x: f64| S::from_f32(x as f32);
        let point = &self.point;
        let [floor_accel, seat_accel, travel] = readings;
        let mut motion = self.estimate.1.step(
            &self.estimate.0,
            &estimate::Input::sound(floor_accel, seat_accel, travel),
        );
        self.velocities.pop_back();
        self.velocities.push_front(motion.floor_velocity);
        motion.floor_ahead = self.ahead(motion.turn);

        motion.travel = motion.travel + number(point.travel_m);
        motion.travel_rate = motion.travel_rate + number(point.rate_mps);
        motion.seat_velocity = motion.seat_velocity + number(point.rate_mps);
        motion.seat_accel = motion.seat_accel + number(self.accel_mps2);
        let mut seen = motion;
        if !self.begun {
            seen.floor_accel = number(point.floor_peak_mps2);
            self.begun = true;
        }

        let wanted = self.isolate.1.step(&self.isolate.0, &seen, S::ONE);
        let permitted = self
            .arrest
            .1
            .step(&self.arrest.0, &motion, wanted)
            .permitted;
        let drive = self.limit.1.step(
            &self.limit.0,
            &motion,
            &limit::Input {
                accel: permitted,
                mass: number(1.0e-3 * point.mass_kg),
                supply: number(point.supply_v),
                coil_temperature: number(0.01 * point.coil_c),
                authority: S::ONE,
                release: false,
                slew: self.limit.0.slew(),
                friction: number(point.friction),
            },
        );
        if !self.held {
            self.accel_mps2 = permitted.to_f64();
        }
        LawOutput {
            current: drive.current,
            wanted,
            permitted,
        }
    }

    /// The forecast with frozen coefficients, at the times of this turn.
    fn ahead(&self, turn: Turn) -> [S; HALF] {
        let first = match turn {
            Turn::Odd => 0,
            Turn::Even => 1,
        };
        let number = |x: f64| S::from_f32(x as f32);
        core::array::from_fn(|i| {
            let j = 2 * i + first;
            let (Some(row), Some(&offset)) =
                (self.point.forecast.get(j), self.point.ahead_m.get(j))
            else {
                return S::ZERO;
            };
            let past = self.velocities.iter().step_by(estimate::SAMPLE_STEPS);
            (row.iter().zip(past)).fold(number(offset), |sum, (&c, &v)| sum + number(c) * v)
        })
    }
}
