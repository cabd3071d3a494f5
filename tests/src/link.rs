//! Shared by the checks of the link: a plain encoder of packets that shares no code with the
//! firmware, the frames of a ride, and a board behind a pseudo-terminal.

use firmware::link::{Bits, Hooks, Server};
use firmware::{Cycle, DriveFrame, Parameters, SensorFrame};
use host_sim::design;
use host_sim::floor::FloorSpec;
use host_sim::ride::{self, RideSpec};
use host_sim::rig::Rig;
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use std::fs::File;
use std::path::PathBuf;
use std::sync::OnceLock;

pub mod line;

pub fn parameters() -> &'static Parameters {
    static ONCE: OnceLock<Parameters> = OnceLock::new();
    ONCE.get_or_init(|| {
        let rig = Rig::default_machine().expect("the default rig");
        design::parameters(&rig).expect("parameters")
    })
}

/// Every sensor frame of eight seconds on rough ground, from rest to the active mode.
pub fn ride_frames() -> &'static [SensorFrame] {
    static ONCE: OnceLock<Vec<SensorFrame>> = OnceLock::new();
    ONCE.get_or_init(|| {
        let rig = Rig::default_machine().expect("the default rig");
        let mut spec = RideSpec::on(FloorSpec::named("hauler"));
        (spec.seconds, spec.skip_s) = (8.0, 1.0);
        let mut frames = Vec::new();
        ride::run(&rig, &spec, |sample| {
            frames.push(sample.frame);
            true
        })
        .expect("a ride");
        frames
    })
}

/// CRC-32/ISO-HDLC, one bit at a time, from its parameters: reflected polynomial
/// 0xEDB88320, start and final inversion.
pub fn plain_crc(bytes: &[u8]) -> u32 {
    let mut crc = u32::MAX;
    for byte in bytes {
        crc ^= u32::from(*byte);
        for _ in 0..8 {
            crc = (crc >> 1) ^ if crc & 1 == 1 { 0xEDB8_8320 } else { 0 };
        }
    }
    !crc
}

/// Consistent overhead byte stuffing by its definition: a zero is added at the end, then every
/// run of up to 254 other bytes is preceded by its length and one, and a shorter run swallows the
/// zero after it.
pub fn plain_stuff(bytes: &[u8]) -> Vec<u8> {
    let mut out = Vec::new();
    let mut left = bytes;
    loop {
        let run = left.iter().take(254).take_while(|b| **b != 0).count();
        out.push(run as u8 + 1);
        out.extend(&left[..run]);
        if run == left.len() {
            return out;
        }
        left = &left[run + usize::from(run < 254)..];
        // A zero that is the last byte leaves an empty run, which has its own length byte.
    }
}

/// The packet of a request: a zero; question mark, request and checksum stuffed; a zero.
pub fn plain_packet(request: &[u8]) -> Vec<u8> {
    let mut bytes = [b"?", request].concat();
    bytes.extend(plain_crc(&bytes).to_le_bytes());
    [vec![0], plain_stuff(&bytes), vec![0]].concat()
}

/// A small seeded generator (xorshift64*), for what happens on a line.
pub struct Dice(pub u64);

impl Dice {
    pub fn next(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_F491_4F6C_DD1D)
    }

    pub fn below(&mut self, n: usize) -> usize {
        ((self.next() >> 33) as usize) % n
    }
}

/// The hooks of a board in this process. The cost of a step is made from its frame.
pub struct TestHooks;

impl TestHooks {
    pub fn cost(frame: &SensorFrame) -> u32 {
        70_000 + u32::from(frame.sequence)
    }
}

impl<S: Bits> Hooks<S> for TestHooks {
    fn core(&self) -> &str {
        "a thread of the test"
    }
    fn measure(&mut self, cycle: &mut Cycle<S>, frame: &SensorFrame) -> (DriveFrame, u32) {
        (cycle.step(frame), Self::cost(frame))
    }
    fn stack_bytes(&mut self) -> u32 {
        1234
    }
}

pub fn server<S: Bits>(parameters: &Parameters) -> Server<'_, S> {
    Server::new(parameters).expect("parameters that can be used")
}

/// A new pseudo-terminal: the board's end, and the path of the bench's end.
pub fn terminal() -> (File, PathBuf) {
    let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).expect("a pseudo-terminal");
    grantpt(&master).expect("grant");
    unlockpt(&master).expect("unlock");
    let name = ptsname(&master, Vec::new()).expect("a name");
    let path = PathBuf::from(name.to_str().expect("a plain name"));
    (File::from(master), path)
}
