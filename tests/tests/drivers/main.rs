//! Drivers against buses and pins that answer and fail as told.

mod accelerometer;
mod board;
mod current;
mod encoder;
mod inputs;
mod layouts;
mod outputs;
