//! The law in another core, as the bench sees it.

use super::error::LinkError;
use super::exchange::{Exchange, LinkTally, Patience};
#[cfg(unix)]
use super::wire::open_socket;
use super::wire::{Wire, open_serial};
use firmware::link::{
    Answer, Ask, BATCH, INSIDE, INSIDE_VALUES, PIECE_BYTES, Status, VERSION, parameters_crc,
};
use firmware::{DriveFrame, Parameters, RecorderState, SensorFrame};
use std::path::Path;
use std::time::{SystemTime, UNIX_EPOCH};

/// Who the core said it is.
#[derive(Clone, Debug, PartialEq)]
pub struct CoreHello {
    /// Name of the core, in words.
    pub core: String,
    /// Arithmetic of the law: `f32`, `f64` or `fixed`.
    pub arithmetic: String,
    /// Checksum of its parameter table; the same as the bench's.
    pub parameters: u32,
    /// Control period, s.
    pub step_s: f32,
    /// Largest number of frames in one request.
    pub batch: usize,
    /// The number that the board expects next.
    expected: u32,
}

/// Stage, name and 32-bit pattern of one value, see [`firmware::link::INSIDE`].
pub type InsideValue = (&'static str, &'static str, u32);

/// A controller that runs in another core. It takes one step for each frame, whatever the line
/// does.
pub struct RemoteCore {
    exchange: Exchange,
    hello: CoreHello,
}

impl RemoteCore {
    /// Greets the core behind a wire, and checks that it speaks the same protocol and has
    /// the same parameters. The controller there goes on as it is until [`Self::reset`].
    ///
    /// # Errors
    /// No answer, another version, other parameters, or a line that fails.
    pub fn connect(
        wire: impl Wire + Send + 'static,
        parameters: &Parameters,
        patience: Patience,
    ) -> Result<Self, LinkError> {
        let mut exchange = Exchange::new(Box::new(wire), patience);
        // A number of its own, so that an answer to an earlier bench is not taken for this one's.
        let now = SystemTime::now().duration_since(UNIX_EPOCH);
        exchange.set_number(now.map_or(0, |t| t.subsec_nanos()) ^ std::process::id());
        let hello = exchange.ask(Ask::Hello { version: VERSION }, "a greeting", |answer| {
            let Answer::Hello(hello) = answer else {
                return None;
            };
            Some(CoreHello {
                core: hello.core.to_owned(),
                arithmetic: hello.arithmetic.to_owned(),
                parameters: hello.parameters,
                step_s: hello.step_s,
                batch: usize::from(hello.batch).clamp(1, BATCH),
                expected: hello.expected,
            })
        })?;
        let host = parameters_crc(parameters);
        if hello.parameters != host {
            let board = hello.parameters;
            return Err(LinkError::OtherParameters { board, host });
        }
        exchange.set_number(hello.expected);
        Ok(Self { exchange, hello })
    }

    /// [`Self::connect`] to the Unix-domain socket at `path`.
    ///
    /// # Errors
    /// As there, and when the socket cannot be opened.
    #[cfg(unix)]
    pub fn socket(
        path: &Path,
        parameters: &Parameters,
        patience: Patience,
    ) -> Result<Self, LinkError> {
        Self::connect(open_socket(path)?, parameters, patience)
    }

    /// [`Self::connect`] to the serial device at `path`, `baud` bit/s, 8N1.
    ///
    /// # Errors
    /// As there, and when the device cannot be opened.
    pub fn serial(
        path: &Path,
        baud: u32,
        parameters: &Parameters,
        patience: Patience,
    ) -> Result<Self, LinkError> {
        Self::connect(open_serial(path, baud)?, parameters, patience)
    }

    /// Who the core said it is.
    #[must_use]
    pub const fn hello(&self) -> &CoreHello {
        &self.hello
    }

    /// What happened on the line so far.
    #[must_use]
    pub const fn tally(&self) -> LinkTally {
        self.exchange.tally
    }

    /// A new controller, from the core's own parameter table.
    ///
    /// # Errors
    /// As every exchange: no answer, refused, closed, or a line that fails.
    pub fn reset(&mut self) -> Result<(), LinkError> {
        self.exchange.ask(Ask::Reset, "`ready`", |a| match a {
            Answer::Ready => Some(()),
            _ => None,
        })
    }

    /// One control period.
    ///
    /// # Errors
    /// As every exchange. Afterwards it is not known whether the step was made.
    pub fn step(&mut self, frame: &SensorFrame) -> Result<DriveFrame, LinkError> {
        let answers = self.batch(core::slice::from_ref(frame))?;
        answers
            .first()
            .map(|(drive, _)| *drive)
            .ok_or(LinkError::Unexpected {
                request: "steps",
                expected: STEPS,
            })
    }

    /// One control period for each frame; the answers with what each cost, in instructions
    /// or cycles as the core counts them, zero where it does not.
    ///
    /// # Errors
    /// As every exchange. Afterwards it is not known how many steps were made.
    pub fn steps(&mut self, frames: &[SensorFrame]) -> Result<Vec<(DriveFrame, u32)>, LinkError> {
        let mut answers = Vec::with_capacity(frames.len());
        for batch in frames.chunks(self.hello.batch) {
            answers.extend(self.batch(batch)?);
        }
        Ok(answers)
    }

    fn batch(&mut self, frames: &[SensorFrame]) -> Result<Vec<(DriveFrame, u32)>, LinkError> {
        let bytes: Vec<u8> = frames.iter().flat_map(|f| f.to_bytes()).collect();
        self.exchange
            .ask(Ask::Steps { frames: &bytes }, STEPS, |answer| {
                let Answer::Steps { drives, costs } = answer else {
                    return None;
                };
                let (drives, drives_rest) = drives.as_chunks();
                let (costs, costs_rest) = costs.as_chunks();
                let whole = drives_rest.is_empty() && costs_rest.is_empty();
                if !whole || drives.len() != frames.len() || costs.len() != frames.len() {
                    return None;
                }
                let pairs = drives.iter().zip(costs);
                let pair = |(d, c): (&[u8; 8], &[u8; 4])| {
                    (DriveFrame::from_bytes(*d), u32::from_le_bytes(*c))
                };
                Some(pairs.map(pair).collect())
            })
    }

    /// Makes one step, and tells what it saw and decided.
    ///
    /// # Errors
    /// As every exchange.
    pub fn inside(&mut self, frame: &SensorFrame) -> Result<Vec<InsideValue>, LinkError> {
        let frame = frame.to_bytes();
        let ask = Ask::Inside { frame: &frame };
        self.exchange.ask(ask, "all values", |answer| {
            let Answer::Inside { values } = answer else {
                return None;
            };
            let (values, rest) = values.as_chunks();
            let whole = values.len() == INSIDE_VALUES && rest.is_empty();
            let named = INSIDE.iter().zip(values);
            whole.then(|| {
                named
                    .map(|((stage, name), v)| (*stage, *name, u32::from_le_bytes(*v)))
                    .collect()
            })
        })
    }

    /// How the board is.
    ///
    /// # Errors
    /// As every exchange.
    pub fn status(&mut self) -> Result<Status, LinkError> {
        self.exchange
            .ask(Ask::Status, "the board's status", |answer| match answer {
                Answer::Status(status) => Some(*status),
                _ => None,
            })
    }

    /// How its flight recorder is.
    ///
    /// # Errors
    /// As every exchange.
    pub fn recorder(&mut self) -> Result<RecorderState, LinkError> {
        self.exchange
            .ask(Ask::Recorder, "the recorder's state", |a| match a {
                Answer::Recorder(state) => Some(*state),
                _ => None,
            })
    }

    /// The whole frozen recording of `bytes` bytes, piece by piece; `done` hears how many are there and may stop by
    /// returning false, which leaves the recording short.
    ///
    /// # Errors
    /// As every exchange; refused unless a recording is frozen.
    pub fn recording(
        &mut self,
        bytes: u32,
        mut done: impl FnMut(u32) -> bool,
    ) -> Result<Vec<u8>, LinkError> {
        let mut all = Vec::with_capacity(bytes as usize);
        while (all.len() as u32) < bytes {
            let offset = all.len() as u32;
            let expected = PIECE_BYTES.min((bytes - offset) as usize);
            let piece = self.exchange.ask(
                Ask::Piece { offset },
                "a piece of the recording",
                |a| match a {
                    Answer::Piece { bytes } if bytes.len() == expected => Some(bytes.to_vec()),
                    _ => None,
                },
            )?;
            all.extend(piece);
            if !done(all.len() as u32) {
                break;
            }
        }
        Ok(all)
    }

    /// Lets the frozen recording go; the recorder records again.
    ///
    /// # Errors
    /// As every exchange; refused unless a recording is frozen.
    pub fn release(&mut self) -> Result<(), LinkError> {
        self.exchange.ask(Ask::Release, "`ready`", |a| match a {
            Answer::Ready => Some(()),
            _ => None,
        })
    }
}

const STEPS: &str = "one answer for each frame";
