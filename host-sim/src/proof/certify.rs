//! Branch and bound over boxes of states: does the next state stay in the set?
//!
//! A box holds all states with travel, distance of the rate z from the set's edge and astray in
//! three intervals. The law's own decision is evaluated on the whole box in interval arithmetic; if
//! the worst it can lead to stays in the set, the box is proved, else it is halved. The floor
//! needs no fourth side: what is permitted less the floor's acceleration never rises with the
//! floor's acceleration ([`floor_pushes`], proved first), so the floor that falls away from an
//! end the hardest is the worst. Nor does what is permitted rise as an end comes nearer
//! ([`travel_brakes`]), so a seat that is thought to be too far from it is the worst. What is farther from the edge than `near_mps` cannot reach it in one step, which is
//! checked too. Both ends are proved, each by the side of the law that protects it.

use super::claim::Claim;
use super::interval::{Exact, Interval, Rounding};
use super::law::Law;
use super::set::ProvenSet;
use super::slope::Slope;
use firmware::arrest::Ahead;
use serde::{Deserialize, Serialize};
use shared_math::Scalar;

/// Which end of the travel.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum End {
    /// Upper, positive travel.
    Upper,
    /// Lower, negative travel.
    Lower,
}

impl End {
    /// Both.
    pub const BOTH: [Self; 2] = [Self::Upper, Self::Lower];

    /// +1 for the upper end, -1 for the lower.
    #[must_use]
    pub const fn sign(self) -> f64 {
        match self {
            Self::Upper => 1.0,
            Self::Lower => -1.0,
        }
    }
}

/// A state, seen from the end that it approaches: travel, rate, floor and astray are positive toward it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Place {
    /// The end.
    pub end: End,
    /// Travel, m.
    pub travel_m: f64,
    /// Rate z, m/s.
    pub rate_mps: f64,
    /// Astray, m/s.
    pub astray_mps: f64,
    /// Margin there: how far the next state is inside the set at least, as an
    /// acceleration over one control period, m/s^2.
    pub margin_mps2: f64,
}

/// What one piece of the travel came to.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Piece {
    /// Boxes looked at.
    pub boxes: u64,
    /// The smallest margin of the boxes that are proved.
    pub smallest: Place,
    /// A box that could not be proved, by its middle.
    pub refused: Option<Place>,
}

/// A box: seen from the end that is approached.
#[derive(Clone, Copy, Debug)]
struct Cuboid {
    travel: [f64; 2],
    /// Distance of z below the set's edge.
    below: [f64; 2],
    astray: [f64; 2],
}

/// What rounding may add to z in one step, m/s: four operations of the controller on numbers below 4 (2^-22 each in
/// either arithmetic, half of that on average); the few in double precision here are far below.
const ROUNDED_MPS: f64 = 1.0e-6;
/// What must be left everywhere, as an acceleration, m/s^2.
const LEAST_MPS2: f64 = 0.01;
/// No box is halved more often than this.
const DEPTH: u32 = 60;

/// Whether what is permitted toward either end, less the floor's acceleration, never rises with
/// that acceleration, for any state within `travel_m` and `rate_mps` and any floor up to twice the claim's: then
/// the floor that falls away the hardest is the worst. The interval of the derivative over all of them.
pub fn floor_pushes(law: &impl Law<Slope>, claim: &Claim, rate_mps: f64) -> Interval<Exact> {
    let most = 2.0 * claim.travel_m;
    let ahead = Ahead {
        travel: Slope::constant(-most, most),
        travel_rate: Slope::constant(-rate_mps, rate_mps),
        floor_accel: Slope::variable(-2.0 * claim.floor_accel_mps2, 2.0 * claim.floor_accel_mps2),
    };
    let (lower, upper) = law.limits(&ahead);
    // Toward the lower end the least of both holds; a floor that rises is then what falls away.
    let up = upper - ahead.floor_accel;
    let down = lower.min(upper) - ahead.floor_accel;
    up.slope.hull(down.slope)
}

/// Whether what is permitted toward either end never rises as that end comes nearer, for the same
/// states: then a seat that is thought to be the farthest from the end is the worst. The interval
/// of the derivative over all of them.
pub fn travel_brakes(law: &impl Law<Slope>, claim: &Claim, rate_mps: f64) -> Interval<Exact> {
    let most = 2.0 * claim.travel_m;
    let floor = 2.0 * claim.floor_accel_mps2;
    let (lower, upper) = law.limits(&Ahead {
        travel: Slope::variable(-most, most),
        travel_rate: Slope::constant(-rate_mps, rate_mps),
        floor_accel: Slope::constant(-floor, floor),
    });
    upper.slope.hull(lower.min(upper).slope)
}

/// The proof for one law in one arithmetic.
pub struct Prover<'a, R, L> {
    law: &'a L,
    claim: &'a Claim,
    set: &'a ProvenSet,
    rounding: std::marker::PhantomData<R>,
}

impl<'a, R: Rounding, L: Law<Interval<R>>> Prover<'a, R, L> {
    /// A prover of a claim about a law and a set.
    pub const fn new(law: &'a L, claim: &'a Claim, set: &'a ProvenSet) -> Self {
        Self {
            law,
            claim,
            set,
            rounding: std::marker::PhantomData,
        }
    }

    /// Proves all states whose travel, seen from `end`, lies between `from` and `to`, m. Stops at the first
    /// box that cannot be proved, or when `go_on` says no.
    pub fn prove(&self, end: End, from: f64, to: f64, go_on: impl Fn() -> bool) -> Option<Piece> {
        let claim = self.claim;
        let mut piece = Piece {
            boxes: 0,
            smallest: Place {
                end,
                travel_m: from,
                rate_mps: 0.0,
                astray_mps: 0.0,
                margin_mps2: f64::INFINITY,
            },
            refused: None,
        };
        let whole = Cuboid {
            travel: [from, to],
            below: [0.0, claim.near_mps],
            astray: [-claim.astray_far_mps(), claim.astray_near_mps()],
        };
        if let Some(place) = self.away(end, from, to) {
            piece.refused = Some(place);
            return Some(piece);
        }
        let mut stack = vec![(whole, 0)];
        while let Some((b, depth)) = stack.pop() {
            piece.boxes += 1;
            if piece.boxes.is_multiple_of(65_536) && !go_on() {
                return None;
            }
            let margin = self.margin(end, &b);
            if margin > LEAST_MPS2 * claim.step_s {
                if margin < piece.smallest.margin_mps2 * claim.step_s {
                    piece.smallest = self.place(end, &b, margin);
                }
                continue;
            }
            if depth >= DEPTH || self.counter_example(end, &b) {
                piece.refused = Some(self.place(end, &b, margin));
                return Some(piece);
            }
            let (a, b) = self.halve(&b);
            stack.push((a, depth + 1));
            stack.push((b, depth + 1));
        }
        Some(piece)
    }

    /// States farther from the edge than `near_mps`: they cannot pass it in one step.
    fn away(&self, end: End, from: f64, to: f64) -> Option<Place> {
        let claim = self.claim;
        // The most that z can gain, and the farthest that the seat can go meanwhile.
        let gain = claim.step_s
            * (claim.clamp_mps2 + claim.floor_accel_mps2 + claim.fade_ps * claim.astray_far_mps());
        let fastest = self.set.rate(from) + claim.astray_far_mps() + claim.foresight_rate_away_mps;
        let pushed = claim.step_s * (claim.clamp_mps2 + claim.floor_accel_mps2);
        let on = claim.step_s * (fastest + 0.5 * (pushed + claim.astray_step_mps));
        let fall = self.set.steepest(from, to + on) * on;
        let margin = claim.near_mps - gain + fall;
        (margin <= 0.0).then(|| Place {
            end,
            travel_m: from,
            rate_mps: self.set.rate(from) - claim.near_mps,
            astray_mps: claim.astray_far_mps(),
            margin_mps2: margin / claim.step_s,
        })
    }

    /// How far the next state of every state of a box is inside the set at least, m/s.
    fn margin(&self, end: End, b: &Cuboid) -> f64 {
        let claim = self.claim;
        let [x0, x1] = b.travel;
        // The edge never rises.
        let rate = Interval::<R>::new(
            (self.set.rate(x1) - b.below[1]).next_down(),
            (self.set.rate(x0) - b.below[0]).next_up(),
        );
        let astray = Interval::new(b.astray[0], b.astray[1]);
        // The farther from the end the seat is thought to be, the more is permitted.
        let error = claim.foresight_travel_m;
        let foreseen = rate + astray;
        let permitted = self.permitted(
            end,
            Interval::new((x0 - error).next_down(), (x1 - error).next_up()),
            foreseen,
            Interval::point(-claim.floor_accel_mps2),
        );
        // What the machine cannot do, it does not. The weakest corner of the box decides.
        let able = [x0, x1]
            .map(|x| {
                claim
                    .authority
                    .braking_mps2(x, rate.lo(), claim.travel_m)
                    .next_down()
            })
            .into_iter()
            .fold(f64::INFINITY, f64::min);
        let asked = permitted.hi().max(-able);
        let change =
            claim.step_s * (asked + claim.floor_accel_mps2 + claim.fade_ps * b.astray[1]).next_up();
        // Over the period the true rate goes from the one that belongs to the one foreseen to that of the next. If
        // the end is no longer near then, the next state is in the set anyway.
        let begins = foreseen.hi();
        let ends = rate.hi()
            + change
            + claim
                .astray_near_mps()
                .min(b.astray[1] * (1.0 - claim.fade_ps * claim.step_s) + claim.astray_step_mps);
        let on = claim.step_s * (0.5 * (begins + ends.max(begins)) + claim.foresight_rate_mps);
        // A seat that moves away finds the edge no lower.
        let fall = self.set.fall(x0, x1, on.max(0.0));
        fall + b.below[0] - change - ROUNDED_MPS
    }

    /// What may be permitted, seen from `end`.
    fn permitted(
        &self,
        end: End,
        travel: Interval<R>,
        travel_rate: Interval<R>,
        floor_accel: Interval<R>,
    ) -> Interval<R> {
        match end {
            End::Upper => {
                let (_, upper) = self.law.limits(&Ahead {
                    travel,
                    travel_rate,
                    floor_accel,
                });
                upper
            }
            End::Lower => {
                let (lower, upper) = self.law.limits(&Ahead {
                    travel: -travel,
                    travel_rate: -travel_rate,
                    floor_accel: -floor_accel,
                });
                // Where the two are crossed the upper one holds.
                -lower.min(upper)
            }
        }
    }

    /// Whether the worst corner of a box surely leaves the set: then no halving helps.
    fn counter_example(&self, end: End, b: &Cuboid) -> bool {
        let small = |x: [f64; 2], most: f64| x[1] - x[0] <= most;
        small(b.travel, 2.0e-6)
            && small(b.below, 2.0e-5)
            && small(b.astray, 2.0e-4)
            && self.margin(
                end,
                &Cuboid {
                    travel: [b.travel[1]; 2],
                    below: [b.below[0]; 2],
                    astray: [b.astray[1]; 2],
                },
            ) <= 0.0
    }

    fn place(&self, end: End, b: &Cuboid, margin: f64) -> Place {
        let middle = |x: [f64; 2]| 0.5 * (x[0] + x[1]);
        let travel_m = middle(b.travel);
        Place {
            end,
            travel_m,
            rate_mps: self.set.rate(travel_m) - middle(b.below),
            astray_mps: middle(b.astray),
            margin_mps2: margin / self.claim.step_s,
        }
    }

    /// Two halves, across the side that blurs the margin most.
    fn halve(&self, b: &Cuboid) -> (Cuboid, Cuboid) {
        let claim = self.claim;
        let width = |x: [f64; 2]| x[1] - x[0];
        let steep = -self.set.steepest(b.travel[0], b.travel[1]);
        let step = claim.step_s;
        let gain = claim.fade_ps + steep;
        let blur = [
            width(b.travel) * steep * step * (gain + 20.0),
            width(b.below) * (1.0 - step * gain).max(step * gain),
            width(b.astray) * step * gain,
        ];
        let widest = (0..3).fold(0, |w, n| if blur[n] > blur[w] { n } else { w });
        let (mut a, mut c) = (*b, *b);
        let cut = |x: [f64; 2]| {
            let middle = 0.5 * (x[0] + x[1]);
            ([x[0], middle], [middle, x[1]])
        };
        match widest {
            0 => (a.travel, c.travel) = cut(b.travel),
            1 => (a.below, c.below) = cut(b.below),
            _ => (a.astray, c.astray) = cut(b.astray),
        }
        (a, c)
    }
}
