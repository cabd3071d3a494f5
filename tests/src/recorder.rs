//! Shared by the tests of the flight recorder: the frames of a ride with a fault, and a recorder that was driven by
//! them, with all that the law answered.

use firmware::{
    Cycle, DriveFrame, Marks, Parameters, Recorded, Recorder, RecorderState, SensorFrame,
};
use host_sim::design;
use host_sim::flight::FlightFile;
use host_sim::floor::FloorSpec;
use host_sim::ride::{self, RideSpec};
use host_sim::rig::Rig;
use std::path::Path;
use std::sync::OnceLock;

/// A small recorder: six blocks of 100 frames, two of them after the fault's.
pub type Small = Recorder<6, 100>;

/// The frame from which on the travel sensor gives no value.
pub const FAILS: usize = 4321;

pub fn parameters() -> &'static Parameters {
    static ONCE: OnceLock<Parameters> = OnceLock::new();
    ONCE.get_or_init(|| {
        let rig = Rig::default_machine().expect("the default rig");
        design::parameters(&rig).expect("parameters")
    })
}

/// Seven seconds on rough ground, from rest to the active mode; from [`FAILS`] on without travel.
pub fn frames() -> &'static [SensorFrame] {
    static ONCE: OnceLock<Vec<SensorFrame>> = OnceLock::new();
    ONCE.get_or_init(|| {
        let rig = Rig::default_machine().expect("the default rig");
        let mut spec = RideSpec::on(FloorSpec::named("hauler"));
        (spec.seconds, spec.skip_s) = (7.0, 1.0);
        let mut frames = Vec::new();
        ride::run(&rig, &spec, |sample| {
            frames.push(sample.frame);
            true
        })
        .expect("a ride");
        for frame in &mut frames[FAILS..] {
            frame.marks.0 |= Marks::TRAVEL;
        }
        frames
    })
}

/// What went in and came out, and the recorder that saw it.
pub struct Ridden<S, const BLOCKS: usize, const FRAMES: usize> {
    pub cycle: Cycle<S>,
    pub recorder: Box<Recorder<BLOCKS, FRAMES>>,
    pub frames: Vec<SensorFrame>,
    pub drives: Vec<DriveFrame>,
}

impl<S: Recorded, const BLOCKS: usize, const FRAMES: usize> Ridden<S, BLOCKS, FRAMES> {
    pub fn new() -> Self {
        let cycle = Cycle::new(parameters()).expect("a cycle");
        let mut recorder = Box::<Recorder<BLOCKS, FRAMES>>::default();
        recorder.begin(&cycle);
        Self {
            cycle,
            recorder,
            frames: Vec::new(),
            drives: Vec::new(),
        }
    }

    pub fn step(&mut self, frame: &SensorFrame) {
        let drive = self.cycle.step(frame);
        self.recorder.note(&self.cycle, frame, &drive);
        self.frames.push(*frame);
        self.drives.push(drive);
    }

    pub fn all(mut self, frames: &[SensorFrame]) -> Self {
        for frame in frames {
            self.step(frame);
        }
        self
    }

    pub fn state(&self) -> RecorderState {
        self.recorder.state()
    }

    /// The frozen recording.
    pub fn image(&self) -> Vec<u8> {
        let mut image = vec![0; self.state().bytes as usize];
        assert_eq!(self.recorder.read(0, &mut image), Some(image.len()));
        assert!(!image.is_empty(), "nothing is frozen");
        image
    }

    pub fn file(&self) -> FlightFile {
        FlightFile::from_recorder(self.image(), parameters(), Path::new("the recorder"))
            .expect("a recording")
    }
}

/// CRC-32/ISO-HDLC, one bit at a time.
pub fn plain_crc(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(u32::MAX, |crc, byte| {
        (0..8).fold(crc ^ u32::from(*byte), |c, _| {
            (c >> 1) ^ if c & 1 == 1 { 0xEDB8_8320 } else { 0 }
        })
    })
}
