#![no_std]
//! Control law of an actively suspended seat.
