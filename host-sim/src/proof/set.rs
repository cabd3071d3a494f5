//! The set of travel and travel rate that the seat does not leave.
//!
//! Toward either end it is bounded by a highest closing rate for every travel. The bound is the
//! path of the worst seat: one that starts at the other end at the profile's speed while
//! everything that may go wrong does so all the time. It is only drawn here, in ordinary numbers;
//! that it holds is for [`super::certify`] to prove.

use super::claim::Claim;
use super::law::Law;
use firmware::arrest::Ahead;
use serde::Serialize;

/// Below this rate the profile bends within a few steps, and the steps lose more, m/s.
const SLOW_MPS: f64 = 0.12;
/// Width of a cell of travel, m.
const CELL_M: f64 = 0.000_05;

/// Highest closing rate toward an end over travel.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ProvenSet {
    /// Travel to the stops, m.
    pub travel_m: f64,
    /// Width of a cell, m.
    pub cell_m: f64,
    /// Highest rate z toward the upper end at -travel, -travel + cell ..., m/s; linear between,
    /// constant outside. It never rises. The lower end is its mirror image.
    pub rate_mps: Vec<f64>,
}

impl ProvenSet {
    /// Draws the set for a law under the assumptions of a claim. The path is drawn as if the worst seat had
    /// `slack_mps2` less to brake with: what a proof in steps of the controller loses against a
    /// path in continuous time.
    #[must_use]
    pub fn design(law: &impl Law<f64>, claim: &Claim, slack_mps2: f64) -> Self {
        let travel = claim.travel_m;
        let cells = (2.0 * travel / CELL_M).round().max(1.0) as usize;
        let cell = 2.0 * travel / cells as f64;
        let mut rate_mps = Vec::with_capacity(cells + 1);
        let mut rate = steady(law, claim, -travel) + 1.0e-3;
        rate_mps.push(rate);
        for n in 0..cells {
            let at = -travel + cell * n as f64;
            // Two half steps; the path is smooth but for the profile's end.
            for half in [0.0, 0.5] {
                let slope = slope(law, claim, slack_mps2, at + half * cell, rate);
                rate = (rate + 0.5 * cell * slope.min(0.0)).max(1.0e-4);
            }
            rate_mps.push(rate);
        }
        Self {
            travel_m: travel,
            cell_m: cell,
            rate_mps,
        }
    }

    /// Highest closing rate at a travel, m/s.
    #[must_use]
    pub fn rate(&self, travel: f64) -> f64 {
        let place = (travel + self.travel_m) / self.cell_m;
        let last = self.rate_mps.len() - 1;
        if place <= 0.0 {
            return self.rate_mps[0];
        }
        let cell = place as usize;
        if cell >= last {
            return self.rate_mps[last];
        }
        let (a, b) = (self.rate_mps[cell], self.rate_mps[cell + 1]);
        a + (place - cell as f64) * (b - a)
    }

    /// Steepest fall of the rate between two travels, 1/s: zero or negative.
    #[must_use]
    pub fn steepest(&self, from: f64, to: f64) -> f64 {
        let last = self.rate_mps.len() - 1;
        let place = |x: f64| (x + self.travel_m) / self.cell_m;
        // A cell more on both sides, for what the division rounds.
        let first = (place(from).floor() - 1.0).max(0.0) as usize;
        let end = ((place(to).ceil() + 1.0).max(0.0) as usize).min(last);
        let fall = self.rate_mps[first.min(last)..=end]
            .windows(2)
            .map(|w| w[1] - w[0])
            .fold(0.0, f64::min);
        fall / self.cell_m
    }

    /// The most by which the edge falls over the next `on` (m, not negative), from any travel
    /// between `from` and `to`, m/s: zero or negative.
    #[must_use]
    pub fn fall(&self, from: f64, to: f64, on: f64) -> f64 {
        // The difference of two broken lines is a broken line: its least value is at a break or an end.
        let change = |x: f64| self.rate(x + on) - self.rate(x);
        let mut least = change(from).min(change(to));
        for back in [0.0, on] {
            let place = |x: f64| (x + back + self.travel_m) / self.cell_m;
            let (first, last) = (place(from).floor() as i64, place(to).ceil() as i64);
            for n in first..=last {
                let x = n as f64 * self.cell_m - self.travel_m - back;
                // A break just outside counts as the end.
                least = least.min(change(x.max(from).min(to)));
            }
        }
        least
    }

    /// How far a seat is inside the set, m/s; negative when it is outside.
    #[must_use]
    pub fn margin(&self, travel: f64, rate: f64) -> f64 {
        (self.rate(travel) - rate).min(self.rate(-travel) + rate)
    }
}

/// Rate at which a seat may close at `travel`, by the profile, m/s: where the law asks for the
/// profile's own deceleration.
fn steady(law: &impl Law<f64>, claim: &Claim, travel: f64) -> f64 {
    let (mut lo, mut hi) = (0.0, 10.0);
    let at = travel - claim.foresight_travel_m;
    let braking = law.profile_braking();
    for _ in 0..60 {
        let mid = 0.5 * (lo + hi);
        if relative(law, at, mid, 0.0) > -braking {
            lo = mid;
        } else {
            hi = mid;
        }
    }
    hi
}

/// Highest acceleration relative to the floor that the law permits, m/s^2.
fn relative(law: &impl Law<f64>, travel: f64, travel_rate: f64, floor_accel: f64) -> f64 {
    let ahead = Ahead {
        travel,
        travel_rate,
        floor_accel,
    };
    law.limits(&ahead).1 - floor_accel
}

/// Slope of the worst path, 1/s.
fn slope(law: &impl Law<f64>, claim: &Claim, slack_mps2: f64, travel: f64, rate: f64) -> f64 {
    const PARTS: usize = 24;
    let (low, high) = (-claim.astray_far_mps(), claim.astray_near_mps());
    let mut worst = f64::NEG_INFINITY;
    for n in 0..=PARTS {
        let astray = low + (high - low) * n as f64 / PARTS as f64;
        let next = (astray + claim.astray_step_mps).min(claim.astray_near_mps());
        let closing = rate + 0.5 * (astray + next.max(astray)) + claim.foresight_rate_mps;
        if closing <= 1.0e-3 {
            continue;
        }
        let at = travel - claim.foresight_travel_m;
        let able = claim.authority.braking_mps2(travel, rate, claim.travel_m);
        for floor in [-claim.floor_accel_mps2, claim.floor_accel_mps2] {
            let asked = relative(law, at, rate + astray, floor).max(-able - floor);
            let change = asked + claim.fade_ps * astray + slack_mps2 * (1.0 + SLOW_MPS / rate);
            worst = worst.max(change / closing);
        }
    }
    worst
}
