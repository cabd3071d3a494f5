//! The search for the worst floor and the worst machine: it tries to break every limit.
//!
//! A candidate is a floor of bounded acceleration and jerk ([`floor`]) under one machine
//! ([`machine`]): an occupant, a body, hidden errors and sensor noise by seed, a winding
//! temperature. Each machine is ridden once through its quiet start; every candidate branches off from
//! there ([`machine::Warm`]). An evolution strategy (CMA-ES, the crate `cmaes`) moves the floor
//! ([`search`]). What it finds is kept as files that `becalm ride` reads, and the figures that
//! count are those of that ride ([`keep`]).

pub mod counter;
pub mod floor;
pub mod keep;
pub mod machine;
pub mod search;

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
    /// Largest error of the estimated travel, m.
    pub travel_error_m: f64,
    /// Largest error of the estimated travel rate, m/s.
    pub travel_rate_error_mps: f64,
    /// Largest error of the floor acceleration, m/s^2: the estimate against the truth at the sample.
    pub floor_accel_error_mps2: f64,
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
    /// Error of the estimated travel, m.
    pub travel_error_m: Option<f64>,
    /// Error of the estimated travel rate, m/s.
    pub travel_rate_error_mps: Option<f64>,
    /// Error of the floor acceleration, m/s^2.
    pub floor_accel_error_mps2: Option<f64>,
}

/// A limit that was exceeded.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Broken {
    /// Which.
    pub limit: &'static str,
    /// What was found.
    pub found: f64,
    /// What is allowed.
    pub allowed: f64,
}

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
    /// The errors of the estimates of travel and its rate.
    Estimate,
}

impl Aim {
    /// All aims.
    pub const ALL: [Self; 4] = [Self::Contact, Self::Seat, Self::Force, Self::Estimate];

    /// The figure that is driven up; higher is worse.
    #[must_use]
    pub fn score(self, f: &Figures) -> f64 {
        match self {
            Self::Contact => f.travel_peak_m + 10.0 * f.contact_speed_mps,
            Self::Seat => f.seat_peak_mps2,
            Self::Force => f.force_peak_n,
            // 1 mm weighs as much as 10 mm/s.
            Self::Estimate => 1000.0 * f.travel_error_m + 100.0 * f.travel_rate_error_mps,
        }
    }
}

impl Limits {
    /// The limits that these figures exceed.
    #[must_use]
    pub fn broken(&self, f: &Figures) -> Vec<Broken> {
        [
            (
                "contact_speed_mps",
                f.contact_speed_mps,
                Some(self.contact_speed_mps),
            ),
            ("seat_peak_mps2", f.seat_peak_mps2, self.seat_peak_mps2),
            ("force_peak_n", f.force_peak_n, self.force_peak_n),
            ("travel_error_m", f.travel_error_m, self.travel_error_m),
            (
                "travel_rate_error_mps",
                f.travel_rate_error_mps,
                self.travel_rate_error_mps,
            ),
            (
                "floor_accel_error_mps2",
                f.floor_accel_error_mps2,
                self.floor_accel_error_mps2,
            ),
            ("latched_fault", f.latched.into(), Some(0.0)),
        ]
        .into_iter()
        .filter_map(|(limit, found, allowed)| {
            let allowed = allowed.filter(|allowed| found > *allowed)?;
            Some(Broken {
                limit,
                found,
                allowed,
            })
        })
        .collect()
    }
}
