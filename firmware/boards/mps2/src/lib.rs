#![no_std]
//! What the ports to the MPS2 boards share: nothing of the law.

pub mod counter;
pub mod stack;
pub mod uart;
