//! The report of a ride: figures, drawings, page.

mod envelope;
mod figures;
mod page;
mod response;
mod write;
