//! A ride that one can watch: one self-contained HTML page that plays it.
//!
//! A [`Recorder`] looks at every [`crate::ride::Sample`] of a ride and keeps a bounded amount of it;
//! [`Recorder::page`] makes the page. It holds data, style and script, needs no network, and is
//! drawn with what every browser has (SVG and canvas). Without its script the tables still stand.
//!
//! | file | purpose |
//! |---|---|
//! | `recorder` | what is kept of a ride, period by period |
//! | [`thin`] | least and greatest values in buckets, in several levels |
//! | [`pack`] | numbers as counts of 16 bits in base64 |
//! | [`events`] | moments to jump to, and those shown in slow motion |
//! | `data` | the page's data as JSON |
//! | `scene` | floor, seat, stops and occupant to scale, as SVG |
//! | `plane` | travel rate against travel, with arrest curve and proven set |
//! | `tables` | figures of the summary, list of events |
//! | `words` | sentences: what is shown, resolution, keys |
//! | `page`, `page.css` | the page around them |
//! | `script/data.js` | reads the data, finds values at a time |
//! | `script/scene.js`, `plane.js`, `traces.js`, `overview.js` | move one part of the page each |
//! | `script/clock.js` | time, speed, slow motion, reduced motion |
//! | `script/control.js` | keys, pointer, buttons, what is said |

mod data;
pub mod events;
pub mod pack;
mod page;
mod plane;
mod recorder;
mod scene;
mod tables;
pub mod thin;
mod words;

pub use recorder::Recorder;

use crate::floor::butterworth::CornerError;
use crate::proof::certificate::CertifyError;

/// Name of the page inside the folder of a ride.
pub const FILE_NAME: &str = "ride.html";

/// Why the page cannot be made.
#[derive(Debug, thiserror::Error)]
pub enum PlayerError {
    /// Nothing was pushed.
    #[error("page of an empty ride: expected at least one sample")]
    Empty,
    /// The filter of the floor's motion.
    #[error(transparent)]
    Filter(#[from] CornerError),
    /// The proven set.
    #[error(transparent)]
    Proof(#[from] CertifyError),
    /// The figures could not be read.
    #[error("summary: {0}")]
    Summary(#[from] serde_json::Error),
}
