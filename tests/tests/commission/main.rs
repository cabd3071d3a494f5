//! Commissioning of a machine: what it finds, refuses and asks for.

mod aborts;
mod blocks;
mod finds;
mod frames;
mod tolerances;
