//! Host bench: plant, floors, exposure, rides and reports.

pub mod body;
pub mod design;
pub mod exposure;
pub mod floor;
pub mod plant;
pub mod report;
pub mod ride;
pub mod rig;
pub mod sensors;
pub mod spectrum;
pub mod summary;
