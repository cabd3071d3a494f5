//! The search for the worst floor and the worst machine: it tries to break every limit.
//!
//! A candidate is a floor of bounded acceleration and jerk ([`floor`]) under one machine
//! ([`machine`]): an occupant, a body, hidden errors and sensor noise by seed, a winding
//! temperature. Each machine is ridden once through its quiet start; every candidate branches off from
//! there ([`machine::Warm`]). An evolution strategy (CMA-ES, the crate `cmaes`) moves the floor
//! ([`search`]) to drive up one figure after the other ([`aim`]): those with a limit, and those that the
//! proof of the travel ([`crate::proof`]) takes for granted. What it finds is kept as files that `becalm
//! ride` reads, and the figures that count are those of that ride ([`keep`]). For a rig that is broken
//! [`counter_example`] finds a floor in seconds.

pub mod aim;
pub mod counter;
pub mod floor;
pub mod keep;
pub mod machine;
pub mod search;

use crate::proof::watch::AssumptionFigures;
pub use aim::Aim;
pub use counter::counter_example;
use serde::Serialize;

/// What one candidate came to. The worst of the searched part.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Figures {
    /// Highest closing speed at a stop, m/s; 0 when none is met.
    pub contact_speed_mps: f64,
    /// Largest travel to either side, m.
    pub travel_peak_m: f64,
    /// Largest acceleration of the seat, m/s^2.
    pub seat_peak_mps2: f64,
    /// Largest motor force, N.
    pub force_peak_n: f64,
    /// How much of the proof's assumptions was used; absent when nothing was ridden.
    pub assumptions: Option<AssumptionFigures>,
    /// A fault was latched.
    pub latched: bool,
}

/// What must not be exceeded. Absent: only looked at.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct Limits {
    /// Closing speed at a stop, m/s.
    pub contact_speed_mps: f64,
    /// Seat acceleration, m/s^2.
    pub seat_peak_mps2: Option<f64>,
    /// Motor force, N.
    pub force_peak_n: Option<f64>,
}

/// A limit that was exceeded.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Broken {
    /// Which.
    pub limit: &'static str,
    /// What was found.
    pub found: f64,
    /// What is allowed: at most, for the margin of the set at least.
    pub allowed: f64,
    /// It is an assumption of the proof: the certificate does not cover that ride.
    pub outside_certificate: bool,
}

impl Limits {
    /// The limits, and the assumptions of the proof, that these figures exceed.
    #[must_use]
    pub fn broken(&self, f: &Figures) -> Vec<Broken> {
        let exceeded = |limit, found: f64, allowed: Option<f64>, outside_certificate| {
            let allowed = allowed.filter(|allowed| found > *allowed)?;
            Some(Broken {
                limit,
                found,
                allowed,
                outside_certificate,
            })
        };
        let limits = [
            (
                "contact_speed_mps",
                f.contact_speed_mps,
                Some(self.contact_speed_mps),
            ),
            ("seat_peak_mps2", f.seat_peak_mps2, self.seat_peak_mps2),
            ("force_peak_n", f.force_peak_n, self.force_peak_n),
            ("latched_fault", f.latched.into(), Some(0.0)),
        ];
        let mut broken: Vec<Broken> = limits
            .into_iter()
            .filter_map(|(limit, found, allowed)| exceeded(limit, found, allowed, false))
            .collect();
        let Some(a) = &f.assumptions else {
            return broken;
        };
        broken.extend(
            a.all()
                .iter()
                .filter_map(|a| exceeded(a.name, a.bounded.seen, Some(a.bounded.assumed), true)),
        );
        // Outside the set nothing is proved, however the seat came there.
        if let Some(found) = a.set_margin_mps.filter(|margin| *margin < 0.0) {
            broken.push(Broken {
                limit: "set_margin_mps",
                found,
                allowed: 0.0,
                outside_certificate: true,
            });
        }
        broken
    }
}
