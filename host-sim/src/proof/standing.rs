//! Whether the set that a ride is held against is proved, in the arithmetic of that ride.
//!
//! The same proof as the certificate's, in one arithmetic and without the bounds of all answers: what a page
//! that shows the set must know, in a fraction of the time.

use super::attempt::Attempt;
use super::certificate::{CertifyError, Progress, SLACKS_MPS2};
use super::certify::{floor_pushes, travel_brakes};
use super::claim::Claim;
use super::interval::{Exact, Fixed, Interval, Rounding, Single};
use super::law::Law;
use super::set::ProvenSet;
use super::slope::Slope;
use super::watch::SLACK_MPS2;
use crate::ride::Arithmetic;
use crate::rig::Rig;
use std::sync::{Mutex, PoisonError};

/// A set, and whether it is proved that it is not left.
#[derive(Clone, Debug)]
pub struct Standing {
    /// The set that was proved, or the one that could not be.
    pub set: ProvenSet,
    /// Whether it is proved.
    pub proved: bool,
    /// What was taken for granted.
    pub claim: Claim,
    /// The arithmetic of the proof.
    pub arithmetic: &'static str,
}

/// The last proof of this process: rig and arithmetic, and what it came to. A dossier shows several rides of one rig.
static LAST: Mutex<Option<(Vec<u8>, Arithmetic, Standing)>> = Mutex::new(None);

/// The set of a rig's firmware in one arithmetic; rides in double precision get the proof in exact numbers. What was asked
/// for last is not worked out again.
///
/// # Errors
/// Parameters that cannot be used.
pub fn standing(rig: &Rig, arithmetic: Arithmetic) -> Result<Standing, CertifyError> {
    let key = serde_json::to_vec(rig).unwrap_or_default();
    // Held while it is worked out: whoever asks for the same waits for it.
    let mut last = LAST.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some((rig, of, known)) = &*last
        && *rig == key
        && *of == arithmetic
    {
        return Ok(known.clone());
    }
    let found = match arithmetic {
        Arithmetic::F32 => in_one::<Single>(rig),
        Arithmetic::F64 => in_one::<Exact>(rig),
        Arithmetic::Fixed => in_one::<Fixed>(rig),
    }?;
    *last = Some((key, arithmetic, found.clone()));
    Ok(found)
}

fn in_one<R: Rounding>(rig: &Rig) -> Result<Standing, CertifyError> {
    let (timing, arrest) = (&rig.firmware.timing, &rig.firmware.arrest);
    let claim = Claim::of(rig);
    let plain = arrest.build::<f64>(timing)?;
    let slope = arrest.build::<Slope>(timing)?;
    let law = arrest.build::<Interval<R>>(timing)?;
    let mut standing = Standing {
        set: ProvenSet::design(&plain, &claim, SLACK_MPS2),
        proved: false,
        claim,
        arithmetic: R::NAME,
    };
    let holds = |bound: Interval<Exact>| !bound.may_be_nan() && bound.hi() <= 1.0e-12;
    if holds(floor_pushes(&slope, &claim, 10.0)) && holds(travel_brakes(&slope, &claim, 10.0)) {
        for slack in SLACKS_MPS2 {
            let set = ProvenSet::design(&plain, &claim, slack);
            if proved::<R, _>(&law, &claim, slack, &set)? {
                (standing.set, standing.proved) = (set, true);
                break;
            }
        }
    }
    Ok(standing)
}

fn proved<R: Rounding, L: Law<Interval<R>>>(
    law: &L,
    claim: &Claim,
    slack: f64,
    set: &ProvenSet,
) -> Result<bool, CertifyError> {
    Attempt {
        claim,
        slack,
        set: set.clone(),
        progress: &Mutex::new(Progress::default()),
        done: &|_, _| {},
        go_on: &|| true,
    }
    .holds_in::<R, L>(law)
}
