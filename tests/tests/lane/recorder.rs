//! The flight recorder on the emulated cores: read out over the link after a fault, the host goes on from every block
//! with the bits that the core gave. Our own rule.

use becalm_tests::recorder::{frames, parameters};
use firmware::{Cycle, DriveFrame, Fault, Phase, Recorded};
use host_sim::cores::{self, BoardKind, CoreKind};
use host_sim::flight::{FlightFile, FlightReplay};
use host_sim::ride::Arithmetic;
use shared_math::Q24;
use std::path::Path;

fn same_bits<S: Recorded>(file: &FlightFile, answers: &[DriveFrame]) {
    let replay =
        FlightReplay::run::<S>(file, parameters(), Path::new("x"), |_| {}).expect("a replay");
    assert_eq!(replay.differences, []);
    let mut at = file.given_up as usize;
    for block in &file.blocks {
        let mut cycle = Cycle::<S>::new(parameters()).expect("a cycle");
        assert!(cycle.load(&block.snapshot));
        for frame in &block.frames {
            assert_eq!(cycle.step(frame), answers[at], "frame {at}");
            at += 1;
        }
    }
}

#[test]
fn a_recording_of_a_core_replays_on_the_host() {
    let Some(images) = becalm_tests::lane::images() else {
        return;
    };
    for board in BoardKind::ALL {
        let kind = CoreKind::Board(board);
        let mut core = cores::connect(&kind, &images, parameters())
            .expect("a core")
            .expect("a board");
        let steps = core.remote.steps(frames()).expect("steps");
        let answers: Vec<DriveFrame> = steps.into_iter().map(|s| s.0).collect();
        let state = core.remote.recorder().expect("a state");
        assert_eq!((state.phase, state.room), (Phase::Frozen, 4096), "{board}");
        let image = core.remote.recording(state.bytes, |_| true).expect("it");
        let file = FlightFile::from_recorder(image, parameters(), Path::new("x")).expect("it");
        assert_eq!(file.arithmetic, board.arithmetic());
        assert!(file.faults.has(Fault::Travel));
        let new = answers
            .windows(2)
            .position(|w| w[1].faults & !w[0].faults != 0);
        let fault = file.given_up as usize + file.fault_frame();
        assert_eq!(Some(fault), new.map(|n| n + 1), "{board}");
        match board.arithmetic() {
            Arithmetic::Fixed => same_bits::<Q24>(&file, &answers),
            _ => same_bits::<f32>(&file, &answers),
        }
        core.remote.release().expect("released");
        assert_eq!(
            core.remote.recorder().expect("a state").phase,
            Phase::Recording
        );
        println!("{board}: {} frames, bit-identical", file.frames());
    }
}
