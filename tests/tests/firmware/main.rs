//! Stages of the firmware alone, and the whole of it under any frame.

mod any_frame;
mod arrest;
mod build;
mod calibrate;
mod limit;
mod stored_table;
mod task;
mod vet;
