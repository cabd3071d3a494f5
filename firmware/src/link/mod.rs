//! The lockstep link: a bench drives the law that runs in another core, frame by frame.
//!
//! A strict exchange of one request and one answer over any byte stream. The board never
//! speaks first. Messages are encoded with postcard, closed by a CRC-32, framed by COBS; see
//! [`Request`], [`Reply`] and [`Packet`]. `docs/link.md` describes the bytes.
//!
//! Requests are numbered, so that an answer lost on the way can be asked for again without a second
//! step: see [`Server`].

mod inside;
mod message;
mod packet;
mod server;

pub use inside::{Bits, INSIDE, INSIDE_VALUES, inside_bits};
pub use message::{Answer, Ask, Hello, Refusal, Refused, Reply, Request, Status};
pub use packet::{Arrival, Inbox, MESSAGE_BYTES, PACKET_BYTES, Packet, Way, crc32, parameters_crc};
pub use server::{Hooks, Server};

/// Version of the protocol. Any change of a message, of the order of [`INSIDE`] or of the
/// framing raises it.
pub const VERSION: u16 = 3;

/// Largest number of sensor frames in one request.
pub const BATCH: usize = 32;

/// Largest piece of a recording in one answer, bytes: what a request full of frames takes the other way.
pub const PIECE_BYTES: usize = BATCH * crate::SensorFrame::BYTES;

/// Longest name of a core on the link, bytes of UTF-8; a longer one is cut.
pub const CORE_NAME_BYTES: usize = 64;
