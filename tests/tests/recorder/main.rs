//! The flight recorder: blocks, files, requests.

mod blocks;
mod file;
mod link;
