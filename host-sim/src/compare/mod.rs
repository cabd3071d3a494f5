//! Two dossiers, or two rides, figure by figure: what became better or worse, and what is within the noise of the seeds.
//!
//! | file | purpose |
//! |---|---|
//! | [`load`] | a dossier or a ride's summary as something to compare |
//! | [`noise`] | how far a figure may move by the choice of seeds alone |
//! | [`judge`] | every figure, and every limit that is broken |
//! | [`text`] | the comparison as a table and as Markdown |

pub mod judge;
pub mod load;
pub mod noise;
pub mod text;

pub use judge::{BrokenLimit, Change, Comparison, Meaning};
pub use load::{CompareError, Subject};
