//! How much of the proof's assumptions a ride has used.
//!
//! Every period of a ride is looked at while the law isolates; what was foreseen is compared with the truth
//! when it has come.

use super::claim::Claim;
use super::set::ProvenSet;
use crate::ride::Sample;
use crate::rig::Rig;
use firmware::{BuildError, Mode};
use serde::Serialize;
use shared_math::Scalar;

/// The largest value seen of what is bounded.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Bounded {
    /// Largest seen.
    pub seen: f64,
    /// Largest assumed.
    pub assumed: f64,
}

impl Bounded {
    const fn new(assumed: f64) -> Self {
        Self { seen: 0.0, assumed }
    }

    fn see(&mut self, value: f64) {
        self.seen = self.seen.max(value);
    }

    /// Whether nothing larger than assumed was seen.
    #[must_use]
    pub fn holds(&self) -> bool {
        self.seen <= self.assumed
    }
}

/// What a ride has used of the assumptions.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct AssumptionFigures {
    /// Whether all have held.
    pub held: bool,
    /// Floor acceleration, m/s^2.
    pub floor_acceleration_mps2: Bounded,
    /// Change of the floor's acceleration, m/s^3.
    pub floor_jerk_mps3: Bounded,
    /// Astray toward a near end, m/s.
    pub astray_near_mps: Bounded,
    /// Astray elsewhere, m/s.
    pub astray_away_mps: Bounded,
    /// Astray in one period, m/s.
    pub astray_step_mps: Bounded,
    /// True travel rate toward a near end less the one foreseen, m/s.
    pub foresight_rate_mps: Bounded,
    /// True travel rate less the one foreseen elsewhere, m/s.
    pub foresight_rate_away_mps: Bounded,
    /// True travel toward a near end less the one foreseen, m.
    pub foresight_travel_m: Bounded,
    /// Moving mass, kg.
    pub mass_kg: Bounded,
    /// How far the seat stayed inside the proven set at least, m/s; negative: it left it.
    pub set_margin_mps: Option<f64>,
}

/// One assumption.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Assumption {
    /// Name in files: quantity and SI unit.
    pub name: &'static str,
    /// In words.
    pub words: &'static str,
    /// Unit that people read.
    pub unit: &'static str,
    /// That unit in SI units: so many of it are one.
    pub scale: f64,
    /// What was seen of it.
    pub bounded: Bounded,
}

impl AssumptionFigures {
    /// What is assumed of a rig, with nothing seen yet.
    #[must_use]
    pub const fn of(claim: &Claim) -> Self {
        Self {
            held: true,
            floor_acceleration_mps2: Bounded::new(claim.floor_accel_mps2),
            floor_jerk_mps3: Bounded::new(claim.floor_jerk_mps3),
            astray_near_mps: Bounded::new(claim.astray_mps),
            astray_away_mps: Bounded::new(claim.astray_away_mps),
            astray_step_mps: Bounded::new(claim.astray_step_mps),
            foresight_rate_mps: Bounded::new(claim.foresight_rate_mps),
            foresight_rate_away_mps: Bounded::new(claim.foresight_rate_away_mps),
            foresight_travel_m: Bounded::new(claim.foresight_travel_m),
            mass_kg: Bounded::new(claim.authority.mass_kg),
            set_margin_mps: None,
        }
    }

    /// All that is bounded, in the order of the fields.
    #[must_use]
    pub fn all(&self) -> [Assumption; 9] {
        let one = |name, bounded, words, scale, unit| Assumption {
            name,
            words,
            unit,
            scale,
            bounded,
        };
        [
            one(
                "floor_acceleration_mps2",
                self.floor_acceleration_mps2,
                "floor",
                1.0,
                "m/s2",
            ),
            one(
                "floor_jerk_mps3",
                self.floor_jerk_mps3,
                "floor",
                1.0,
                "m/s3",
            ),
            one(
                "astray_near_mps",
                self.astray_near_mps,
                "astray near an end",
                1e3,
                "mm/s",
            ),
            one(
                "astray_away_mps",
                self.astray_away_mps,
                "astray elsewhere",
                1e3,
                "mm/s",
            ),
            one(
                "astray_step_mps",
                self.astray_step_mps,
                "astray in a step",
                1e3,
                "mm/s",
            ),
            one(
                "foresight_rate_mps",
                self.foresight_rate_mps,
                "foreseen rate near an end",
                1e3,
                "mm/s",
            ),
            one(
                "foresight_rate_away_mps",
                self.foresight_rate_away_mps,
                "foreseen rate elsewhere",
                1e3,
                "mm/s",
            ),
            one(
                "foresight_travel_m",
                self.foresight_travel_m,
                "foreseen travel near an end",
                1e3,
                "mm",
            ),
            one("mass_kg", self.mass_kg, "mass", 1.0, "kg"),
        ]
    }
}

/// Slack with which the set is drawn, m/s^2: the first that `certificate` tries, with which the default rig is
/// proved.
pub const SLACK_MPS2: f64 = 0.15;

/// Periods that a sample is kept: longer than the arrest foresees.
const KEPT: usize = 16;

/// What was foreseen in a period, and the truth at its start.
#[derive(Clone, Copy, Debug, Default)]
struct Kept {
    foreseen: [f64; 2],
    astray: f64,
    truth: [f64; 2],
    counts: bool,
}

/// Watches a ride.
#[derive(Clone, Debug)]
pub struct Watch {
    claim: Claim,
    set: ProvenSet,
    keep: f64,
    /// From a sample to the instant foreseen, periods.
    ahead_steps: f64,
    kept: [Kept; KEPT],
    steps: usize,
    last_astray: f64,
    last_floor: f64,
    figures: AssumptionFigures,
}

impl Watch {
    /// A watch for rides of a rig.
    ///
    /// # Errors
    /// When the arrest's parameters cannot be used.
    pub fn new(rig: &Rig) -> Result<Self, BuildError> {
        let claim = Claim::of(rig);
        let timing = &rig.firmware.timing;
        let law = rig.firmware.arrest.build::<f64>(timing)?;
        let ahead_s = Scalar::max(timing.latency_s - 0.5 * timing.step_s, 0.0_f32);
        Ok(Self {
            set: ProvenSet::design(&law, &claim, SLACK_MPS2),
            keep: 1.0 - claim.fade_ps * claim.step_s,
            ahead_steps: f64::from(ahead_s / timing.step_s).min((KEPT - 2) as f64),
            kept: [Kept::default(); KEPT],
            steps: 0,
            last_astray: 0.0,
            last_floor: 0.0,
            figures: AssumptionFigures::of(&claim),
            claim,
        })
    }

    /// The set that the rides are held against.
    #[must_use]
    pub const fn set(&self) -> &ProvenSet {
        &self.set
    }

    /// One period; `counts` when it belongs to the figures.
    pub fn push(&mut self, s: &Sample, counts: bool) {
        let arrest = &s.inside.arrest;
        let isolating = matches!(
            Mode::from_code(s.drive.mode),
            Some(Mode::Active | Mode::Derated | Mode::Beyond)
        );
        let counts = counts && isolating;
        let astray_step = arrest.astray - self.keep * self.last_astray;
        let jerk = (s.floor.accel_mps2 - self.last_floor) / self.claim.step_s;
        (self.last_astray, self.last_floor) = (arrest.astray, s.floor.accel_mps2);
        self.kept[self.steps % KEPT] = Kept {
            foreseen: [arrest.ahead.travel, arrest.ahead.travel_rate],
            astray: arrest.astray,
            truth: [s.travel, s.travel_rate],
            counts,
        };
        self.steps += 1;
        self.compare();
        if !counts {
            return;
        }
        let f = &mut self.figures;
        f.floor_acceleration_mps2.see(s.floor.accel_mps2.abs());
        f.floor_jerk_mps3.see(jerk.abs());
        f.astray_step_mps.see(astray_step.abs());
        f.mass_kg.see(s.mass_kg);
    }

    /// Compares what was foreseen long enough ago with the truth between the last two samples. The set
    /// is one of true travels; toward an end only what leads there counts.
    fn compare(&mut self) {
        let whole = self.ahead_steps.floor() as usize;
        let part = self.ahead_steps - whole as f64;
        if self.steps < whole + 2 {
            return;
        }
        let at = |back: usize| self.kept[(self.steps - 1 - back) % KEPT];
        let then = at(whole + 1);
        if !then.counts {
            return;
        }
        let (before, after) = (at(1), at(0));
        let truth = |n: usize| before.truth[n] + part * (after.truth[n] - before.truth[n]);
        let error = |n: usize| truth(n) - then.foreseen[n];
        let (travel, rate) = (truth(0), then.foreseen[1] - then.astray);
        let f = &mut self.figures;
        for side in [1.0, -1.0] {
            if self.set.rate(side * travel) - side * rate < self.claim.near_mps {
                f.astray_near_mps.see(side * then.astray);
                f.astray_away_mps.see(-side * then.astray);
                f.foresight_rate_mps.see(side * error(1));
                f.foresight_travel_m.see(side * error(0));
            } else {
                f.astray_away_mps.see(then.astray.abs());
                f.foresight_rate_away_mps.see(side * error(1));
            }
        }
        let margin = self.set.margin(travel, rate);
        f.set_margin_mps = Some(f.set_margin_mps.map_or(margin, |least| least.min(margin)));
    }

    /// The figures.
    #[must_use]
    pub fn figures(&self) -> AssumptionFigures {
        let held = self.figures.all().iter().all(|a| a.bounded.holds());
        AssumptionFigures {
            held,
            ..self.figures
        }
    }
}
