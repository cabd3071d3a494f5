//! Whole-body-vibration exposure in the terms of ISO 2631-1 and ISO 2631-5.
//!
//! Everything here streams: memory does not grow with the length of a ride.
//!
//! | file | purpose |
//! |---|---|
//! | [`weighting`] | frequency weightings Wk, Wd, Wf, We, Wj, Wb: formula and digital filter |
//! | [`biquad`] | the second-order section and the bilinear transform behind the filters |
//! | [`running_rms`] | running r.m.s. over 1 s, linear window and exponential |
//! | [`meter`] | weighted r.m.s., VDV, MTVV, crest factor of one channel |
//! | [`seat_value`] | seat over floor, by r.m.s. and by VDV |
//! | [`daily`] | A(8), daily VDV, time to the action and limit values |
//! | [`spine`] | seat-to-spine filter and dose of ISO 2631-5 |
//! | [`spine_risk`] | compressive stress, stress variable R, injury probability |
//! | [`error`] | what can be wrong with an input |

pub mod biquad;
pub mod daily;
pub mod error;
pub mod meter;
pub mod running_rms;
pub mod seat_value;
pub mod spine;
pub mod spine_risk;
pub mod weighting;

pub use daily::{Axis, DailyExposure, PartialExposure};
pub use error::ExposureError;
pub use meter::{ExposureFigures, ExposureMeter};
pub use seat_value::SeatValue;
pub use spine::{SpineFigures, SpineFilter, SpineMeter};
pub use spine_risk::SpineRiskModel;
pub use weighting::{Weighting, WeightingFilter};
