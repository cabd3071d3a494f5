//! What the figures of a case come to: limits, detection, verdict.

use super::case::{CaseFigures, Seat};
use super::plan::{is_drift, motor_is_lost, to_be_noticed_within_s};
use crate::fault::{Class, Entry, catalogue::by_name};
use crate::limits::constant;
use serde::Serialize;

/// A contact is accepted up to this speed, m/s, also where the passive seat meets none.
pub const CONTACT_MPS: f64 = constant::FAULT_CONTACT;
/// Seat acceleration is accepted up to this factor times the larger of the healthy and the passive seat's.
pub const PEAK_FACTOR: f64 = constant::FAULT_PEAK_FACTOR;
/// Largest step of acceleration at a reaction, m/s2.
pub const STEP_MPS2: f64 = constant::FAULT_STEP;
/// A seat does no worse than another up to this factor.
pub const NO_WORSE: f64 = 1.05;

/// Whether a fault was noticed, and when.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Detection {
    /// In time.
    InTime,
    /// Too late.
    Late,
    /// Not at all, though it changes the ride.
    Missed,
    /// Not noticed, and it does not change the ride.
    NotNeeded,
    /// Not asked for: what people do.
    NotAsked,
    /// A drift that has not yet made the travel rate wrong at the end of the window.
    NotYetDue,
}

/// What a case comes to, the worst first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// A limit is broken.
    Broken,
    /// A fault that changes the ride was not noticed; the limits hold or are beyond any firmware.
    Missed,
    /// It was noticed too late; the limits hold or are beyond any firmware.
    Late,
    /// A limit is broken, and no firmware could have held it.
    Beyond,
    /// Noticed in time where asked for, and the limits hold.
    Held,
    /// Not noticed; it does not change the ride, and the limits hold.
    Harmless,
}

impl Verdict {
    /// All verdicts, the worst first.
    pub const ALL: [Self; 6] = [
        Self::Broken,
        Self::Missed,
        Self::Late,
        Self::Beyond,
        Self::Held,
        Self::Harmless,
    ];

    /// One sign for a cell of a matrix.
    #[must_use]
    pub const fn sign(self) -> char {
        match self {
            Self::Broken => 'X',
            Self::Missed => 'M',
            Self::Late => 'L',
            Self::Beyond => 'B',
            Self::Held => '+',
            Self::Harmless => '.',
        }
    }

    /// The sign in words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Broken => "a limit is broken",
            Self::Missed => "changes the ride, not noticed; limits held or beyond any firmware",
            Self::Late => "noticed too late; limits held or beyond any firmware",
            Self::Beyond => "a limit is broken, beyond any firmware",
            Self::Held => "held: noticed in time where asked for, limits held",
            Self::Harmless => "not noticed, does not change the ride, limits held",
        }
    }
}

impl CaseFigures {
    /// The fault's entry in the catalogue.
    #[must_use]
    pub fn entry(&self) -> Option<&'static Entry> {
        by_name(&self.fault)
    }

    /// The class of the fault.
    #[must_use]
    pub fn class(&self) -> Option<Class> {
        self.entry().map(|e| e.kind.class())
    }

    /// Contacts are accepted up to this, m/s.
    #[must_use]
    pub fn contact_limit_mps(&self) -> f64 {
        self.passive.contact_speed_mps.max(CONTACT_MPS)
    }

    /// Seat acceleration is accepted up to this, m/s2.
    #[must_use]
    pub fn peak_limit_mps2(&self) -> f64 {
        PEAK_FACTOR * self.healthy.peak_mps2.max(self.passive.peak_mps2)
    }

    /// Whether a seat breaks the limit of contact or peak.
    #[must_use]
    pub fn breaks_a_limit(&self, seat: &Seat) -> bool {
        seat.contact_speed_mps > self.contact_limit_mps() || seat.peak_mps2 > self.peak_limit_mps2()
    }

    /// Figures of the law over their limits, the larger of contact and peak: above 1 a limit is broken.
    #[must_use]
    pub fn share_of_limit(&self) -> f64 {
        let contact = self.law.contact_speed_mps / self.contact_limit_mps();
        contact.max(self.law.peak_mps2 / self.peak_limit_mps2().max(1.0e-9))
    }

    /// Whether the unreacting firmware breaks a limit.
    #[must_use]
    pub fn is_dangerous(&self) -> bool {
        self.breaks_a_limit(&self.unreacting)
    }

    /// Whether contact and peak hold, are beyond any firmware, or would hold by one of the firmware's answers had it come in
    /// the very period of the onset: what better detection alone may reach.
    #[must_use]
    pub fn is_held_at_once(&self) -> bool {
        let held = |seat: &Seat| !self.breaks_a_limit(seat);
        held(&self.law) || self.is_beyond() || self.at_once.iter().any(held)
    }

    /// Whether the step at the reaction is too large.
    #[must_use]
    pub fn steps_too_far(&self) -> bool {
        self.step_mps2.is_some_and(|step| step > STEP_MPS2)
    }

    /// Whether no firmware could have made a smaller step: no command reaches the motor, it must be let go, for it breaks a limit
    /// where nothing reacts, and letting it go in that period makes the same step.
    #[must_use]
    pub fn step_is_beyond(&self) -> bool {
        let least = self.let_go_mps2.filter(|_| self.is_dangerous());
        (self.step_mps2.zip(least)).is_some_and(|(step, least)| step <= NO_WORSE * least)
    }

    /// Whether the step at the reaction is too large, and a firmware could have made a smaller one.
    #[must_use]
    pub fn steps_needlessly(&self) -> bool {
        self.steps_too_far() && !self.step_is_beyond()
    }

    /// What no firmware can do better than. It can undo nothing that comes before its first answer to the fault acts;
    /// where the motor is lost, nor do better than the best of windings open, windings shorted and the unreacting law.
    #[must_use]
    pub fn out_of_reach(&self) -> Seat {
        let lost = self.entry().is_some_and(|e| motor_is_lost(e.kind));
        let (Some(open), Some(shorted), true) = (self.motor_open, self.motor_shorted, lost) else {
            return self.blow;
        };
        let figure = |of: fn(&Seat) -> f64| {
            let least = of(&open).min(of(&shorted)).min(of(&self.unreacting));
            least.max(of(&self.blow))
        };
        Seat {
            contact_speed_mps: figure(|s| s.contact_speed_mps),
            peak_mps2: figure(|s| s.peak_mps2),
        }
    }

    /// Whether a limit is broken that no firmware could have held.
    #[must_use]
    pub fn is_beyond(&self) -> bool {
        let best = self.out_of_reach();
        let within = |got: f64, limit: f64, best: f64| got <= limit || got <= NO_WORSE * best;
        let (law, contact, peak) = (self.law, self.contact_limit_mps(), self.peak_limit_mps2());
        !self.limits_hold()
            && !self.steps_needlessly()
            && within(law.contact_speed_mps, contact, best.contact_speed_mps)
            && within(law.peak_mps2, peak, best.peak_mps2)
    }

    /// Whether contact, peak and step hold.
    #[must_use]
    pub fn limits_hold(&self) -> bool {
        !self.breaks_a_limit(&self.law) && !self.steps_too_far()
    }

    /// From the effect to being noticed, s; negative when it was noticed before.
    #[must_use]
    pub fn noticed_after_effect_s(&self) -> Option<f64> {
        Some(self.noticed_after_s? - self.changes_after_s?)
    }

    /// Whether it was noticed, and when.
    #[must_use]
    pub fn detection(&self) -> Detection {
        let Some(entry) = self.entry() else {
            return Detection::Missed;
        };
        let Some(within_s) = to_be_noticed_within_s(entry.kind) else {
            return Detection::NotAsked;
        };
        let drift = is_drift(entry.kind);
        let Some(noticed_s) = self.noticed_after_s else {
            return match self.changes_after_s {
                None => Detection::NotNeeded,
                Some(_) if drift && self.rate_wrong_after_s.is_none() => Detection::NotYetDue,
                Some(_) => Detection::Missed,
            };
        };
        let due_s = self.changes_after_s.map_or(f64::INFINITY, |s| s + within_s);
        let before_wrong = drift && self.rate_wrong_after_s.is_none_or(|s| noticed_s <= s);
        // Times are sums of periods.
        if noticed_s <= due_s.max(within_s) + 1.0e-9 || before_wrong {
            Detection::InTime
        } else {
            Detection::Late
        }
    }

    /// Whether it was noticed, no later than it is asked for.
    #[must_use]
    pub fn is_noticed_in_time(&self) -> bool {
        match self.detection() {
            Detection::InTime => true,
            Detection::NotAsked => self.noticed_after_s.is_some(),
            _ => false,
        }
    }

    /// What it comes to.
    #[must_use]
    pub fn verdict(&self) -> Verdict {
        if !self.limits_hold() && !self.is_beyond() {
            return Verdict::Broken;
        }
        match self.detection() {
            Detection::Missed => Verdict::Missed,
            Detection::Late => Verdict::Late,
            _ if !self.limits_hold() => Verdict::Beyond,
            Detection::NotNeeded => Verdict::Harmless,
            _ => Verdict::Held,
        }
    }

    /// Why it is safe, or how it is not, in one sentence of measured figures.
    #[must_use]
    pub fn why(&self) -> String {
        let noticed = match (self.noticed_after_s, self.detection()) {
            (Some(s), _) => format!("noticed after {:.0} ms", 1000.0 * s),
            (None, Detection::NotYetDue) => "not noticed, the travel rate still right".to_owned(),
            (None, _) => "not noticed".to_owned(),
        };
        let changed = match self.changes_after_s {
            Some(s) => format!("changes the ride after {:.0} ms", 1000.0 * s),
            None => format!(
                "seat within {:.2} m/s2 and {:.1} mm/s of the healthy ride",
                self.change_mps2,
                1000.0 * self.change_mps
            ),
        };
        let limit = |name: &str, got: f64, limit: f64, unit: &str| {
            let word = if got > limit { "above" } else { "within" };
            format!("{name} {got:.2} {unit}, {word} {limit:.2}")
        };
        let mut text = format!(
            "{noticed}; {changed}; {}; {}",
            limit(
                "contact",
                self.law.contact_speed_mps,
                self.contact_limit_mps(),
                "m/s"
            ),
            limit("peak", self.law.peak_mps2, self.peak_limit_mps2(), "m/s2"),
        );
        if let Some(step) = self.step_mps2.filter(|_| self.steps_too_far()) {
            text += &format!("; step {step:.1} m/s2 at the reaction");
        }
        text
    }
}
