//! The fault campaign: every fault on many floors, under many occupants, from several onsets on.
//!
//! # What a case is
//!
//! One entry of the [`fault::catalogue()`](crate::fault::catalogue()) at its usual size, on one floor at one level, under one
//! occupant (two-mass body), from one onset on. It runs from the onset for [`plan::window_s`]. These rides belong to it:
//!
//! | ride | what it is |
//! |---|---|
//! | law | the firmware with the fault |
//! | healthy | the same without the fault |
//! | passive | the passive seat; with the fault where that acts on people or on the support |
//! | unreacting | the firmware with the fault, but no fault ever stands in it ([`firmware::Cycle::ignore_faults`]) |
//! | at once | only for a dangerous case: the firmware told in the period of the onset, once for each of its answers ([`case::ANSWERS`]) |
//! | motor off | only for a broken case: windings open, and windings shorted, from the onset on, as far as the fault lets them; for a step that is too large also from the reaction on |
//!
//! # Words and limits
//!
//! - *Contact limit*: 0.25 m/s, or what the passive seat does, whichever is larger. *Peak limit*: 1.2 x the larger of the
//!   peaks of the healthy and of the passive seat. Both over the case's own window.
//! - *Dangerous*: the unreacting ride breaks one of the two. *Changes the ride*: the unreacting ride differs from the
//!   healthy one by more than 0.5 m/s2 (mean over 5 ms) or 10 mm/s of travel rate; the first such instant is the *effect*.
//! - *Noticed*: the first new fault bit. Operators, switches and the external watchdog raise no fault bit: there the change
//!   of mode counts.
//! - *In time*: within 20 ms (100 ms for slow mechanical faults and drifts) of the onset or of the effect; for a drift also
//!   before the estimated travel rate is 20 mm/s off. What people do need not be noticed, only survived.
//! - *Reaction*: from being noticed until the mode is no longer an ordinary one: off, passive, rise, active, beyond, or
//!   the mode before the onset. The command acts one transport delay later, which is the same for all.
//! - *Step*: the largest change of seat acceleration within 2 ms during 0.3 s from the reaction on, less the largest of the
//!   healthy and of the unreacting ride there. At a stop nothing counts: contacts are judged by their own limit.
//! - *Beyond any firmware*: a broken limit where the seat does no worse (5 %) than it did before the first answer to the
//!   fault could act; or, in a case whose motor cannot act any more ([`plan::motor_is_lost`]), than the best of motor off
//!   and unreacting. A step is beyond it where such a motor, which breaks a limit if it is left on, makes no smaller one (5 %)
//!   when its windings are opened or shorted in that very period: a current that is stuck is let go all at once or not at
//!   all. Such cases are listed apart and are not held.
//!
//! Detection, reaction and handling time are the FDTI, FRTI and FHTI of ISO 26262-1:2018 (FHTI = FDTI + FRTI); the time
//! until the unreacting ride breaks a limit stands for the FTTI. Diagnostic coverage and its classes are those of
//! ISO 13849-1 (both read in public summaries, not in print). The limits 0.25 m/s, 1.2, 3 m/s2, 20 and 100 ms are this
//! project's targets; which class gets which time, the thresholds of *changes the ride*, what is *beyond any firmware*
//! and the weights are our own derivation, from no standard.
//!
//! | file | purpose |
//! |---|---|
//! | [`plan`] | which cases there are |
//! | [`start`] | a sound ride up to the onset, and its references |
//! | `window` | what is kept of a ride from the onset on |
//! | [`case`] | the rides of one case and its figures |
//! | [`judge`] | limits, detection, verdict of a case |
//! | [`alarm`] | healthy rides in search of false alarms |
//! | [`keep`] | finished cases in a file, to take up again |
//! | [`run`](mod@run) | the campaign over all threads |
//! | [`summary`] | all cases together: broken limits, coverage, matrix, worst |
//! | [`page`] | the report `faults.html`; `tables` its tables |

pub mod alarm;
pub mod case;
pub mod judge;
pub mod keep;

pub mod page;
pub mod plan;
pub mod run;
pub mod start;
pub mod summary;
mod tables;
mod window;
