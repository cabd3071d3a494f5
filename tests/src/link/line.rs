//! A board in a thread of this process, behind a line that may be bad.

use super::{Dice, TestHooks, server};
use firmware::Parameters;
use firmware::link::{Bits, Hooks, Server};
use std::io::{Read, Write};
use std::thread::{self, JoinHandle};

/// What a bad line did to the packets of both directions.
#[derive(Clone, Copy, Debug, Default)]
pub struct Harm {
    pub dropped: u32,
    pub corrupted: u32,
    pub shortened: u32,
    pub repeated: u32,
    pub swapped: u32,
}

/// One direction of a line that drops, corrupts, shortens, repeats and reorders packets.
pub struct BadLine {
    dice: Dice,
    held: Option<(Vec<u8>, u32)>,
    pub harm: Harm,
}

impl BadLine {
    pub fn new(seed: u64) -> Self {
        Self {
            dice: Dice(seed),
            held: None,
            harm: Harm::default(),
        }
    }

    /// What comes out when `packet` goes in: 40 % of the packets suffer.
    pub fn pass(&mut self, packet: &[u8]) -> Vec<Vec<u8>> {
        let mut packet = packet.to_vec();
        let mut out = Vec::new();
        match self.dice.below(100) {
            0..8 => self.harm.dropped += 1,
            8..16 => {
                let at = self.dice.below(packet.len());
                packet[at] ^= 1 << self.dice.below(8);
                self.harm.corrupted += 1;
                out.push(packet);
            }
            16..24 => {
                // A byte is lost, perhaps a zero at an end.
                packet.remove(self.dice.below(packet.len()));
                self.harm.shortened += 1;
                out.push(packet);
            }
            24..32 => {
                self.harm.repeated += 1;
                out.push(packet.clone());
                out.push(packet);
            }
            32..40 if self.held.is_none() => {
                // Comes out one to three packets later.
                self.held = Some((packet, 1 + self.dice.below(3) as u32));
                self.harm.swapped += 1;
                return out;
            }
            _ => out.push(packet),
        }
        match &mut self.held {
            Some((_, left)) if *left > 1 => *left -= 1,
            Some(_) => out.extend(self.held.take().map(|h| h.0)),
            None => {}
        }
        out
    }
}

/// Serves the link on `stream` until the other end closes it. With a seed, both directions are bad.
pub fn board<S: Bits>(
    stream: impl Read + Write + Send + 'static,
    parameters: &'static Parameters,
    seed: Option<u64>,
) -> JoinHandle<[Harm; 2]> {
    let begin = || (server::<S>(parameters), TestHooks);
    board_with(stream, seed, begin)
}

/// The same with the server and hooks of `begin`.
pub fn board_with<S: Bits, H: Hooks<S>>(
    mut stream: impl Read + Write + Send + 'static,
    seed: Option<u64>,
    begin: impl FnOnce() -> (Server<'static, S>, H) + Send + 'static,
) -> JoinHandle<[Harm; 2]> {
    thread::spawn(move || {
        let (mut server, mut hooks) = begin();
        let mut lines = seed.map(|s| [BadLine::new(s), BadLine::new(s ^ 0x9E37_79B9_7F4A_7C15)]);
        let mut packet = Vec::new();
        let mut bytes = [0; 600];
        // A pseudo-terminal whose other end has closed gives an error, a socket gives nothing.
        while let Ok(count @ 1..) = stream.read(&mut bytes) {
            for byte in &bytes[..count] {
                let Some([there, back]) = &mut lines else {
                    if let Some(reply) = server.receive(*byte, &mut hooks) {
                        let _ = stream.write_all(reply);
                    }
                    continue;
                };
                packet.push(*byte);
                if *byte != 0 || packet.len() == 1 {
                    continue;
                }
                for passed in there.pass(&std::mem::take(&mut packet)) {
                    for byte in passed {
                        if let Some(reply) = server.receive(byte, &mut hooks) {
                            for passed in back.pass(reply) {
                                let _ = stream.write_all(&passed);
                            }
                        }
                    }
                }
            }
        }
        lines.map_or([Harm::default(); 2], |l| l.map(|line| line.harm))
    })
}
