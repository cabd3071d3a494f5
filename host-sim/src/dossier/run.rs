//! What a dossier consists of, stage by stage, and how each is run or taken from what is kept.

use super::cache::Cache;
use super::plan::Plan;
use super::{attacks, commissioning, cores, proofs, rides};
use crate::rig::Rig;
use serde_json::Value;

/// Why there is no dossier.
#[derive(Debug, thiserror::Error)]
pub enum DossierError {
    /// A ride.
    #[error(transparent)]
    Ride(#[from] crate::ride::RideError),
    /// The bound.
    #[error(transparent)]
    Bound(#[from] crate::bound::BoundError),
    /// The certificate.
    #[error(transparent)]
    Certify(#[from] crate::proof::certificate::CertifyError),
    /// The margins' bench.
    #[error(transparent)]
    Point(#[from] crate::margins::point::PointError),
    /// The margins.
    #[error(transparent)]
    Margins(#[from] crate::margins::study::StudyError),
    /// A parameter of the firmware.
    #[error("rig section firmware: {0}")]
    Build(#[from] firmware::BuildError),
    /// The observer.
    #[error("rig section observer: {0}")]
    Design(#[from] crate::design::DesignError),
    /// The campaign.
    #[error(transparent)]
    Campaign(#[from] crate::campaign::run::CampaignError),
    /// The flipped bits.
    #[error(transparent)]
    Bitflips(#[from] crate::bitflips::BitflipError),
    /// A core.
    #[error(transparent)]
    Timing(#[from] crate::cores::timing::TimingError),
    /// The emulator.
    #[error(transparent)]
    Emulator(#[from] crate::cores::EmulatorError),
    /// A page of a ride.
    #[error(transparent)]
    Player(#[from] crate::player::PlayerError),
    /// A file.
    #[error(transparent)]
    Output(#[from] crate::output::OutputError),
    /// A commissioning test.
    #[error(transparent)]
    Commission(#[from] crate::commission::CommissionError),
    /// Raw data that is not as it should be.
    #[error("raw data: {0}")]
    Json(#[from] serde_json::Error),
    /// A plan that cannot be run.
    #[error("{0}")]
    Plan(String),
    /// A folder or file that is no dossier.
    #[error("{0}")]
    NotOne(String),
}

/// One part of the dossier.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stage {
    /// Rides on the machine floors.
    Rides,
    /// Single events.
    Events,
    /// The mass of one who has sat down.
    Seated,
    /// Stepped sine.
    Sweep,
    /// Headroom.
    Headroom,
    /// The commissioning test.
    Commission,
    /// The proof of the travel.
    Certificate,
    /// Stability margins.
    Margins,
    /// The modes.
    Modes,
    /// The hunt.
    Hunt,
    /// The fault campaign.
    Faults,
    /// Flipped bits.
    Bitflips,
    /// Time and memory on the emulated cores.
    Timing,
    /// The same bits on the emulated cores.
    Parity,
}

/// What a stage came to.
#[derive(Clone, Debug)]
pub enum Outcome {
    /// Its raw data.
    Ran(Value),
    /// Why it was not run.
    NotRun(String),
}

impl Stage {
    /// All stages, in the order of the dossier.
    pub const ALL: [Self; 14] = [
        Self::Rides,
        Self::Events,
        Self::Seated,
        Self::Sweep,
        Self::Headroom,
        Self::Commission,
        Self::Certificate,
        Self::Margins,
        Self::Modes,
        Self::Hunt,
        Self::Faults,
        Self::Bitflips,
        Self::Timing,
        Self::Parity,
    ];

    /// Its name: the first word of its figures.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Rides => "rides",
            Self::Events => "events",
            Self::Seated => "seated",
            Self::Sweep => "sweep",
            Self::Headroom => "headroom",
            Self::Commission => "commission",
            Self::Certificate => "certificate",
            Self::Margins => "margins",
            Self::Modes => "modes",
            Self::Hunt => "hunt",
            Self::Faults => "faults",
            Self::Bitflips => "bitflips",
            Self::Timing => "timing",
            Self::Parity => "parity",
        }
    }

    /// The file of its raw data.
    #[must_use]
    pub const fn file(self) -> &'static str {
        match self {
            Self::Rides => "rides.json",
            Self::Events => "events.json",
            Self::Seated => "seated.json",
            Self::Sweep => "sweep.json",
            Self::Headroom => "headroom.json",
            Self::Commission => "commission.json",
            Self::Certificate => "certificate.json",
            Self::Margins => "margins.json",
            Self::Modes => "modes.json",
            Self::Hunt => "hunt.json",
            Self::Faults => "faults.json",
            Self::Bitflips => "bitflips.json",
            Self::Timing => "timing.json",
            Self::Parity => "parity.json",
        }
    }

    /// In words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Rides => "Rides on the invented machine floors",
            Self::Events => "Single events of the floor",
            Self::Seated => "The mass of one who has sat down",
            Self::Sweep => "Stepped sine",
            Self::Headroom => "Distance to what is possible",
            Self::Commission => "Commissioning tests of sound machines",
            Self::Certificate => "Proof of the travel",
            Self::Margins => "Stability margins",
            Self::Modes => "Modes, explored whole",
            Self::Hunt => "Search for the worst floor and machine",
            Self::Faults => "Fault campaign",
            Self::Bitflips => "Flipped bits of memory",
            Self::Timing => "Time and memory on emulated cores",
            Self::Parity => "The same bits on emulated cores",
        }
    }

    /// Why a plan leaves it out; none when it is part of it.
    #[must_use]
    pub fn left_out(self, plan: &Plan) -> Option<String> {
        let part = match self {
            Self::Rides => plan.rides.seeds > 0,
            Self::Events => plan.event_seeds > 0,
            Self::Seated => plan.seated.seeds > 0,
            Self::Sweep => plan.sweep_seeds > 0,
            Self::Headroom => plan.headroom.0 > 0,
            Self::Commission => plan.commission_seeds > 0,
            Self::Certificate => plan.certificate,
            Self::Margins => plan.margin_draws.is_some(),
            Self::Modes => plan.modes,
            Self::Hunt => plan.hunt.0 > 0,
            Self::Faults => plan.faults.run,
            Self::Bitflips => plan.bitflips.1 > 0,
            Self::Timing | Self::Parity => plan.cores,
        };
        (!part).then(|| format!("not part of a {} dossier", plan.name))
    }
}

/// What all stages share.
#[derive(Clone, Debug)]
pub struct Bench<'r> {
    /// The rig.
    pub rig: &'r Rig,
    /// As the command line takes it; none for the default one.
    pub rig_path: Option<String>,
    /// Threads.
    pub threads: usize,
    /// Whether to stop.
    pub stop: fn() -> bool,
}

impl Bench<'_> {
    /// The option of a command that names the rig, with a space before it.
    #[must_use]
    pub fn rig_option(&self) -> String {
        self.rig_path
            .as_ref()
            .map_or_else(String::new, |path| format!(" --rig {path}"))
    }
}

/// Runs one stage, or takes it from the cache. `done` hears which share of it is through.
///
/// # Errors
/// What the stage says; an interruption.
pub fn stage(
    stage: Stage,
    bench: &Bench<'_>,
    plan: &Plan,
    cache: Option<&Cache>,
    done: &(dyn Fn(f64) + Sync),
) -> Result<Outcome, DossierError> {
    if let Some(why) = stage.left_out(plan) {
        return Ok(Outcome::NotRun(why));
    }
    if let Some(known) = cache.and_then(|cache| cache.known(stage)) {
        return Ok(Outcome::Ran(known));
    }
    let outcome = match stage {
        Stage::Rides => rides::floors(bench, plan, done).map(Outcome::Ran),
        Stage::Events => rides::events(bench, plan, done).map(Outcome::Ran),
        Stage::Seated => rides::seated(bench, plan, done).map(Outcome::Ran),
        Stage::Sweep => rides::sine(bench, plan, done).map(Outcome::Ran),
        Stage::Headroom => rides::headroom(bench, plan, done).map(Outcome::Ran),
        Stage::Commission => commissioning::tests(bench, plan, done).map(Outcome::Ran),
        Stage::Certificate => proofs::certificate(bench, done).map(Outcome::Ran),
        Stage::Margins => proofs::margins(bench, plan, done).map(Outcome::Ran),
        Stage::Modes => proofs::modes(bench).map(Outcome::Ran),
        Stage::Hunt => attacks::hunt(bench, plan, done).map(Outcome::Ran),
        Stage::Faults => attacks::faults(bench, plan, done).map(Outcome::Ran),
        Stage::Bitflips => attacks::flips(bench, plan, done).map(Outcome::Ran),
        Stage::Timing => cores::timing(bench, done),
        Stage::Parity => cores::parity(bench, done),
    }?;
    if let (Some(cache), Outcome::Ran(value)) = (cache, &outcome) {
        cache.keep(stage, value)?;
    }
    Ok(outcome)
}
