//! The certificate: the claim, what was proved, and where it is tightest.
//!
//! The set is drawn with as little slack as the proof needs; each slack is tried in each
//! arithmetic until one goes through. The travel is proved in pieces, on all cores; pieces
//! that are done are kept, so that an interrupted proof goes on where it stopped.

use super::answers::{Answers, answers};
use super::attempt::{Attempt, NOWHERE};
use super::certify::{Piece, Place, floor_pushes, travel_brakes};
use super::claim::Claim;
use super::interval::{Exact, Fixed, Interval, Single};
use super::law::Law;
use super::set::ProvenSet;
use super::slope::Slope;
use super::watch::SLACK_MPS2;
use crate::design::{self, DesignError};
use crate::rig::Rig;
use firmware::BuildError;
use firmware::link::parameters_crc;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::sync::Mutex;

/// Slacks with which the set is drawn, one after the other, m/s^2.
pub(super) const SLACKS_MPS2: [f64; 4] = [SLACK_MPS2, 0.25, 0.4, 0.7];

/// Why nothing can be certified.
#[derive(Debug, thiserror::Error)]
pub enum CertifyError {
    /// The firmware's parameters.
    #[error("rig section firmware: {0}")]
    Parameters(#[from] BuildError),
    /// The observer's design.
    #[error("rig section observer: {0}")]
    Design(#[from] DesignError),
    /// It was interrupted; what is done is kept.
    #[error("interrupted")]
    Interrupted,
}

/// What was proved about a rig's firmware, or what stands against it.
#[derive(Clone, Debug, Serialize)]
pub struct Certificate {
    /// Whether the claim holds.
    pub holds: bool,
    /// In words.
    pub claim: String,
    /// Floor acceleration, either way, m/s^2.
    pub floor_acceleration_bound_mps2: f64,
    /// Highest speed at which a stop is met, m/s.
    pub touch_speed_bound_mps: f64,
    /// Lightest occupant, kg.
    pub mass_min_kg: f64,
    /// Heaviest occupant, kg.
    pub mass_max_kg: f64,
    /// Everything that was taken for granted.
    pub assumptions: Claim,
    /// What went into the proof.
    pub law: LawStamp,
    /// Slack with which the set was drawn, m/s^2.
    pub slack_mps2: f64,
    /// Boxes looked at, in all arithmetics.
    pub boxes: u64,
    /// The smallest margin of all boxes, and where it is.
    pub smallest_margin: Place,
    /// Arithmetics in which it was proved.
    pub arithmetics: Vec<ArithmeticProof>,
    /// What could not be proved, when the claim does not hold.
    pub counter_example: Option<Place>,
    /// Why it does not hold, in words.
    pub refusal: Option<String>,
    /// The proven set.
    pub set: ProvenSet,
    /// Computing time, s.
    pub seconds: f64,
}

/// Which law and parameters the certificate is for.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct LawStamp {
    /// Version of the firmware crate.
    pub version: String,
    /// CRC-32 of the encoded parameter table, as the link's `Hello` tells it.
    pub parameters_hash: String,
    /// The rig.
    pub rig: String,
}

/// What was proved in one arithmetic.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ArithmeticProof {
    /// Its name.
    pub name: &'static str,
    /// Boxes.
    pub boxes: u64,
    /// The smallest margin.
    pub smallest_margin: Place,
    /// Bounds of all answers whatever comes in.
    pub answers: Answers,
}

/// Pieces that are done, by what they belong to.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Progress {
    /// Which law and claim: pieces of another are of no use.
    pub stamp: String,
    /// Done, by name.
    pub pieces: BTreeMap<String, Piece>,
}

impl Certificate {
    /// Version, parameters and rig that a certificate of `rig` is for.
    ///
    /// # Errors
    /// When the observer cannot be designed.
    pub fn stamp(rig: &Rig) -> Result<LawStamp, DesignError> {
        Ok(LawStamp {
            version: env!("CARGO_PKG_VERSION").to_owned(),
            parameters_hash: format!("{:08x}", parameters_crc(&design::parameters(rig)?)),
            rig: rig.name.clone(),
        })
    }
}

/// Proves the claim of a rig for its firmware's own arrest.
///
/// `progress` holds pieces done before and gets those done now; `done` hears how many pieces are done of
/// how many; `go_on` may stop the proof.
///
/// # Errors
/// Parameters that cannot be used; an interruption.
pub fn certify(
    rig: &Rig,
    progress: &Mutex<Progress>,
    done: impl Fn(usize, usize) + Sync,
    go_on: impl Fn() -> bool + Sync,
) -> Result<Certificate, CertifyError> {
    let timing = &rig.firmware.timing;
    let arrest = &rig.firmware.arrest;
    let laws = Laws {
        plain: arrest.build::<f64>(timing)?,
        exact: arrest.build::<Interval<Exact>>(timing)?,
        single: arrest.build::<Interval<Single>>(timing)?,
        fixed: arrest.build::<Interval<Fixed>>(timing)?,
        slope: arrest.build::<Slope>(timing)?,
    };
    let answers = [
        answers::<Exact>(rig)?,
        answers::<Single>(rig)?,
        answers::<Fixed>(rig)?,
    ];
    let stamp = Certificate::stamp(rig)?;
    prove(
        &Claim::of(rig),
        &laws,
        answers,
        stamp,
        progress,
        done,
        go_on,
    )
}

/// One law in every arithmetic that the proof needs.
#[derive(Clone, Copy, Debug)]
pub struct Laws<P, E, S, F, D> {
    /// In double precision, to draw the set.
    pub plain: P,
    /// In exact intervals.
    pub exact: E,
    /// In intervals that round as single precision.
    pub single: S,
    /// In intervals that round as fixed point.
    pub fixed: F,
    /// In intervals with their derivative to the floor's acceleration.
    pub slope: D,
}

/// Proves a claim for a law, which need not be the firmware's.
///
/// # Errors
/// An interruption.
pub fn prove<P, E, S, F, D>(
    claim: &Claim,
    laws: &Laws<P, E, S, F, D>,
    answers: [Answers; 3],
    stamp: LawStamp,
    progress: &Mutex<Progress>,
    done: impl Fn(usize, usize) + Sync,
    go_on: impl Fn() -> bool + Sync,
) -> Result<Certificate, CertifyError>
where
    P: Law<f64>,
    E: Law<Interval<Exact>>,
    S: Law<Interval<Single>>,
    F: Law<Interval<Fixed>>,
    D: Law<Slope>,
{
    let clock = std::time::Instant::now();
    let id = format!("{stamp:?} {claim:?}");
    if let Ok(mut kept) = progress.lock()
        && kept.stamp != id
    {
        *kept = Progress {
            stamp: id,
            pieces: BTreeMap::new(),
        };
    }
    let mut certificate = Certificate {
        holds: false,
        claim: words(claim),
        floor_acceleration_bound_mps2: claim.floor_accel_mps2,
        touch_speed_bound_mps: f64::INFINITY,
        mass_min_kg: claim.occupant_min_kg,
        mass_max_kg: claim.occupant_max_kg,
        assumptions: *claim,
        law: stamp,
        slack_mps2: 0.0,
        boxes: 0,
        smallest_margin: NOWHERE,
        arithmetics: Vec::new(),
        counter_example: None,
        refusal: None,
        set: ProvenSet::design(&laws.plain, claim, SLACK_MPS2),
        seconds: 0.0,
    };
    let pushes = floor_pushes(&laws.slope, claim, 10.0);
    let brakes = travel_brakes(&laws.slope, claim, 10.0);
    if pushes.may_be_nan() || pushes.hi() > 1.0e-12 {
        certificate.refusal = Some(format!(
            "what is permitted less the floor's acceleration may rise with it (by up to {}): \
             the worst floor is not known",
            pushes.hi()
        ));
    } else if brakes.may_be_nan() || brakes.hi() > 1.0e-12 {
        certificate.refusal = Some(format!(
            "what is permitted toward an end may rise as it comes nearer (by up to {}/s2): \
             the worst error of the travel is not known",
            brakes.hi()
        ));
    } else if let Some(bad) = answers.iter().find(|a| !a.hold) {
        certificate.refusal = Some(format!(
            "an answer may leave its limits: {} m/s2, {} A",
            bad.accel_mps2, bad.current_a
        ));
    } else {
        for slack in SLACKS_MPS2 {
            let attempt = Attempt {
                claim,
                slack,
                set: ProvenSet::design(&laws.plain, claim, slack),
                progress,
                done: &done,
                go_on: &go_on,
            };
            if attempt.prove(laws, answers, &mut certificate)? {
                break;
            }
        }
    }
    certificate.seconds = clock.elapsed().as_secs_f64();
    Ok(certificate)
}

/// The claim in words.
fn words(c: &Claim) -> String {
    format!(
        "On any floor of at most {} m/s2 and {} m/s3, under any seated occupant of {} to {} kg, no stop is \
         met faster than {} m/s, as long as the assumptions hold; and whatever comes in, every answer is \
         finite and within its limits.",
        c.floor_accel_mps2, c.floor_jerk_mps3, c.occupant_min_kg, c.occupant_max_kg, c.touch_mps
    )
}
