//! Proof of the travel: the arrest's own code in interval arithmetic.
//!
//! | file | purpose |
//! |---|---|
//! | `interval` | intervals with outward rounding, an arithmetic of the law |
//! | `claim` | what is claimed, and what is taken for granted |
//! | `law` | the decision that is proved |
//! | `set` | the set of travel and rate that is not left |
//! | `slope` | intervals with their derivative to one argument |
//! | `watch` | how much of the assumptions a ride has used |
//! | `certify` | branch and bound: one step from any state of the set |
//! | `answers` | whatever comes in, what goes out is within limits |
//! | `attempt` | all pieces of the travel, with the set drawn with one slack |
//! | `certificate` | the whole proof, in every arithmetic |
//! | `standing` | whether it goes through in the arithmetic of a ride |

pub mod answers;
mod attempt;
pub mod certificate;
pub mod certify;
pub mod claim;
pub mod interval;
pub mod law;
pub mod set;
pub mod slope;
pub mod standing;
pub mod watch;
