//! The ride report: one self-contained HTML page about one ride.
//!
//! A [`Collector`] looks at every [`crate::ride::Sample`] of a ride and keeps a
//! bounded amount of it: envelopes in time that never lose a peak, streaming
//! spectra, a thinned phase plane and the few seconds around the roughest
//! moment. [`Collector::write`] then draws the figures and writes `report.html`.
//! The page needs no network and no script; figures are inline SVG.
//!
//! | file | purpose |
//! |---|---|
//! | `collector` | what is kept of a ride, sample by sample |
//! | [`envelope`] | least and greatest values in buckets whose width doubles |
//! | `window` | the seconds around the roughest moment, at full rate |
//! | `phase` | closing speed against distance to the stop |
//! | `modes` | modes, faults and stop contacts in time |
//! | [`response`] | density and transmissibility, averaged over fractions of an octave |
//! | `palette` | colours, dash patterns and weights |
//! | `panel` | what a figure shows: axes and layers |
//! | `draw` | panels to SVG |
//! | `figures_*` | the figures, one family a file |
//! | `tables`, `words`, `page` | tables, sentences, the page around them |

mod collector;
mod draw;
pub mod envelope;
mod figures_drive;
mod figures_estimate;
mod figures_frequency;
mod figures_time;
mod figures_travel;
pub(crate) mod modes;
mod page;
pub(crate) use page::{escape, inert_json};
mod palette;
mod panel;
mod phase;
pub mod response;
mod tables;
mod window;
mod words;

pub use collector::Collector;

use crate::exposure::ExposureError;
use crate::floor::FloorError;
use crate::floor::butterworth::CornerError;
use crate::spectrum::SpectrumError;
use std::path::PathBuf;

/// Name of the page inside the folder.
pub const FILE_NAME: &str = "report.html";

/// Why a report cannot be made.
#[derive(Debug, thiserror::Error)]
pub enum ReportError {
    /// A file or folder.
    #[error("{path}: cannot be written: {source}")]
    Write {
        /// The file or folder.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// Nothing was pushed.
    #[error("report of an empty ride: expected at least one sample")]
    Empty,
    /// Exposure of the floor.
    #[error(transparent)]
    Exposure(#[from] ExposureError),
    /// Spectra.
    #[error(transparent)]
    Spectrum(#[from] SpectrumError),
    /// High-pass of the velocity figures.
    #[error(transparent)]
    Filter(#[from] CornerError),
    /// The name of the floor.
    #[error(transparent)]
    Floor(#[from] FloorError),
    /// A figure could not be drawn.
    #[error("figure {figure}: cannot be drawn: {message}")]
    Draw {
        /// Which figure.
        figure: &'static str,
        /// What the drawing library said.
        message: String,
    },
    /// The figures could not be put in words.
    #[error("summary: {0}")]
    Summary(#[from] serde_json::Error),
}
