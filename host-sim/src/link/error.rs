//! What can go wrong on the link.

use firmware::link::Refusal;
use std::io;

/// Why the core in the other end could not be driven.
#[derive(Debug, thiserror::Error)]
pub enum LinkError {
    /// The socket or serial device cannot be opened.
    #[error("{path}: cannot be opened: {source}")]
    Open {
        /// Where.
        path: String,
        /// The system's reason.
        source: io::Error,
    },
    /// Nothing that answers the request came in time.
    #[error(
        "no answer to `{request}` within {seconds} s ({tries} tries, {damaged} damaged packets); does the core run, and is the line's speed right?"
    )]
    NoAnswer {
        /// The request.
        request: &'static str,
        /// Time waited in all, s.
        seconds: f64,
        /// How often it was sent.
        tries: u32,
        /// Damaged packets that came meanwhile.
        damaged: u32,
    },
    /// The board speaks another version of the protocol.
    #[error(
        "the board speaks version {board} of the link, this bench version {host}; build both from the same source"
    )]
    WrongVersion {
        /// The board's version.
        board: u16,
        /// The bench's version.
        host: u16,
    },
    /// The board's parameter table is another one.
    #[error(
        "the board has other parameters (checksum {board:08x}) than this rig (checksum {host:08x}); build the board from this rig"
    )]
    OtherParameters {
        /// Checksum of the board's table.
        board: u32,
        /// Checksum of the bench's table.
        host: u32,
    },
    /// The board did not obey.
    #[error("the board refused `{request}`: {reason} (sent {sent}, it expects {expected}){}", hint(*.reason))]
    Refused {
        /// The request.
        request: &'static str,
        /// The board's reason.
        reason: Refusal,
        /// Number of the exchange that was sent.
        sent: u32,
        /// Number that the board expects.
        expected: u32,
    },
    /// The board answered something else.
    #[error("the board answered `{request}` with something else: expected {expected}")]
    Unexpected {
        /// The request.
        request: &'static str,
        /// What was expected.
        expected: &'static str,
    },
    /// The other end closed the line.
    #[error("the other end closed the line during `{request}`")]
    Closed {
        /// The request.
        request: &'static str,
    },
    /// The line failed.
    #[error("the line failed during `{request}`: {source}")]
    Io {
        /// The request.
        request: &'static str,
        /// The system's reason.
        source: io::Error,
    },
}

const fn hint(reason: Refusal) -> &'static str {
    match reason {
        Refusal::Number | Refusal::Reused => {
            "; it was restarted meanwhile, or another bench drives it"
        }
        _ => "",
    }
}
