//! The command: tables, JSON, files, guides, every kind of bad input.

mod bad_input_csv;
mod bad_input_run;
mod bad_input_toml;
mod bound;
mod campaign;
mod certify;
mod commands;
mod commission;
mod common;
mod dossier;
mod faults;
mod guides;
mod hunt;
mod margins;
mod recorder;
mod replay;
mod ride;
