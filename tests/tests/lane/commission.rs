//! The commissioning test on a board: as a task, it puts the safe state out first and lets the law be armed
//! only by a machine that agrees with its table; on the emulated cores it gives the same bits as on the host.

use firmware::{Board, Commission, CommissionTask, DriveFrame, Parameters, SensorFrame};
use host_sim::commission::{Spec, Wrong, run};
use host_sim::cores::{BoardKind, Emulator};
use host_sim::design;
use host_sim::rig::Rig;
use std::collections::VecDeque;

fn rig() -> Rig {
    Rig::default_machine().expect("the default rig")
}

fn parameters() -> Parameters {
    design::parameters(&rig()).expect("parameters")
}

/// The frames of a whole test of one machine.
fn frames(wrong: Option<Wrong>) -> Vec<SensorFrame> {
    let mut frames = Vec::new();
    let spec = Spec {
        wrong,
        ..Spec::of(3)
    };
    let done = run(&rig(), &spec, |_, frame| frames.push(*frame)).expect("a run");
    assert_eq!(done.commission.may_arm(), wrong.is_none());
    frames
}

/// A board that plays frames and keeps what is put out.
struct Player {
    frames: VecDeque<SensorFrame>,
    period: u32,
    put_out: Vec<DriveFrame>,
    refreshes: u32,
}

impl Board for Player {
    fn sample(&mut self) -> SensorFrame {
        self.frames.pop_front().unwrap_or_default()
    }
    fn apply(&mut self, drive: &DriveFrame) -> bool {
        self.put_out.push(*drive);
        true
    }
    fn period(&mut self) -> u32 {
        self.period
    }
    fn refresh_watchdog(&mut self) {
        self.refreshes += 1;
        self.period += 1;
    }
}

#[test]
fn only_a_machine_that_agrees_may_be_armed() {
    for (wrong, may_arm) in [(None, true), (Some(Wrong::TravelSign), false)] {
        let frames = frames(wrong);
        let mut commission = Commission::new(&parameters()).expect("a test");
        let direct: Vec<DriveFrame> = frames.iter().map(|f| commission.step(f)).collect();
        let first = u32::from(frames[0].sequence);
        let count = frames.len();
        let mut board = Player {
            frames: frames.into(),
            period: first,
            put_out: Vec::new(),
            refreshes: 0,
        };
        let mut task = CommissionTask::start(&mut board, &parameters()).expect("a task");
        assert_eq!(board.put_out, [DriveFrame::SAFE]);
        for n in 0..count {
            assert_eq!(task.finished(), None, "ended at step {n}");
            task.tick(&mut board);
        }
        assert_eq!(task.finished(), Some(may_arm), "{wrong:?}");
        assert_eq!(board.refreshes as usize, count);
        assert!(board.put_out[1..] == direct[..], "{wrong:?}");
        // It stays in the safe state.
        for _ in 0..100 {
            let drive = task.tick(&mut board);
            assert!(
                !drive.has(DriveFrame::ENABLE) && drive.current_command == 0,
                "{drive:?}"
            );
        }
    }
}

#[test]
fn emulated_cores_find_the_same() {
    let Some(images) = becalm_tests::lane::images() else {
        return;
    };
    for wrong in [None, Some(Wrong::SeatPolarity)] {
        let frames = frames(wrong);
        let mut commission = Commission::new(&parameters()).expect("a test");
        let host: Vec<DriveFrame> = frames.iter().map(|f| commission.step(f)).collect();
        assert!(host.iter().any(|d| d.has(DriveFrame::ENABLE)), "it drives");
        for board in BoardKind::ALL {
            let batch = Emulator::batch_of("commission", board, &images, &frames).expect("a batch");
            let differs = host.iter().zip(&batch.steps).position(|(a, b)| *a != b.0);
            assert_eq!(differs, None, "{} {wrong:?}", board.name());
            let most = batch.steps.iter().map(|s| s.1).max();
            println!(
                "{}: {} steps, at most {most:?} instructions",
                board.name(),
                host.len()
            );
        }
    }
}
