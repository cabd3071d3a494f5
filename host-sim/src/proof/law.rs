//! The part of the law that is proved: the arrest's decision.

use firmware::arrest::{Ahead, Config};
use shared_math::Scalar;

/// A decision on acceleration that has no memory.
///
/// The firmware's own is [`Config`]; tests prove that broken ones are refused.
pub trait Law<S>: Sync {
    /// Lowest and highest acceleration that may be permitted, m/s^2. Where the two are crossed,
    /// the highest holds.
    fn limits(&self, ahead: &Ahead<S>) -> (S, S);

    /// Deceleration of its profile relative to the floor, m/s^2.
    fn profile_braking(&self) -> f64;
}

impl<S: Scalar + Sync> Law<S> for Config<S> {
    fn limits(&self, ahead: &Ahead<S>) -> (S, S) {
        Self::limits(self, ahead)
    }

    fn profile_braking(&self) -> f64 {
        self.braking().to_f64()
    }
}
