//! What the flight recorder keeps: the newest blocks, the first fault and no other, until it is released; and that a
//! controller goes on from every block with the bits that the machine's own gave. Our own rules, checked by brute force
//! against everything that went in and came out.

use becalm_tests::recorder::{FAILS, Ridden, Small, frames, parameters, plain_crc};
use firmware::{
    Cycle, DriveFrame, Fault, Faults, Marks, Mode, Phase, Recorded, Recorder, SNAPSHOT_WORDS,
    SensorFrame,
};
use host_sim::flight::{FlightFile, FlightReplay};
use proptest::prelude::{ProptestConfig, any};
use proptest::{prop_assert, prop_assert_eq, proptest};
use shared_math::Q24;
use std::path::Path;

/// The first period in which a fault stands that did not stand in the one before.
fn first_fault(drives: &[DriveFrame]) -> usize {
    let new = drives
        .windows(2)
        .position(|w| w[1].faults & !w[0].faults != 0);
    new.expect("a fault") + 1
}

/// Every block's frames are those that went in at its place, and a controller that goes on from its snapshot gives what
/// came out, to the end of the recording.
fn every_block_goes_on<S: Recorded>(
    file: &FlightFile,
    frames: &[SensorFrame],
    drives: &[DriveFrame],
) -> Result<(), String> {
    let mut at = file.given_up as usize;
    let end = at + file.frames();
    for (n, block) in file.blocks.iter().enumerate() {
        let next = at + block.frames.len();
        if block.frames != frames[at..next] {
            return Err(format!("block {n}: other frames"));
        }
        let bytes: Vec<u8> = drives[at..next].iter().flat_map(|d| d.to_bytes()).collect();
        if block.answers != plain_crc(&bytes) {
            return Err(format!("block {n}: other answers"));
        }
        let mut cycle = Cycle::<S>::new(parameters()).expect("a cycle");
        if !cycle.load(&block.snapshot) {
            return Err(format!("block {n}: a snapshot of another length"));
        }
        for k in at..end {
            if cycle.step(&frames[k]) != drives[k] {
                return Err(format!("from block {n}: another answer to frame {k}"));
            }
        }
        at = next;
    }
    Ok(())
}

fn a_fault_is_recorded<S: Recorded>() {
    let ridden = Ridden::<S, 6, 100>::new().all(frames());
    let fault = first_fault(&ridden.drives);
    assert!(fault > FAILS && fault < FAILS + 100, "{fault}");
    assert_eq!(ridden.drives[fault - 1].mode, Mode::Active.code());
    let file = ridden.file();
    // By hand: frames are kept in blocks of 100; the fault's block and two after it close the recording.
    let end = (fault / 100 + 3) * 100;
    assert_eq!(file.given_up as usize + file.frames(), end);
    assert_eq!(file.frames(), 600);
    assert_eq!(file.given_up as usize + file.fault_frame(), fault);
    assert_eq!(file.fault_at, (3, fault % 100));
    assert!(file.faults.has(Fault::Travel), "{:?}", file.faults);
    every_block_goes_on::<S>(&file, &ridden.frames, &ridden.drives).expect("the same bits");
    // And as the bench does it.
    let replay = FlightReplay::run::<S>(&file, parameters(), Path::new("x"), |_| {}).expect("it");
    assert_eq!(replay.differences, []);
    let kept = &ridden.drives[end - 600..end];
    let bytes: Vec<u8> = kept.iter().flat_map(|d| d.to_bytes()).collect();
    assert_eq!(replay.digest, plain_crc(&bytes));
    // The changes are those of the answers.
    let mut changes = vec![kept[0]];
    changes.extend(
        kept.windows(2)
            .filter(|w| (w[0].mode, w[0].faults) != (w[1].mode, w[1].faults))
            .map(|w| w[1]),
    );
    assert!(changes.len() > 1);
    let found = replay.changes.iter().map(|c| (c.mode, c.faults));
    let expected = changes
        .iter()
        .map(|d| (Mode::from_code(d.mode), Faults(d.faults)));
    assert!(found.eq(expected), "{:?}", replay.changes);
}

#[test]
fn a_fault_is_recorded_single_precision() {
    a_fault_is_recorded::<f32>();
}

#[test]
fn a_fault_is_recorded_fixed_point() {
    a_fault_is_recorded::<Q24>();
}

#[test]
fn the_first_fault_and_no_other_freezes_it_until_it_is_released() {
    let mut ridden = Ridden::<f32, 6, 100>::new();
    let mut seen = [None; 4];
    for (n, frame) in frames().iter().enumerate() {
        let mut frame = *frame;
        // A second fault soon after the first, and a third when the recording is frozen.
        if n > FAILS + 100 {
            frame.marks.0 |= Marks::FLOOR_ACCEL;
        }
        if n > FAILS + 1000 {
            frame.marks.0 |= Marks::CURRENT;
        }
        ridden.step(&frame);
        let place = match ridden.state().phase {
            Phase::Idle => 0,
            Phase::Recording => 1,
            Phase::Closing => 2,
            Phase::Frozen => 3,
        };
        seen[place].get_or_insert(n);
    }
    let fault = first_fault(&ridden.drives);
    let frozen = (fault / 100 + 3) * 100 - 1;
    assert_eq!(seen, [None, Some(0), Some(fault), Some(frozen)]);
    let faults = Faults(ridden.drives.last().expect("one").faults);
    assert!(
        faults.has(Fault::FloorAccel) && faults.has(Fault::Current),
        "{faults:?}"
    );
    let first = ridden.file();
    assert!(!first.faults.has(Fault::FloorAccel));
    assert_eq!(first.given_up as usize + first.fault_frame(), fault);
    // A new controller does not touch it either.
    let new = Cycle::<f32>::new(parameters()).expect("a cycle");
    ridden.recorder.begin(&new);
    assert_eq!(ridden.file(), first);

    assert!(ridden.recorder.release());
    assert!(!ridden.recorder.release(), "there is none any more");
    assert_eq!(ridden.state().phase, Phase::Recording);
    assert_eq!(ridden.recorder.read(0, &mut [0; 8]), None);
    // The faults that stand are not new; the next one is, and the frames are those since the release.
    (ridden.frames, ridden.drives) = (Vec::new(), Vec::new());
    for n in 0..700 {
        let mut frame = frames()[FAILS + 1100];
        frame.marks = Marks(Marks::TRAVEL | Marks::FLOOR_ACCEL | Marks::CURRENT);
        frame.sequence = frame.sequence.wrapping_add(n);
        if n > 200 {
            frame.marks.0 |= Marks::SUPPLY;
        }
        ridden.step(&frame);
    }
    let second = ridden.file();
    // The state is taken after the first of them.
    let (frames, drives) = (&ridden.frames[1..], &ridden.drives[1..]);
    assert_eq!(
        second.given_up as usize + second.fault_frame(),
        first_fault(drives)
    );
    assert!(!second.faults.has(Fault::Travel) && second.faults.any());
    every_block_goes_on::<f32>(&second, frames, drives).expect("the same bits");
}

/// A recording that has its fault ends with its controller; one that has none is forgotten.
#[test]
fn a_new_controller_ends_a_recording() {
    let mut ridden = Ridden::<f32, 6, 100>::new().all(&frames()[..500]);
    let new = Cycle::<f32>::new(parameters()).expect("a cycle");
    ridden.recorder.begin(&new);
    assert_eq!(
        (ridden.state().phase, ridden.state().frames),
        (Phase::Recording, 0)
    );

    let mut ridden = Ridden::<f32, 6, 100>::new();
    let mut frames = frames().iter();
    while ridden.state().phase != Phase::Closing {
        ridden.step(frames.next().expect("a fault"));
    }
    ridden.recorder.begin(&new);
    assert_eq!(ridden.state().phase, Phase::Frozen);
    let file = ridden.file();
    assert_eq!(file.given_up as usize + file.frames(), ridden.frames.len());
    assert_eq!(file.fault_frame() + 1, file.frames());
    every_block_goes_on::<f32>(&file, &ridden.frames, &ridden.drives).expect("the same bits");
}

/// A recorder that was not begun does nothing; one without a fault goes on for ever and gives nothing out.
#[test]
fn without_a_fault_nothing_is_frozen() {
    let mut recorder = Box::<Small>::default();
    let mut cycle = Cycle::<f32>::new(parameters()).expect("a cycle");
    let drive = cycle.step(&frames()[0]);
    recorder.note(&cycle, &frames()[0], &drive);
    assert_eq!(recorder.state().phase, Phase::Idle);
    assert!(!recorder.release());

    let ridden = Ridden::<f32, 6, 100>::new().all(&frames()[..FAILS]);
    let state = ridden.state();
    assert_eq!(
        (state.phase, state.bytes, state.faults),
        (Phase::Recording, 0, 0)
    );
    // The oldest of six blocks is given up for a new one.
    assert_eq!(state.frames as usize, 500 + FAILS % 100);
    assert_eq!(state.room, 600);
    assert_eq!(ridden.recorder.read(0, &mut [0; 64]), None);
}

/// The formula of the documentation, here with the two words of a length on this host.
#[test]
fn it_takes_the_stated_memory() {
    const fn stated(blocks: usize, frames: usize) -> usize {
        blocks * (16 * frames + 4 * SNAPSHOT_WORDS + 8) + 40
    }
    // A length and the alignment take up to 8 bytes more in a block than on a core of 32 bits.
    let more = |blocks: usize| 8 * blocks + 8;
    for (blocks, frames, bytes) in [
        (3, 1, size_of::<Recorder<3, 1>>()),
        (6, 100, size_of::<Small>()),
        (8, 512, size_of::<Recorder<8, 512>>()),
    ] {
        let least = stated(blocks, frames);
        println!("{blocks} blocks of {frames}: {least} bytes");
        assert!(
            bytes >= least && bytes <= least + more(blocks),
            "{bytes} {least}"
        );
    }
}

/// Pieces of any length from any word are parts of the whole.
#[test]
fn pieces_are_parts_of_the_whole() {
    let ridden = Ridden::<f32, 6, 100>::new().all(frames());
    let whole = ridden.image();
    assert_eq!(whole.len(), 4 * (8 + 6 * (2 + SNAPSHOT_WORDS + 400)));
    for length in [4, 8, 12, 100, 512, 4096] {
        for offset in (0..whole.len()).step_by(44) {
            let mut piece = vec![0xEE; length];
            let filled = ridden
                .recorder
                .read(offset as u32, &mut piece)
                .expect("a piece");
            assert_eq!(filled, length.min(whole.len() - offset));
            assert_eq!(piece[..filled], whole[offset..offset + filled]);
        }
    }
    for offset in [1, 2, 3, whole.len() as u32, u32::MAX - 3] {
        assert_eq!(ridden.recorder.read(offset, &mut [0; 8]), None, "{offset}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]
    /// Whatever the frames are, every block goes on with the same bits: a healthy start, so that the law drives, then
    /// frames of any bits between healthy ones.
    #[test]
    fn any_frames_are_recorded(
        start in 2_usize..4000,
        noise in proptest::collection::vec((any::<[u8; 16]>(), 1_usize..40), 1..40),
        fixed in any::<bool>(),
    ) {
        let healthy = frames();
        let mut all = healthy[..start].to_vec();
        for (bytes, count) in noise {
            all.push(SensorFrame::from_bytes(bytes));
            let from = all.len() % 4000;
            all.extend(&healthy[from..from + count]);
        }
        // Whatever it was, a fault comes.
        let silent = |frame: &SensorFrame| SensorFrame { marks: Marks(0x3F), ..*frame };
        all.extend(healthy[..400].iter().map(silent));
        let (file, frames, drives) = if fixed {
            let ridden = Ridden::<Q24, 5, 64>::new().all(&all);
            (ridden.file(), ridden.frames, ridden.drives)
        } else {
            let ridden = Ridden::<f32, 5, 64>::new().all(&all);
            (ridden.file(), ridden.frames, ridden.drives)
        };
        let fault = first_fault(&drives);
        prop_assert_eq!(file.given_up as usize + file.fault_frame(), fault);
        // At least two blocks before the fault's where there were as many, and two after it.
        prop_assert!(file.fault_frame() >= fault.min(2 * 64));
        prop_assert!(file.frames() - file.fault_frame() > 2 * 64);
        let same = if fixed {
            every_block_goes_on::<Q24>(&file, &frames, &drives)
        } else {
            every_block_goes_on::<f32>(&file, &frames, &drives)
        };
        prop_assert_eq!(same, Ok(()));
    }
}
