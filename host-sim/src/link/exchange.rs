//! One request, one answer, with time-outs and repeats.

use super::error::LinkError;
use super::wire::Wire;
use firmware::link::{Answer, Arrival, Ask, Inbox, Packet, Reply, Request, VERSION, Way};
use std::io;
use std::time::{Duration, Instant};

/// How long the bench waits, and how often it asks again.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Patience {
    /// Time for one answer, the transmission of both packets included.
    pub answer: Duration,
    /// How often a request is repeated after the first try.
    pub repeats: u32,
}

impl Default for Patience {
    /// 1 s, 5 repeats: enough for a full batch at 19 200 bit/s.
    fn default() -> Self {
        Self {
            answer: Duration::from_secs(1),
            repeats: 5,
        }
    }
}

/// What happened on the line so far.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct LinkTally {
    /// Requests that got their answer.
    pub exchanges: u64,
    /// Requests sent again.
    pub repeats: u64,
    /// Packets that came damaged.
    pub damaged: u64,
    /// Answers to something else, such as a late answer to an earlier try.
    pub stale: u64,
}

/// The asking end of the link.
pub(super) struct Exchange {
    wire: Box<dyn Wire + Send>,
    patience: Patience,
    inbox: Inbox,
    packet: Packet,
    number: u32,
    pub(super) tally: LinkTally,
}

impl Exchange {
    pub(super) fn new(wire: Box<dyn Wire + Send>, patience: Patience) -> Self {
        Self {
            wire,
            patience,
            inbox: Inbox::new(Way::ToBench),
            packet: Packet::empty(),
            number: 0,
            tally: LinkTally::default(),
        }
    }

    /// The number of the next request.
    pub(super) fn set_number(&mut self, number: u32) {
        self.number = number;
    }

    /// Sends a request until its answer comes. `read` takes the answer apart; `None` when
    /// it is not what was expected.
    pub(super) fn ask<T>(
        &mut self,
        ask: Ask<'_>,
        expected: &'static str,
        read: impl Fn(&Answer<'_>) -> Option<T>,
    ) -> Result<T, LinkError> {
        let request = name(&ask);
        let number = self.number;
        // More frames than fit are cut into batches before they come here.
        if !self.packet.fill(Way::ToBoard, &Request { number, ask }) {
            return Err(LinkError::Unexpected { request, expected });
        }
        let damaged_before = self.tally.damaged;
        for attempt in 0..=self.patience.repeats {
            self.tally.repeats += u64::from(attempt > 0);
            let deadline = Instant::now() + self.patience.answer;
            match self.wire.send(self.packet.as_bytes()) {
                Ok(()) => {}
                Err(e) if is_slow(&e) => continue,
                Err(e) => return Err(failed(request, e)),
            }
            if let Some(answer) = self.listen(request, expected, deadline, &read)? {
                self.number = number.wrapping_add(1);
                self.tally.exchanges += 1;
                return Ok(answer);
            }
        }
        let tries = self.patience.repeats.saturating_add(1);
        Err(LinkError::NoAnswer {
            request,
            seconds: self.patience.answer.as_secs_f64() * f64::from(tries),
            tries,
            damaged: (self.tally.damaged - damaged_before) as u32,
        })
    }

    /// The answer, or `None` when it has not come by the deadline.
    fn listen<T>(
        &mut self,
        request: &'static str,
        expected: &'static str,
        deadline: Instant,
        read: impl Fn(&Answer<'_>) -> Option<T>,
    ) -> Result<Option<T>, LinkError> {
        let number = self.number;
        let mut bytes = [0; 1024];
        loop {
            let left = deadline.saturating_duration_since(Instant::now());
            if left.is_zero() {
                return Ok(None);
            }
            let count = match self.wire.receive(&mut bytes, left) {
                Ok(count) => count,
                Err(e) => return Err(failed(request, e)),
            };
            for byte in bytes.iter().take(count) {
                let message = match self.inbox.push(*byte) {
                    Arrival::Nothing => continue,
                    Arrival::Damaged => {
                        self.tally.damaged += 1;
                        continue;
                    }
                    Arrival::Message(message) => message,
                };
                match Reply::version(message) {
                    Some((n, board)) if n == number && board != VERSION => {
                        return Err(LinkError::WrongVersion {
                            board,
                            host: VERSION,
                        });
                    }
                    _ => {}
                }
                match Reply::read(message) {
                    Some(reply) if reply.number == number => {
                        return match reply.answer {
                            Answer::Refused(no) => {
                                if no.reason.takes_number() {
                                    self.number = number.wrapping_add(1);
                                }
                                Err(LinkError::Refused {
                                    request,
                                    reason: no.reason,
                                    sent: number,
                                    expected: no.expected,
                                })
                            }
                            answer => read(&answer)
                                .map(Some)
                                .ok_or(LinkError::Unexpected { request, expected }),
                        };
                    }
                    _ => self.tally.stale += 1,
                }
            }
        }
    }
}

/// Name of a request in errors.
const fn name(ask: &Ask<'_>) -> &'static str {
    match ask {
        Ask::Hello { .. } => "hello",
        Ask::Reset => "reset",
        Ask::Steps { .. } => "steps",
        Ask::Inside { .. } => "inside",
        Ask::Status => "status",
        Ask::Recorder => "recorder",
        Ask::Piece { .. } => "piece",
        Ask::Release => "release",
    }
}

/// Whether the line just takes no bytes at the moment.
fn is_slow(e: &io::Error) -> bool {
    matches!(
        e.kind(),
        io::ErrorKind::TimedOut | io::ErrorKind::WouldBlock
    )
}

fn failed(request: &'static str, source: io::Error) -> LinkError {
    use io::ErrorKind::{BrokenPipe, ConnectionAborted, ConnectionReset, NotConnected};
    // What a serial device gives when its other end, or the device itself, is gone.
    const EIO: i32 = 5;
    let kind = source.kind();
    if matches!(
        kind,
        io::ErrorKind::UnexpectedEof
            | BrokenPipe
            | ConnectionAborted
            | ConnectionReset
            | NotConnected
    ) || source.raw_os_error() == Some(EIO)
    {
        LinkError::Closed { request }
    } else {
        LinkError::Io { request, source }
    }
}
