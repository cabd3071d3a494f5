//! The evidence room: everything is run or collected, held against the register of limits, and written as one folder.
//!
//! | file | purpose |
//! |---|---|
//! | [`plan`] | how much is run |
//! | [`run`] | the stages, run or taken from what is kept |
//! | `rides`, `proofs`, `attacks`, `cores`, `commissioning` | the stages themselves: each gives raw data |
//! | `extremes`, `residuals` | what a ride of a stage came to at most |
//! | [`figure`] | one measured figure and its spread over seeds |
//! | `figures_rides`, `figures_commissioning`, `figures_rest` | figures from raw data |
//! | [`record`] | verdicts, figures, what was not run: `dossier.json` |
//! | [`cache`] | finished stages, to be taken up again |
//! | [`checksums`] | SHA-256 of every file |
//! | [`commit`] | the commit that the program is made from |
//! | [`junit`] | verdicts for CI systems |
//! | [`page`], `page_tables`, `page_plot`, `page.css`, `page_print.js` | the page `dossier.html` |
//! | [`watched`] | which rides the page plays |
//! | `page_ride`, `page_ride.js` | those rides in it, which play when they are asked to |
//! | [`folder`] | the folder, written whole or not at all |
//! | `read` | the record from its file |
//! | [`verify`] | the whole looked at again, a sample of the rides ridden again |
//! | `plan_held` | whether raw data hold what the plan asks for |
//! | `differences` | where two records or texts differ |

mod attacks;
pub mod cache;
pub mod checksums;
mod commissioning;
pub mod commit;
mod cores;
mod differences;
mod extremes;
pub mod figure;
mod figures_commissioning;
mod figures_rest;
mod figures_rides;
pub mod folder;
pub mod junit;
pub mod page;
mod page_plot;
mod page_ride;
mod page_tables;
pub mod plan;
mod plan_held;
mod proofs;
mod read;
pub mod record;
mod residuals;
mod rides;
pub mod run;
pub mod verify;
pub mod watched;

pub use cache::Cache;
pub use figure::{Better, Figure, Over};
pub use plan::Plan;
pub use record::{Dossier, Judged, Verdict};
pub use run::{Bench, DossierError, Outcome, Stage};
pub use watched::Watched;

/// The schema of `dossier.json`.
pub const SCHEMA: &str = include_str!("../../schemas/dossier-1.json");

/// A number with four digits that count, as people read it.
#[must_use]
pub fn words(value: f64) -> String {
    let size = value.abs();
    if !value.is_finite() {
        "no bound".to_owned()
    } else if size >= 1000.0 || value.fract() == 0.0 {
        format!("{value:.0}")
    } else if size >= 1.0e-4 {
        let digits = (3 - size.log10().floor() as i32).clamp(0, 7) as usize;
        let text = format!("{value:.digits$}");
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        format!("{value:.2e}")
    }
}
