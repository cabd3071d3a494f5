//! What the page needs of a ride, period by period, in bounded memory.

use super::events::{Event, EventLog};
use super::thin::{Period, Thinner};
use super::{PlayerError, page};
use crate::fault::occupants;
use crate::floor::butterworth::{Cascade, Side, design};
use crate::proof::certificate::CertifyError;
use crate::proof::standing::{Standing, standing};
use crate::report::modes::Change;
use crate::ride::{OccupantChange, RideSpec, Sample};
use crate::rig::Rig;
use crate::summary::Summary;
use std::thread::{self, JoinHandle};

/// Buckets of the finest level: up to 160 s every control period of 1 ms is kept, and a page never passes
/// 12 MB.
const CAPACITY: usize = 160_000;
/// The floor is shown moving above this, Hz: slower motion would carry it out of the picture.
pub(super) const FLOOR_CORNER_HZ: f64 = 0.25;

/// A signal of the page's data.
#[derive(Clone, Copy, Debug)]
pub(super) struct Signal {
    /// Name in the data.
    pub(super) name: &'static str,
    /// Unit.
    pub(super) unit: &'static str,
    /// In words.
    pub(super) words: &'static str,
}

const fn signal(name: &'static str, unit: &'static str, words: &'static str) -> Signal {
    Signal { name, unit, words }
}

/// The traces, in the order of [`Period::traces`].
pub(super) const TRACES: [Signal; super::thin::TRACES] = [
    signal("floorAccel", "m/s²", "acceleration of the floor"),
    signal("passiveAccel", "m/s²", "acceleration of the passive seat"),
    signal("lawAccel", "m/s²", "acceleration of the seat under the law"),
    signal("passiveTravel", "m", "travel of the passive seat"),
    signal("lawTravel", "m", "travel of the seat under the law"),
    signal("force", "N", "force of the motor"),
];
/// The instants, in the order of [`Period::instants`].
pub(super) const INSTANTS: [Signal; super::thin::INSTANTS] = [
    signal("floorHeight", "m", "height of the floor"),
    signal("passiveTravelAt", "m", "travel of the passive seat"),
    signal("lawTravelAt", "m", "travel of the seat under the law"),
    signal("passiveRateAt", "m/s", "travel rate of the passive seat"),
    signal("lawRateAt", "m/s", "travel rate of the seat under the law"),
];

/// Looks at every sample of a ride.
pub struct Recorder {
    rig: Rig,
    spec: RideSpec,
    skip: u64,
    high_pass: Cascade<1>,
    thinner: Thinner,
    events: EventLog,
    /// The proof goes on beside the ride.
    standing: JoinHandle<Result<Standing, CertifyError>>,
}

/// Everything kept, after the ride.
pub(super) struct Recorded {
    pub(super) rig: Rig,
    pub(super) spec: RideSpec,
    pub(super) thinner: Thinner,
    pub(super) changes: Vec<Change>,
    /// Whether some later changes of mode were not kept.
    pub(super) changes_left_out: bool,
    pub(super) events: Vec<Event>,
    /// What the list of events leaves out, in words; empty when nothing.
    pub(super) left_out: String,
    pub(super) occupants: Vec<OccupantChange>,
    pub(super) standing: Standing,
}

impl Recorder {
    /// A recorder for one ride.
    ///
    /// # Errors
    /// When the control rate cannot hold the filter of the floor's motion.
    pub fn new(rig: &Rig, spec: &RideSpec) -> Result<Self, PlayerError> {
        let rate_hz = 1.0 / rig.timing.step_s;
        let (its_rig, arithmetic) = (rig.clone(), spec.arithmetic);
        Ok(Self {
            rig: rig.clone(),
            spec: spec.clone(),
            skip: (spec.skip_s * rate_hz).round() as u64,
            high_pass: Cascade::new(design::<1>(Side::High, FLOOR_CORNER_HZ, rate_hz)?),
            thinner: Thinner::new(CAPACITY),
            events: EventLog::new(rig.seat.travel_m),
            standing: thread::spawn(move || standing(&its_rig, arithmetic)),
        })
    }

    /// Takes one sample. Every sample of the ride, in order.
    pub fn push(&mut self, s: &Sample) {
        let height = self.high_pass.step(s.floor.displacement_m);
        let counts = self.thinner.pushed() >= self.skip;
        self.events.push(s, counts);
        self.thinner.push(&Period {
            traces: [
                s.floor.accel_mps2,
                s.passive_accel,
                s.seat_accel,
                s.passive_travel,
                s.travel,
                s.force,
            ],
            instants: [
                height,
                s.passive_travel,
                s.travel,
                s.passive_travel_rate,
                s.travel_rate,
            ],
        });
    }

    /// The page as text, to lie beside the ride's report. The set that the ride is held against is proved again for it, in
    /// the arithmetic of the ride.
    ///
    /// # Errors
    /// [`PlayerError::Empty`] when nothing was pushed; parameters that cannot be used.
    pub fn page(self, summary: &Summary) -> Result<String, PlayerError> {
        self.made(summary, true)
    }

    /// The same page where there is no report of the ride.
    ///
    /// # Errors
    /// As [`Recorder::page`].
    pub fn page_alone(self, summary: &Summary) -> Result<String, PlayerError> {
        self.made(summary, false)
    }

    fn made(self, summary: &Summary, report: bool) -> Result<String, PlayerError> {
        if self.thinner.pushed() == 0 {
            return Err(PlayerError::Empty);
        }
        let standing = self
            .standing
            .join()
            .unwrap_or(Err(CertifyError::Interrupted))?;
        let changes = self.events.modes().changes.clone();
        let changes_left_out = self.events.modes().left_out > 0;
        let (events, left_out) = self.events.finish(summary);
        let mut people = vec![OccupantChange {
            at_s: 0.0,
            occupant_kg: self.spec.occupant_kg,
        }];
        people.extend(occupants(
            &self.spec.changes,
            self.spec.occupant_kg,
            &self.spec.faults,
        ));
        page::page(
            &Recorded {
                rig: self.rig,
                spec: self.spec,
                thinner: self.thinner,
                changes,
                changes_left_out,
                events,
                left_out,
                occupants: people,
                standing,
            },
            summary,
            report,
        )
    }
}
