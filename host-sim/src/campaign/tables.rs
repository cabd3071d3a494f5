//! tables
