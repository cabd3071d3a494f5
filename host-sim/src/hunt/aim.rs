//! What a search drives up: the limits, and how much of every assumption of the proof is used.

use super::Figures;
use crate::proof::claim::Claim;
use crate::proof::watch::{AssumptionFigures, Bounded};
use serde::Serialize;

/// What a search drives up.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Aim {
    /// The speed at a stop, and the travel as long as none is met.
    Contact,
    /// The seat's acceleration.
    Seat,
    /// The motor's force.
    Force,
    /// Astray toward a near end.
    AstrayNear,
    /// Astray elsewhere.
    AstrayAway,
    /// Astray in one period.
    AstrayStep,
    /// True travel rate toward a near end less the one foreseen.
    ForesightRate,
    /// True travel rate less the one foreseen elsewhere.
    ForesightRateAway,
    /// True travel toward a near end less the one foreseen.
    ForesightTravel,
    /// Nearness to the edge of the proven set.
    Set,
}

impl Aim {
    /// All aims.
    pub const ALL: [Self; 10] = [
        Self::Contact,
        Self::Seat,
        Self::Force,
        Self::AstrayNear,
        Self::AstrayAway,
        Self::AstrayStep,
        Self::ForesightRate,
        Self::ForesightRateAway,
        Self::ForesightTravel,
        Self::Set,
    ];

    /// Name in tables and files.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Contact => "contact",
            Self::Seat => "seat",
            Self::Force => "force",
            Self::AstrayNear => "astray-near",
            Self::AstrayAway => "astray-away",
            Self::AstrayStep => "astray-step",
            Self::ForesightRate => "foresight-rate",
            Self::ForesightRateAway => "foresight-rate-away",
            Self::ForesightTravel => "foresight-travel",
            Self::Set => "set",
        }
    }

    /// What is driven up, in SI units; for the set its margin, which is driven down.
    #[must_use]
    pub fn figure(self, f: &Figures) -> f64 {
        match self {
            Self::Contact => f.contact_speed_mps,
            Self::Seat => f.seat_peak_mps2,
            Self::Force => f.force_peak_n,
            Self::Set => f
                .assumptions
                .and_then(|a| a.set_margin_mps)
                .unwrap_or(f64::INFINITY),
            _ => f
                .assumptions
                .and_then(|a| self.assumption(&a))
                .map_or(0.0, |bounded| bounded.seen),
        }
    }

    /// The assumption of the proof that is driven up; `None` when it is not one with a bound.
    const fn assumption(self, a: &AssumptionFigures) -> Option<Bounded> {
        Some(match self {
            Self::Contact | Self::Seat | Self::Force | Self::Set => return None,
            Self::AstrayNear => a.astray_near_mps,
            Self::AstrayAway => a.astray_away_mps,
            Self::AstrayStep => a.astray_step_mps,
            Self::ForesightRate => a.foresight_rate_mps,
            Self::ForesightRateAway => a.foresight_rate_away_mps,
            Self::ForesightTravel => a.foresight_travel_m,
        })
    }

    /// The score of a search; higher is worse.
    #[must_use]
    pub fn score(self, f: &Figures) -> f64 {
        match self {
            // As long as no stop is met, the travel leads the way.
            Self::Contact => f.travel_peak_m + 10.0 * f.contact_speed_mps,
            // Finite for a ride that never isolates.
            Self::Set => -self.figure(f).min(1.0e3),
            _ => self.figure(f),
        }
    }

    /// What the proof takes for granted about the figure; `None` when it is not an assumption.
    #[must_use]
    pub fn assumed(self, claim: &Claim) -> Option<f64> {
        self.assumption(&AssumptionFigures::of(claim))
            .map(|bounded| bounded.assumed)
    }
}
