//! Stages of the firmware alone, and the whole of it under any frame.

mod agree;
mod any_frame;
mod arrest;
mod brake;
mod build;
mod calibrate;
mod estimate;
mod isolate;
mod limit;
mod stored_table;
mod supervise;
mod task;
mod vet;
mod weigh;
