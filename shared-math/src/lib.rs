#![no_std]
//! Scalar arithmetic and control building blocks.
