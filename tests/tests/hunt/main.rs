//! The hunt for the worst floor.

mod counter;
mod finds;
