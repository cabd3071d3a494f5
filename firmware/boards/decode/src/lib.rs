//! The log of a port is decoded and checked in `tests/log.rs`.
