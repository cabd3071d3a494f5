//! One attempt at the proof: the set drawn with one slack, all pieces of the travel in every arithmetic.

use super::answers::Answers;
use super::certificate::{ArithmeticProof, Certificate, CertifyError, Laws, Progress};
use super::certify::{End, Piece, Place, Prover};
use super::claim::Claim;
use super::interval::{Exact, Fixed, Interval, Rounding, Single};
use super::law::Law;
use super::set::ProvenSet;
use crate::parallel::{processors, try_map};
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, Ordering};

/// Pieces that the travel is cut into, for each end.
const PIECES: usize = 180;

/// Where the smallest margin is, before any box was looked at.
pub(super) const NOWHERE: Place = Place {
    end: End::Upper,
    travel_m: 0.0,
    rate_mps: 0.0,
    astray_mps: 0.0,
    margin_mps2: f64::MAX,
};

/// One slack.
pub(super) struct Attempt<'a, D, G> {
    pub(super) claim: &'a Claim,
    pub(super) slack: f64,
    pub(super) set: ProvenSet,
    pub(super) progress: &'a Mutex<Progress>,
    pub(super) done: &'a D,
    pub(super) go_on: &'a G,
}

impl<D: Fn(usize, usize) + Sync, G: Fn() -> bool + Sync> Attempt<'_, D, G> {
    /// Whether it went through; fills the certificate.
    pub(super) fn prove<P, E, S, F, N>(
        &self,
        laws: &Laws<P, E, S, F, N>,
        answers: [Answers; 3],
        certificate: &mut Certificate,
    ) -> Result<bool, CertifyError>
    where
        E: Law<Interval<Exact>>,
        S: Law<Interval<Single>>,
        F: Law<Interval<Fixed>>,
    {
        let touch = self.touch();
        let first = certificate.slack_mps2 == 0.0;
        let parts = [
            self.all::<Exact, E>(&laws.exact, 0)?,
            self.all::<Single, S>(&laws.single, 1)?,
            self.all::<Fixed, F>(&laws.fixed, 2)?,
        ];
        certificate.boxes += parts.iter().map(|p| p.boxes).sum::<u64>();
        let refused = parts.iter().find_map(|p| p.refused);
        let holds = refused.is_none() && touch <= self.claim.touch_mps;
        // The first attempt, or the one that went through, is what the certificate shows.
        if first || holds {
            certificate.slack_mps2 = self.slack;
            certificate.set = self.set.clone();
            certificate.touch_speed_bound_mps = touch;
            certificate.counter_example = refused;
            certificate.arithmetics = [Exact::NAME, Single::NAME, Fixed::NAME]
                .into_iter()
                .zip(parts)
                .zip(answers)
                .map(|((name, part), answers)| ArithmeticProof {
                    name,
                    boxes: part.boxes,
                    smallest_margin: part.smallest,
                    answers,
                })
                .collect();
            certificate.smallest_margin = parts.iter().map(|p| p.smallest).fold(NOWHERE, tightest);
            certificate.refusal = match refused {
                Some(place) => Some(format!(
                    "from {:.1} mm and {:.3} m/s toward the {} end, {:.3} m/s astray, on a floor that falls away \
                     from it, the next state may leave the set",
                    place.travel_m * 1e3,
                    place.rate_mps,
                    match place.end {
                        End::Upper => "upper",
                        End::Lower => "lower",
                    },
                    place.astray_mps
                )),
                None if touch > self.claim.touch_mps => Some(format!(
                    "a stop may be met at {touch:.3} m/s, more than {} m/s",
                    self.claim.touch_mps
                )),
                None => None,
            };
        }
        certificate.holds = holds;
        Ok(holds)
    }

    /// Whether it goes through in one arithmetic.
    pub(super) fn holds_in<R: Rounding, L: Law<Interval<R>>>(
        &self,
        law: &L,
    ) -> Result<bool, CertifyError> {
        // The cheaper question first.
        Ok(self.touch() <= self.claim.touch_mps && self.all::<R, L>(law, 0)?.refused.is_none())
    }

    /// Highest true rate at which a stop may be met, m/s: from one step before it.
    fn touch(&self) -> f64 {
        let claim = self.claim;
        let over = claim.astray_near_mps() + claim.foresight_rate_mps;
        let mut rate = self.set.rate(claim.travel_m) + over;
        for _ in 0..8 {
            let before = claim.travel_m - claim.step_s * (rate + claim.astray_step_mps);
            rate = self.set.rate(before) + over;
        }
        rate
    }

    /// All pieces of both ends in one arithmetic, on all cores.
    fn all<R: Rounding, L: Law<Interval<R>>>(
        &self,
        law: &L,
        order: usize,
    ) -> Result<Piece, CertifyError> {
        let prover = Prover::new(law, self.claim, &self.set);
        let total = 3 * 2 * PIECES;
        let refused = AtomicBool::new(false);
        // What comes after a refusal is left out.
        let one = |n: usize| -> Result<Option<Piece>, CertifyError> {
            if refused.load(Ordering::Relaxed) {
                return Ok(None);
            }
            let piece = self.piece(&prover, n).ok_or(CertifyError::Interrupted)?;
            refused.fetch_or(piece.refused.is_some(), Ordering::Relaxed);
            (self.done)(order * 2 * PIECES + n + 1, total);
            Ok(Some(piece))
        };
        let found = try_map(processors(), 2 * PIECES, one, |_| ())?;
        let mut whole = Piece {
            boxes: 0,
            smallest: NOWHERE,
            refused: None,
        };
        for piece in found.into_iter().flatten() {
            whole.boxes += piece.boxes;
            whole.smallest = tightest(whole.smallest, piece.smallest);
            whole.refused = whole.refused.or(piece.refused);
        }
        Ok(whole)
    }

    /// One piece, unless it is done already.
    fn piece<R: Rounding, L: Law<Interval<R>>>(
        &self,
        prover: &Prover<'_, R, L>,
        n: usize,
    ) -> Option<Piece> {
        let name = format!("{} {} {n}", R::NAME, self.slack);
        if let Ok(kept) = self.progress.lock()
            && let Some(piece) = kept.pieces.get(&name)
        {
            return Some(*piece);
        }
        if !(self.go_on)() {
            return None;
        }
        let end = End::BOTH[n / PIECES];
        let travel = self.claim.travel_m;
        let at = |n: usize| -travel + 2.0 * travel * n as f64 / PIECES as f64;
        let piece = prover.prove(end, at(n % PIECES), at(n % PIECES + 1), self.go_on)?;
        if let Ok(mut kept) = self.progress.lock() {
            kept.pieces.insert(name, piece);
        }
        Some(piece)
    }
}

fn tightest(a: Place, b: Place) -> Place {
    if b.margin_mps2 < a.margin_mps2 { b } else { a }
}
