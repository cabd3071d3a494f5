//! Host bench: plant, floors, exposure, rides and reports.

pub mod exposure;
pub mod floor;
pub mod spectrum;
