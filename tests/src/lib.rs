//! What the acceptance tests in `tests/` share, a module a room.
#![allow(
    missing_docs,
    clippy::new_without_default,
    clippy::should_implement_trait,
    reason = "helpers of tests, read beside them"
)]

pub mod brakes;
pub mod dossier;
pub mod drivers;
pub mod faults;
pub mod floors;
pub mod lane;
pub mod link;
pub mod margins;
pub mod modes;
pub mod plant;
pub mod player;
pub mod proof;
pub mod recorder;
pub mod report;
pub mod target;
