//! What the seat is asked for on the default rig.

mod estimates;
mod events;
mod exposure;
mod seat_values;
mod stops;
mod transmissibility;
