//! Two dossiers, or two rides, figure by figure: what became better or worse, and what is within the noise of the seeds.
//!
//! | file | purpose |
//! |---|---|
//! | [`load`] | a dossier or a ride's summary as something to compare |
//! | [`noise`] | how far a figure may move without saying anything |
//! | [`limits`] | limits that are not the same on both sides |
//! | [`judge`] | every figure, and every limit that is broken |
//! | [`text`] | the comparison as a table and as Markdown |

pub mod judge;
pub mod limits;
pub mod load;
pub mod noise;
pub mod text;

pub use judge::{BrokenLimit, Change, Comparison, Meaning};
pub use limits::{Became, LimitChange};
pub use load::{CompareError, RigOf, Subject};
