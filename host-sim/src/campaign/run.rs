//! The campaign over all threads: what is known already is not ridden again.

use super::alarm::{self, AlarmFigures, HealthyRide};
use super::case::{self, CaseFigures};
use super::keep::{Finished, Keeper};
use super::plan::{Place, Plan, window_s};
use super::start::Start;
use crate::design;
use crate::fault::Entry;
use crate::output::OutputError;
use crate::parallel;
use crate::ride::RideError;
use crate::rig::Rig;
use firmware::Parameters;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Why a campaign has no result.
#[derive(Debug, thiserror::Error)]
pub enum CampaignError {
    /// A ride.
    #[error(transparent)]
    Ride(#[from] RideError),
    /// The file of finished cases.
    #[error(transparent)]
    Output(#[from] OutputError),
    /// Interrupted.
    #[error("interrupted")]
    Interrupted,
}

/// All that was ridden, in the order of the plan.
#[derive(Clone, Debug, PartialEq)]
pub struct Ridden {
    /// The cases.
    pub cases: Vec<CaseFigures>,
    /// The healthy rides.
    pub healthy: Vec<AlarmFigures>,
}

/// How many items a plan has: cases and healthy rides.
///
/// # Errors
/// A floor that is not known.
pub fn count(plan: &Plan) -> Result<(usize, usize), RideError> {
    let places = plan.places()?.len();
    Ok((places * plan.faults.len(), alarm::rides(plan).len()))
}

/// One piece of work: what shares a sound ride, or a healthy ride.
enum Work<'p> {
    Place(&'p Place),
    Healthy(HealthyRide),
}

/// Rides what is not known yet. `go_on` hears how many items are finished and may stop the campaign by returning false.
///
/// # Errors
/// A ride that cannot be made, a file that cannot be written, an interruption.
pub fn run(
    rig: &Rig,
    plan: &Plan,
    threads: usize,
    keeper: Option<&Keeper>,
    go_on: impl Fn(usize) -> bool + Sync,
) -> Result<Ridden, CampaignError> {
    let parameters = design::parameters(rig).map_err(RideError::from)?;
    let places = plan.places().map_err(RideError::from)?;
    let mut work: Vec<Work<'_>> = places.iter().map(Work::Place).collect();
    work.extend(alarm::rides(plan).into_iter().map(Work::Healthy));
    let finished = AtomicUsize::new(0);
    let next = || {
        if go_on(finished.fetch_add(1, Ordering::Relaxed) + 1) {
            Ok(())
        } else {
            Err(CampaignError::Interrupted)
        }
    };
    let bench = Bench {
        rig,
        parameters,
        faults: &plan.faults,
        keeper,
    };
    let done = parallel::try_map(
        threads,
        work.len(),
        |n| match &work[n] {
            Work::Place(place) => bench.place(place, next),
            Work::Healthy(ride) => bench.healthy(ride, next),
        },
        |_| (),
    )?;
    let mut ridden = Ridden {
        cases: Vec::new(),
        healthy: Vec::new(),
    };
    for item in done.into_iter().flatten() {
        match item {
            Finished::Case(case) => ridden.cases.push(*case),
            Finished::Healthy(ride) => ridden.healthy.push(ride),
        }
    }
    Ok(ridden)
}

struct Bench<'b> {
    rig: &'b Rig,
    parameters: Parameters,
    faults: &'b [&'static Entry],
    keeper: Option<&'b Keeper>,
}

impl Bench<'_> {
    fn place(
        &self,
        place: &Place,
        next: impl Fn() -> Result<(), CampaignError>,
    ) -> Result<Vec<Finished>, CampaignError> {
        let longest_s = self.faults.iter().map(|e| window_s(e)).fold(0.0, f64::max);
        let mut start = None;
        let mut all = Vec::new();
        for entry in self.faults {
            all.push(self.once(&place.id(entry), || {
                let start = match &mut start {
                    Some(start) => start,
                    none => none.insert(Start::ride(self.rig, &self.parameters, place, longest_s)?),
                };
                Ok(Finished::Case(Box::new(case::ride(start, entry)?)))
            })?);
            next()?;
        }
        Ok(all)
    }

    fn healthy(
        &self,
        ride: &HealthyRide,
        next: impl Fn() -> Result<(), CampaignError>,
    ) -> Result<Vec<Finished>, CampaignError> {
        let finished = self.once(&ride.id(), || {
            Ok(Finished::Healthy(ride.ride(self.rig, &self.parameters)?))
        })?;
        next()?;
        Ok(vec![finished])
    }

    /// What is known of an item, or else what `work` makes of it.
    fn once(
        &self,
        id: &str,
        work: impl FnOnce() -> Result<Finished, RideError>,
    ) -> Result<Finished, CampaignError> {
        if let Some(known) = self.keeper.and_then(|k| k.known(id)) {
            return Ok(known.clone());
        }
        let finished = work()?;
        if let Some(keeper) = self.keeper {
            keeper.add(&finished)?;
        }
        Ok(finished)
    }
}
