//! Host bench: plant, floors, exposure, rides and reports.

pub mod body;
pub mod bound;
pub mod closed_loop;

pub mod commission;
pub mod cores;
pub mod design;
pub mod exposure;
pub mod fault;
pub mod fault_words;
pub mod floor;
pub mod hunt;
pub mod image;
pub mod link;
pub mod machine;
pub mod margins;
pub mod modes;
pub mod output;
pub mod parameter_table;
pub mod plant;
pub mod proof;
pub mod report;
pub mod ride;
pub mod rig;
pub mod scenario;
pub mod sensors;
pub mod spectrum;
pub mod summary;
pub mod sweep;
pub mod toml_file;
pub mod trace;
pub mod upsample;
