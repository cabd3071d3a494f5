//! The board's end of the link.

use super::inside::{Bits, inside_bits};
use super::message::{Answer, Ask, Hello, Refusal, Refused, Reply, Request, Status};
use super::packet::{Arrival, Inbox, Packet, Way, crc32, parameters_crc};
use super::{BATCH, CORE_NAME_BYTES, PIECE_BYTES, VERSION};
use crate::check::BuildError;
use crate::cycle::Cycle;
use crate::frame::{DriveFrame, SensorFrame};
use crate::parameters::Parameters;
use crate::recorder::{Phase, Recording};

/// What only the board knows.
pub trait Hooks<S: Bits> {
    /// Name of the core, at most [`CORE_NAME_BYTES`].
    fn core(&self) -> &str;

    /// Makes one step and says what it cost, in instructions or cycles; zero when that
    /// is not measured. It must call [`Cycle::step`] once and return its answer.
    fn measure(&mut self, cycle: &mut Cycle<S>, frame: &SensorFrame) -> (DriveFrame, u32) {
        (cycle.step(frame), 0)
    }

    /// Deepest stack so far, bytes; zero when it is not measured.
    fn stack_bytes(&mut self) -> u32 {
        0
    }

    /// The board's flight recorder, if it has one. A server of a bench shows it every step; the port calls
    /// [`Recording::begin`] for the first controller ([`Server::cycle`]), the server for those after it.
    fn recorder(&mut self) -> Option<&mut dyn Recording<S>> {
        None
    }
}

/// Takes bytes, steps the law when asked, gives the bytes to send back.
///
/// Every request but `Hello` carries the number that the server expects, which then rises by one
/// and wraps. The same request with the same number again gets the same answer again, without a
/// step. Every other number is refused. A packet that arrives damaged is dropped and counted. So
/// whatever the line loses, repeats or swaps, each frame is stepped once and in order.
#[derive(Debug)]
pub struct Server<'p, S> {
    inbox: Inbox,
    desk: Desk<'p, S>,
}

/// All of the server but the bytes that arrive.
#[derive(Debug)]
struct Desk<'p, S> {
    parameters: &'p Parameters,
    parameters_crc: u32,
    cycle: Cycle<S>,
    /// The law is stepped from the other end, not by a task.
    lockstep: bool,
    expected: u32,
    /// Checksum of the request that was obeyed last.
    last: Option<u32>,
    status: Status,
    /// The answer to the request that was obeyed last.
    kept: Packet,
    /// Any other answer.
    passing: Packet,
}

impl<'p, S: Bits> Server<'p, S> {
    /// A server with a new controller.
    ///
    /// # Errors
    /// When a parameter cannot be used; the error names it.
    pub fn new(parameters: &'p Parameters) -> Result<Self, BuildError> {
        Ok(Self {
            inbox: Inbox::new(Way::ToBoard),
            desk: Desk {
                parameters,
                parameters_crc: parameters_crc(parameters),
                cycle: Cycle::new(parameters)?,
                lockstep: true,
                expected: 1,
                last: None,
                status: Status::default(),
                kept: Packet::empty(),
                passing: Packet::empty(),
            },
        })
    }

    /// A server beside a [`crate::Task`], which steps the law by its own clock: it tells how the board is and gives
    /// out the flight recorder, and refuses to step or reset anything. Its own controller rests.
    ///
    /// # Errors
    /// When a parameter cannot be used; the error names it.
    pub fn beside_task(parameters: &'p Parameters) -> Result<Self, BuildError> {
        let mut server = Self::new(parameters)?;
        server.desk.lockstep = false;
        Ok(server)
    }

    /// Takes one byte; the bytes to send back when it completed a request.
    pub fn receive(&mut self, byte: u8, hooks: &mut impl Hooks<S>) -> Option<&[u8]> {
        match self.inbox.push(byte) {
            Arrival::Nothing => None,
            Arrival::Damaged => {
                count(&mut self.desk.status.damaged);
                None
            }
            Arrival::Message(message) => Some(self.desk.handle(message, hooks).as_bytes()),
        }
    }

    /// The controller, to look into.
    #[must_use]
    pub const fn cycle(&self) -> &Cycle<S> {
        &self.desk.cycle
    }
}

impl<S: Bits> Desk<'_, S> {
    fn handle(&mut self, message: &[u8], hooks: &mut impl Hooks<S>) -> &Packet {
        let Request { number, ask } = match Request::read(message) {
            Ok(request) => request,
            Err(number) => return self.refuse(number, Refusal::Unreadable),
        };
        if let Ask::Hello { .. } = ask {
            return self.greet(number, hooks.core());
        }
        let sum = crc32(message);
        if let Some(last) = self.last
            && number == self.expected.wrapping_sub(1)
        {
            if last != sum {
                return self.refuse(number, Refusal::Reused);
            }
            count(&mut self.status.repeated);
            return &self.kept;
        }
        if number != self.expected {
            return self.refuse(number, Refusal::Number);
        }
        let refused = self.obey(number, ask, hooks).err();
        if let Some(reason) = refused
            && !reason.takes_number()
        {
            return self.refuse(number, reason);
        }
        self.expected = self.expected.wrapping_add(1);
        if let Some(reason) = refused {
            count(&mut self.status.refused);
            let expected = self.expected;
            let answer = Answer::Refused(Refused { reason, expected });
            self.kept.fill(Way::ToBench, &Reply { number, answer });
        }
        self.last = Some(sum);
        &self.kept
    }

    /// Does what is asked and keeps the answer; nothing of the law or the recorder has changed when it is refused.
    fn obey(
        &mut self,
        number: u32,
        ask: Ask<'_>,
        hooks: &mut impl Hooks<S>,
    ) -> Result<(), Refusal> {
        if !self.lockstep && matches!(ask, Ask::Steps { .. } | Ask::Reset | Ask::Inside { .. }) {
            return Err(Refusal::Running);
        }
        match ask {
            Ask::Steps { frames } => self.steps(number, frames, hooks)?,
            Ask::Reset => {
                self.cycle = Cycle::new(self.parameters).map_err(|_| Refusal::Parameters)?;
                self.status.steps = 0;
                if let Some(recorder) = hooks.recorder() {
                    recorder.begin(&self.cycle);
                }
                let answer = Answer::Ready;
                self.kept.fill(Way::ToBench, &Reply { number, answer });
            }
            Ask::Inside { frame } => {
                let frame = frame.try_into().map_err(|_| Refusal::Frames)?;
                let frame = SensorFrame::from_bytes(frame);
                let (drive, inside) = self.cycle.watch(&frame);
                count(&mut self.status.steps);
                if let Some(recorder) = hooks.recorder() {
                    recorder.note(&self.cycle, &frame, &drive);
                }
                let values = inside_bits(&inside).map(u32::to_le_bytes);
                let answer = Answer::Inside {
                    values: values.as_flattened(),
                };
                self.kept.fill(Way::ToBench, &Reply { number, answer });
            }
            Ask::Status => {
                self.status.stack_bytes = hooks.stack_bytes();
                let answer = Answer::Status(self.status);
                self.kept.fill(Way::ToBench, &Reply { number, answer });
            }
            Ask::Recorder => {
                let state = hooks.recorder().map(|recorder| recorder.state());
                let answer = Answer::Recorder(state.unwrap_or_default());
                self.kept.fill(Way::ToBench, &Reply { number, answer });
            }
            Ask::Piece { offset } => {
                let recorder = hooks.recorder().ok_or(Refusal::NotFrozen)?;
                if recorder.state().phase != Phase::Frozen {
                    return Err(Refusal::NotFrozen);
                }
                let mut piece = [0; PIECE_BYTES];
                let filled = recorder.read(offset, &mut piece).ok_or(Refusal::Offset)?;
                let bytes = piece.get(..filled).ok_or(Refusal::Offset)?;
                let answer = Answer::Piece { bytes };
                self.kept.fill(Way::ToBench, &Reply { number, answer });
            }
            Ask::Release => {
                let released = hooks.recorder().is_some_and(|recorder| recorder.release());
                if !released {
                    return Err(Refusal::NotFrozen);
                }
                let answer = Answer::Ready;
                self.kept.fill(Way::ToBench, &Reply { number, answer });
            }
            // Answered before it comes here: it takes no number.
            Ask::Hello { .. } => return Err(Refusal::Unreadable),
        }
        Ok(())
    }

    fn steps(
        &mut self,
        number: u32,
        frames: &[u8],
        hooks: &mut impl Hooks<S>,
    ) -> Result<(), Refusal> {
        let (frames, rest) = frames.as_chunks::<{ SensorFrame::BYTES }>();
        if frames.is_empty() || frames.len() > BATCH || !rest.is_empty() {
            return Err(Refusal::Frames);
        }
        let mut drives = [[0; DriveFrame::BYTES]; BATCH];
        let mut costs = [[0; 4]; BATCH];
        for ((frame, drive), cost) in frames.iter().zip(&mut drives).zip(&mut costs) {
            let frame = SensorFrame::from_bytes(*frame);
            let (answer, spent) = hooks.measure(&mut self.cycle, &frame);
            if let Some(recorder) = hooks.recorder() {
                recorder.note(&self.cycle, &frame, &answer);
            }
            *drive = answer.to_bytes();
            *cost = spent.to_le_bytes();
            count(&mut self.status.steps);
        }
        let drives = drives.get(..frames.len()).ok_or(Refusal::Frames)?;
        let costs = costs.get(..frames.len()).ok_or(Refusal::Frames)?;
        let answer = Answer::Steps {
            drives: drives.as_flattened(),
            costs: costs.as_flattened(),
        };
        self.kept.fill(Way::ToBench, &Reply { number, answer });
        Ok(())
    }

    fn greet(&mut self, number: u32, core: &str) -> &Packet {
        let end = core.floor_char_boundary(CORE_NAME_BYTES);
        let answer = Answer::Hello(Hello {
            version: VERSION,
            core: core.get(..end).unwrap_or(""),
            arithmetic: S::ARITHMETIC,
            parameters: self.parameters_crc,
            step_s: self.parameters.timing.step_s,
            batch: BATCH as u16,
            expected: self.expected,
        });
        self.passing.fill(Way::ToBench, &Reply { number, answer });
        &self.passing
    }

    fn refuse(&mut self, number: u32, reason: Refusal) -> &Packet {
        count(&mut self.status.refused);
        let answer = Answer::Refused(Refused {
            reason,
            expected: self.expected,
        });
        self.passing.fill(Way::ToBench, &Reply { number, answer });
        &self.passing
    }
}

fn count(n: &mut u32) {
    *n = n.saturating_add(1);
}
