//! The link to a board: packets, errors, server, a pseudo-terminal.

mod errors;
mod packets;
mod parity;
mod server;
mod terminal;
