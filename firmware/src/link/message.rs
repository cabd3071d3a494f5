//! What is said on the link.
//!
//! The order of the fields and of the variants is the order on the wire: postcard writes
//! the variant's position, then the fields, unsigned numbers wider than a byte as varints.

use crate::recorder::RecorderState;
use serde::{Deserialize, Serialize};

/// From the bench to the board.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Request<'a> {
    /// Number of the exchange; the answer repeats it.
    pub number: u32,
    /// What is asked.
    #[serde(borrow)]
    pub ask: Ask<'a>,
}

impl<'a> Request<'a> {
    /// The request in a message. Bytes after its end are allowed only after [`Ask::Hello`].
    ///
    /// # Errors
    /// When the message is no request of this version; gives its number, or zero when
    /// it has none.
    pub fn read(message: &'a [u8]) -> Result<Self, u32> {
        match postcard::take_from_bytes::<Self>(message) {
            Ok((request, rest)) if rest.is_empty() || matches!(request.ask, Ask::Hello { .. }) => {
                Ok(request)
            }
            _ => Err(postcard::take_from_bytes(message).map_or(0, |(number, _)| number)),
        }
    }
}

/// What a bench asks of a board.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Ask<'a> {
    /// Who is there? Any number is right; nothing on the board changes. The one request
    /// whose form no later version may change, except by more fields at its end.
    Hello {
        /// The bench's [`crate::link::VERSION`].
        version: u16,
    },
    /// A new controller, from the board's own parameter table.
    Reset,
    /// One control period for each frame.
    Steps {
        /// 1 to [`crate::link::BATCH`] sensor frames, each as [`crate::SensorFrame::to_bytes`].
        frames: &'a [u8],
    },
    /// Make one step, and tell what it saw and decided.
    Inside {
        /// The sensor frame of the step, [`crate::SensorFrame::BYTES`] bytes.
        frame: &'a [u8],
    },
    /// How is the board?
    Status,
    /// How is the flight recorder?
    Recorder,
    /// A piece of the frozen recording. The same piece may be asked for any number of times.
    Piece {
        /// Where it begins, bytes; a multiple of 4.
        offset: u32,
    },
    /// Lets the frozen recording go; the recorder records again.
    Release,
}

/// From the board to the bench.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Reply<'a> {
    /// Number of the exchange that is answered.
    pub number: u32,
    /// The answer.
    #[serde(borrow)]
    pub answer: Answer<'a>,
}

impl<'a> Reply<'a> {
    /// The reply in a message; `None` when it is no reply of this version.
    #[must_use]
    pub fn read(message: &'a [u8]) -> Option<Self> {
        match postcard::take_from_bytes::<Self>(message) {
            Ok((reply, [])) => Some(reply),
            _ => None,
        }
    }

    /// Exchange number and version of an answer to [`Ask::Hello`], of any version.
    #[must_use]
    pub fn version(message: &[u8]) -> Option<(u32, u16)> {
        match postcard::take_from_bytes::<(u32, u32, u16)>(message) {
            Ok(((number, 0, version), _)) => Some((number, version)),
            _ => None,
        }
    }
}

/// What a board answers.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub enum Answer<'a> {
    /// To [`Ask::Hello`]. The version always comes first, in any version.
    #[serde(borrow)]
    Hello(Hello<'a>),
    /// To [`Ask::Reset`]: the controller is new. To [`Ask::Release`]: the recorder records again.
    Ready,
    /// To [`Ask::Steps`]: one entry for each frame, in order.
    Steps {
        /// Drive frames, each as [`crate::DriveFrame::to_bytes`].
        drives: &'a [u8],
        /// What each step cost, in instructions or cycles as the board counts them; four
        /// bytes each, little-endian; zero where it was not measured.
        costs: &'a [u8],
    },
    /// To [`Ask::Inside`].
    Inside {
        /// Four bytes each, little-endian, in the order of [`crate::link::INSIDE`].
        values: &'a [u8],
    },
    /// To [`Ask::Status`].
    Status(Status),
    /// The request was not obeyed; nothing changed, but for the number where [`Refusal::takes_number`].
    Refused(Refused),
    /// To [`Ask::Recorder`].
    Recorder(RecorderState),
    /// To [`Ask::Piece`].
    Piece {
        /// [`crate::link::PIECE_BYTES`] bytes, or fewer where the recording ends.
        bytes: &'a [u8],
    },
}

/// Who the board is.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Hello<'a> {
    /// The board's [`crate::link::VERSION`].
    pub version: u16,
    /// Name of the core, in words.
    pub core: &'a str,
    /// Arithmetic of the law: [`crate::link::Bits::ARITHMETIC`].
    pub arithmetic: &'a str,
    /// [`crate::link::parameters_crc`] of the board's parameter table.
    pub parameters: u32,
    /// Control period, s.
    pub step_s: f32,
    /// Largest number of frames that the board takes in one request.
    pub batch: u16,
    /// The number that the board expects of the next request other than `Hello`.
    pub expected: u32,
}

/// How the board is. Counts stop at their largest value.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Status {
    /// Deepest stack since the board's start, bytes; zero when it is not measured.
    pub stack_bytes: u32,
    /// Steps since the last reset of the controller.
    pub steps: u32,
    /// Packets dropped since the board's start: a wrong checksum, bad stuffing, too long.
    pub damaged: u32,
    /// Requests refused since the board's start.
    pub refused: u32,
    /// Requests since the board's start that were answered again from memory.
    pub repeated: u32,
}

/// Why the request was not obeyed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Refused {
    /// The reason.
    pub reason: Refusal,
    /// The number that the board expects of the next request other than `Hello`.
    pub expected: u32,
}

/// Reasons to refuse, by their position on the wire.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Refusal {
    /// The checksum is right, but this is no request of this version.
    Unreadable,
    /// Neither the expected number nor the last one.
    Number,
    /// The last number again, but another request.
    Reused,
    /// No frames, too many, or not a whole number of them.
    Frames,
    /// The parameter table cannot be used.
    Parameters,
    /// No recording is frozen.
    NotFrozen,
    /// The frozen recording has no such piece.
    Offset,
    /// The law runs by the board's own clock: it is not stepped or reset from here.
    Running,
}

impl Refusal {
    /// Whether the refused request has used its number up, as one that is obeyed: what was understood but cannot be
    /// done now might be done later, so that a late copy of it must not count, nor a late copy of this refusal.
    #[must_use]
    pub const fn takes_number(self) -> bool {
        matches!(self, Self::NotFrozen | Self::Offset | Self::Running)
    }
}

impl core::fmt::Display for Refusal {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(match self {
            Self::Unreadable => "it cannot read the request",
            Self::Number => "the exchange number is wrong",
            Self::Reused => "the exchange number was used for another request",
            Self::Frames => "the number of frames is wrong",
            Self::Parameters => "its parameter table cannot be used",
            Self::NotFrozen => "no recording is frozen",
            Self::Offset => "the recording has no such piece",
            Self::Running => "the law runs by the board's own clock",
        })
    }
}
