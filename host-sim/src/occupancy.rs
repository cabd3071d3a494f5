//! Who sits on the seat, with a smooth change of load.

use crate::body::{Body, BodyKind};
use crate::ride::OccupantChange;
use crate::rig::Rig;

/// Time over which a person's weight comes on or off the seat, s.
const SIT_S: f64 = 0.4;
/// What stands for an empty seat, so that the body is never massless, kg.
const NOBODY_KG: f64 = 0.01;

/// The occupants of one ride, one after the other.
pub(crate) struct Occupancy<'a> {
    kind: BodyKind,
    share: f64,
    changes: core::slice::Iter<'a, OccupantChange>,
    next: Option<&'a OccupantChange>,
    from_kg: f64,
    to_kg: f64,
    since: f64,
    dirty: bool,
}

impl<'a> Occupancy<'a> {
    /// `occupant_kg` sits there until the first of the changes.
    pub(crate) fn new(
        rig: &Rig,
        kind: BodyKind,
        occupant_kg: f64,
        changes: &'a [OccupantChange],
    ) -> Self {
        let mut changes = changes.iter();
        let next = changes.next();
        Self {
            kind,
            share: rig.seat.on_seat_share,
            changes,
            next,
            from_kg: occupant_kg,
            to_kg: occupant_kg,
            since: -1.0,
            dirty: false,
        }
    }

    /// The body of an occupant of `kg`.
    pub(crate) fn body_at(&self, kg: f64) -> Body {
        Body::new(self.kind, (kg * self.share).max(NOBODY_KG))
    }

    /// A new body when the load changes in the period that begins at `time`, s.
    pub(crate) fn step(&mut self, time: f64) -> Option<Body> {
        if let Some(change) = self.next.filter(|c| time >= c.at_s) {
            (self.from_kg, self.to_kg, self.since) = (self.to_kg, change.occupant_kg, time);
            self.next = self.changes.next();
            self.dirty = true;
        }
        if !self.dirty {
            return None;
        }
        let x = ((time - self.since) / SIT_S).min(1.0);
        self.dirty = x < 1.0;
        let smooth = x * x * (3.0 - 2.0 * x);
        Some(self.body_at(self.from_kg + (self.to_kg - self.from_kg) * smooth))
    }

    /// The switch closes with half of the weight.
    pub(crate) fn seated(&self, body: &Body) -> bool {
        body.total_kg() > 10.0 * self.share
    }
}
