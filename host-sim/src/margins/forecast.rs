//! The forecast with its coefficients frozen: how the floor expected depends on the floor's velocity.

use super::law::ForecastMap;
use crate::floor::{self, FloorError, FloorSpec};
use firmware::estimate::{self, ORDER, SAMPLE_STEPS, SAMPLES_PER_TIME, TIMES};
use firmware::{BuildError, Parameters};
use shared_math::{Forecast, Lattice, LatticeConfig, LatticeWork, Turn};

/// Samples of the response that the law's forecast keeps.
const RESPONSE: usize = 1 + 3 * (SAMPLE_STEPS - ORDER - 1);

/// Why a forecast cannot be learnt.
#[derive(Debug, thiserror::Error)]
pub enum LearnError {
    /// The floor.
    #[error(transparent)]
    Floor(#[from] FloorError),
    /// A parameter.
    #[error(transparent)]
    Parameters(#[from] BuildError),
}

/// The law's lattice and forecast by themselves, fed with a floor's velocity.
#[derive(Clone, Debug)]
pub struct Learner {
    config: LatticeConfig<f64>,
    lattice: Lattice<f64, ORDER, SAMPLE_STEPS>,
    forecast: Forecast<f64, ORDER, RESPONSE>,
    half_sample: f64,
}

impl Learner {
    /// One without experience.
    #[must_use]
    pub fn new(parameters: &Parameters) -> Self {
        let p = &parameters.estimate;
        let sample_s = parameters.timing.step_s * SAMPLE_STEPS as f32;
        let window = p.forecast_window_s / sample_s;
        let squared_sum = |v: f32| 2.0 * v * v * window;
        Self {
            config: LatticeConfig::new(
                1.0,
                window,
                squared_sum(p.forecast_floor_mps),
                p.forecast_persistence,
                squared_sum(p.forecast_residual_mps),
            ),
            lattice: Lattice::default(),
            forecast: Forecast::default(),
            half_sample: f64::from(0.5 * sample_s),
        }
    }

    /// Takes the floor's velocity of one step, m/s.
    pub fn step(&mut self, velocity: f64) {
        match self.lattice.step(&self.config, velocity) {
            LatticeWork::Stage | LatticeWork::Struck => {}
            LatticeWork::Fresh => {
                self.forecast.begin(self.lattice.coefficients());
                self.forecast.work::<1>(self.half_sample);
            }
            LatticeWork::Rest => self.forecast.work::<3>(self.half_sample),
        }
    }

    /// The map that holds now.
    #[must_use]
    pub fn map(&self) -> ForecastMap {
        let mut map = [[0.0; ORDER]; TIMES];
        for i in 0..ORDER {
            let mut recent = [0.0; ORDER];
            recent[i] = 1.0;
            for (turn, first) in [(Turn::Odd, 0), (Turn::Even, 1)] {
                let ahead = self.forecast.integral::<{ TIMES / 2 }, SAMPLES_PER_TIME>(
                    &recent,
                    self.half_sample,
                    turn,
                );
                for (k, x) in ahead.into_iter().enumerate() {
                    map[2 * k + first][i] = x;
                }
            }
        }
        map
    }
}

/// What the law has learnt after `seconds` on a floor.
///
/// # Errors
/// A floor or a parameter that cannot be used.
pub fn learnt(
    parameters: &Parameters,
    spec: &FloorSpec,
    seconds: f64,
) -> Result<ForecastMap, LearnError> {
    let step_s = f64::from(parameters.timing.step_s);
    let mut source = floor::build(spec, 1.0 / step_s)?;
    let config = parameters.estimate.build::<f64>(&parameters.timing)?;
    let mut observer = estimate::State::<f64>::default();
    let mut learner = Learner::new(parameters);
    for _ in 0..(seconds / step_s) as usize {
        let accel = source.next_accel();
        let motion = observer.step(&config, &estimate::Input::sound(accel, accel, 0.0));
        learner.step(motion.floor_velocity);
    }
    Ok(learner.map())
}
