//! The healthy ride, the passive seat beside it, and the moments at which memory is struck.

use super::BitflipError;
use crate::body::Body;
use crate::campaign::judge::{CONTACT_MPS, PEAK_FACTOR};
use crate::closed_loop::{ClosedLoop, switches};
use crate::design;
use crate::fault::memory::{self, Place};
use crate::floor::{self, FloorSpec};
use crate::plant::{Config, Drive, Plant};
use crate::ride::{RideError, RideSpec};
use crate::rig::Rig;
use firmware::Cycle;
use shared_math::WordKind;

/// Within this time a struck law must have come back to the healthy one to count as healed, s.
pub const HEAL_S: f64 = 1.0;
/// Time after the strike in which no limit may be broken, s.
pub const AFTER_S: f64 = 3.0;

/// What is ridden, and when it is struck.
#[derive(Clone, Debug, PartialEq)]
pub struct Setting {
    /// The floor.
    pub floor: FloorSpec,
    /// Mass of the occupant, kg.
    pub occupant_kg: f64,
    /// The first moment, s.
    pub first_s: f64,
    /// Number of moments.
    pub moments: usize,
}

/// Control periods between two moments: a prime, so that the moments fall into every turn and phase of the law.
const SPACING: u64 = 617;

impl Setting {
    /// Rough ground (hauler at level 2.5), 80 kg, after 12 s.
    #[must_use]
    pub fn rough(moments: usize) -> Self {
        let mut floor = FloorSpec::named("hauler");
        floor.level = 2.5;
        Self {
            floor,
            occupant_kg: 80.0,
            first_s: 12.0,
            moments,
        }
    }
}

/// One moment and what is healthy after it.
pub(super) struct Moment<'a> {
    /// The machine at the beginning of the period.
    pub(super) machine: ClosedLoop<'a, f32>,
    pub(super) period: u64,
    /// Words of state at the end of every period until [`HEAL_S`].
    pub(super) states: Vec<Vec<u32>>,
    /// Travel (m) and seat acceleration (m/s^2) at the end of every period until [`AFTER_S`].
    pub(super) motion: Vec<[f64; 2]>,
    /// Hardest contact (m/s) and largest seat acceleration (m/s^2) that may be met.
    pub(super) limits: [f64; 2],
}

/// The healthy ride.
pub struct Bench<'a> {
    pub(super) setting: Setting,
    pub(super) step_s: f64,
    pub(super) places: Vec<Place>,
    /// Floor acceleration at the beginning of every period, m/s^2.
    pub(super) floor: Vec<f64>,
    pub(super) moments: Vec<Moment<'a>>,
    /// For every word of state that is a number: how far it may be from the healthy one to count as the same.
    pub(super) tolerance: Vec<f64>,
    /// The same for travel, m, and seat acceleration, m/s^2.
    pub(super) motion_tolerance: [f64; 2],
}

/// Share of a number's own r.m.s. by which it may differ and count as the same.
const SAME: f64 = 0.01;

impl<'a> Bench<'a> {
    /// Rides the healthy ride.
    ///
    /// # Errors
    /// A rig or floor that cannot be used, or a ride that does not isolate.
    pub fn new(rig: &'a Rig, setting: Setting) -> Result<Self, BitflipError> {
        let step_s = rig.timing.step_s;
        let count = |s: f64| (s / step_s).round() as u64;
        let (heal, after) = (count(HEAL_S), count(AFTER_S));
        let first = count(setting.first_s);
        let last = first + SPACING * setting.moments.saturating_sub(1) as u64;
        let end = last + after;

        let mut source = floor::build(&setting.floor, 1.0 / step_s).map_err(RideError::from)?;
        let floor: Vec<f64> = (0..=end).map(|_| source.next_accel()).collect();
        let parameters = design::parameters(rig).map_err(RideError::from)?;
        let cycle = Cycle::<f32>::new(&parameters).map_err(RideError::from)?;
        let kind = RideSpec::on(setting.floor.clone()).body;
        let body = Body::new(kind, setting.occupant_kg * rig.seat.on_seat_share);
        let mut machine = ClosedLoop::new(rig, cycle, body, setting.floor.seed, None);
        let config = Config::passive(rig);
        let mut passive = Plant::new(config, body, Plant::balance_n(&config, &body), 0.0);

        let places = memory::places::<f32>();
        let words = Cycle::<f32>::STATE_WORDS;
        let mut moments: Vec<Moment<'a>> = Vec::new();
        // Of every period from the first moment: motion, and what the stops and seats saw.
        let mut motion = Vec::new();
        let mut seats = Vec::new();
        let mut squares = (vec![0.0; words], [0.0; 2]);
        for period in 0..end {
            let since = period.checked_sub(first);
            if let Some(since) = since
                && since % SPACING == 0
                && period <= last
            {
                moments.push(Moment {
                    machine: machine.clone(),
                    period,
                    states: Vec::new(),
                    motion: Vec::new(),
                    limits: [0.0; 2],
                });
            }
            let (start, next) = floor::period_ends(&floor, period as usize);
            passive.forget_stops();
            let asked = machine.ask(start, switches(true));
            machine.advance(asked.answer, start, next);
            passive.step(start, next, Drive::None, 0);
            if since.is_none() {
                continue;
            }
            if !asked.inside.permit.mode.drives() {
                return Err(BitflipError::NotRiding {
                    mode: asked.inside.permit.mode.name(),
                    time_s: period as f64 * step_s,
                });
            }
            let plant = machine.plant();
            motion.push([plant.travel(), plant.seat_accel()]);
            seats.push((passive.stops().speed_max_mps, passive.seat_accel().abs()));
            let state = machine.cycle().state_words();
            for (sum, &word) in squares.0.iter_mut().zip(state) {
                *sum += f64::from(f32::from_bits(word)).powi(2);
            }
            squares.1[0] += plant.travel().powi(2);
            squares.1[1] += plant.seat_accel().powi(2);
            for moment in &mut moments {
                if period < moment.period + heal {
                    moment.states.push(state.to_vec());
                }
            }
        }
        for moment in &mut moments {
            let from = (moment.period - first) as usize;
            let window = from..from + after as usize;
            moment.motion = motion[window.clone()].to_vec();
            let healthy = moment.motion.iter().map(|m| m[1].abs());
            let peak = seats[window.clone()].iter().map(|s| s.1).chain(healthy);
            let contact = seats[window].iter().map(|s| s.0);
            moment.limits = [
                contact.fold(CONTACT_MPS, f64::max),
                PEAK_FACTOR * peak.fold(0.0, f64::max),
            ];
        }
        let mean = |sum: f64| SAME * (sum / motion.len() as f64).sqrt();
        Ok(Self {
            setting,
            step_s,
            floor,
            moments,
            tolerance: squares.0.iter().map(|&sum| mean(sum)).collect(),
            motion_tolerance: squares.1.map(mean),
            places,
        })
    }

    /// Number of moments.
    #[must_use]
    pub fn moments(&self) -> usize {
        self.moments.len()
    }

    /// The words whose path begins with `field`.
    #[must_use]
    pub fn words(&self, field: &str) -> Vec<usize> {
        let named = self.places.iter().enumerate();
        named
            .filter(|(_, place)| place.path.starts_with(field))
            .map(|(n, _)| n)
            .collect()
    }

    /// The command that rides this strike.
    #[must_use]
    pub fn command(&self, moment: usize, bit: u64) -> String {
        let onset_s = self.moments[moment].period as f64 * self.step_s;
        format!(
            "becalm ride --floor {} --level {} --seed {} --occupant {} --seconds {} --fault \
             memory-flip:onset={:.4},size={bit}",
            self.setting.floor.name,
            self.setting.floor.level,
            self.setting.floor.seed,
            self.setting.occupant_kg,
            (onset_s + AFTER_S).ceil(),
            onset_s,
        )
    }

    /// Whether a word is a number of the law's arithmetic.
    pub(super) fn is_number(&self, word: usize) -> bool {
        self.places[word].kind == WordKind::Number
    }
}
