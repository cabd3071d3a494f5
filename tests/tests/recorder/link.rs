//! A recording over the link: whole and the same on a good line and on a bad one, repeatable, released once; beside a
//! task nothing can be stepped. Our own rules.

use becalm_tests::link::line::board_with;
use becalm_tests::link::terminal;
use becalm_tests::recorder::{Ridden, Small, frames, parameters};
use firmware::link::{
    Answer, Arrival, Ask, Bits, Hooks, Inbox, Packet, Refusal, Reply, Request, Server, Way,
};
use firmware::{
    Board, Cycle, DriveFrame, Marks, Phase, Recorded, Recorder, Recording, SensorFrame, Switches,
    Task,
};
use host_sim::flight::{FlightFile, FlightReplay};
use host_sim::link::{DEFAULT_BAUD, LinkError, Patience, RemoteCore};
use shared_math::Q24;
use std::path::Path;
use std::time::Duration;

/// Short waits, many repeats: a lost packet costs little.
const BUSY: Patience = Patience {
    answer: Duration::from_millis(10),
    repeats: 200,
};

/// The hooks of a board with a recorder.
struct WithRecorder<const BLOCKS: usize, const FRAMES: usize>(Box<Recorder<BLOCKS, FRAMES>>);

impl<S: Bits + Recorded, const BLOCKS: usize, const FRAMES: usize> Hooks<S>
    for WithRecorder<BLOCKS, FRAMES>
{
    fn core(&self) -> &str {
        "a thread with a recorder"
    }
    fn recorder(&mut self) -> Option<&mut dyn Recording<S>> {
        Some(&mut *self.0)
    }
}

fn refusal<T>(answer: Result<T, LinkError>) -> Refusal {
    match answer {
        Err(LinkError::Refused { reason, .. }) => reason,
        Err(other) => panic!("{other}"),
        Ok(_) => panic!("not refused"),
    }
}

/// Steps the board through the frames over the link, reads its recording out and compares it with one made here.
fn read_out<S: Bits + Recorded>(patience: Patience, seed: Option<u64>) {
    let (master, path) = terminal();
    let thread = board_with::<S, _>(master, seed, || {
        let server = Server::<S>::new(parameters()).expect("a server");
        let mut recorder = Box::<Small>::default();
        recorder.begin(server.cycle());
        (server, WithRecorder(recorder))
    });
    let mut remote = RemoteCore::serial(&path, DEFAULT_BAUD, parameters(), patience).expect("it");
    // Something to forget.
    remote.steps(&frames()[..250]).expect("steps");
    remote.reset().expect("ready");
    assert_eq!(refusal(remote.recording(4, |_| true)), Refusal::NotFrozen);
    assert_eq!(refusal(remote.release()), Refusal::NotFrozen);
    let mut local = Ridden::<S, 6, 100>::new();
    // Now and then a step that is looked into: it is recorded like any other.
    for part in frames().chunks(97) {
        let (first, rest) = part.split_first().expect("a frame");
        remote.inside(first).expect("values");
        remote.steps(rest).expect("steps");
        for frame in part {
            local.step(frame);
        }
        assert_eq!(remote.recorder().expect("a state"), local.state());
    }
    let state = remote.recorder().expect("a state");
    assert_eq!(state.phase, Phase::Frozen);
    let first = remote.recording(state.bytes, |_| true).expect("it");
    let again = remote.recording(state.bytes, |_| true).expect("it");
    assert_eq!(first, local.image());
    assert_eq!(again, first);
    let file = FlightFile::from_recorder(first, parameters(), Path::new("x")).expect("a file");
    let replay = FlightReplay::run::<S>(&file, parameters(), Path::new("x"), |_| {}).expect("it");
    assert_eq!(replay.differences, []);
    // A reset of the controller leaves what is frozen; a release does not, and the next recording begins.
    remote.reset().expect("ready");
    assert_eq!(remote.recorder().expect("a state").phase, Phase::Frozen);
    remote.release().expect("released");
    assert_eq!(refusal(remote.release()), Refusal::NotFrozen);
    remote.steps(&frames()[..31]).expect("steps");
    let state = remote.recorder().expect("a state");
    assert_eq!((state.phase, state.frames), (Phase::Recording, 30));
    let tally = remote.tally();
    drop(remote);
    let harm = thread.join().expect("the board's thread");
    println!("{seed:?}: {tally:?} {harm:?}");
    if seed.is_some() {
        assert!(tally.repeats > 20 && tally.damaged > 5, "{tally:?}");
        for way in harm {
            assert!(
                way.dropped > 5 && way.corrupted > 5 && way.swapped > 5,
                "{way:?}"
            );
        }
    }
}

#[test]
fn a_good_line() {
    read_out::<f32>(Patience::default(), None);
}

#[test]
fn a_good_line_fixed_point() {
    read_out::<Q24>(Patience::default(), None);
}

#[test]
fn a_bad_line() {
    read_out::<f32>(BUSY, Some(5));
}

#[test]
fn another_bad_line_fixed_point() {
    read_out::<Q24>(BUSY, Some(6));
}

/// A board of which the travel sensor falls silent; frames of the ride, again and again.
struct Machine {
    period: u32,
    put_out: Vec<DriveFrame>,
}

impl Board for Machine {
    fn sample(&mut self) -> SensorFrame {
        frames()[self.period as usize % frames().len()]
    }
    fn apply(&mut self, drive: &DriveFrame) -> bool {
        self.put_out.push(*drive);
        true
    }
    fn period(&mut self) -> u32 {
        self.period
    }
    fn refresh_watchdog(&mut self) {}
}

/// The recorder of a task, read out by a server beside it that cannot touch the law; with the answers that the task gave
/// without one.
#[test]
fn beside_a_task() {
    let start = || {
        let mut machine = Machine {
            period: 0,
            put_out: Vec::new(),
        };
        let task = Task::<f32>::start(&mut machine, parameters()).expect("a task");
        (task, machine)
    };
    let (mut plain, mut beside) = (start(), start());
    let mut recorder = Box::<Small>::default();
    recorder.begin(beside.0.cycle());
    for _ in 0..frames().len() {
        let drive = plain.0.tick(&mut plain.1);
        assert_eq!(beside.0.tick_recorded(&mut beside.1, &mut recorder), drive);
        plain.1.period += 1;
        beside.1.period += 1;
    }
    assert_eq!(plain.1.put_out, beside.1.put_out);
    assert!(
        beside
            .1
            .put_out
            .iter()
            .any(|d| d.mode == firmware::Mode::Active.code())
    );
    let switched = |f: &SensorFrame| f.switches.has(Switches::ARM) && f.marks.any_of(Marks::TRAVEL);
    assert!(frames().iter().any(switched));

    let (master, path) = terminal();
    let thread = board_with::<f32, _>(master, None, move || {
        let server = Server::<f32>::beside_task(parameters()).expect("a server");
        (server, WithRecorder(recorder))
    });
    let patience = Patience::default();
    let mut remote = RemoteCore::serial(&path, DEFAULT_BAUD, parameters(), patience).expect("it");
    assert_eq!(refusal(remote.reset()), Refusal::Running);
    assert_eq!(refusal(remote.step(&frames()[0])), Refusal::Running);
    assert_eq!(refusal(remote.inside(&frames()[0])), Refusal::Running);
    assert_eq!(remote.status().expect("a status").steps, 0);
    let state = remote.recorder().expect("a state");
    let image = remote.recording(state.bytes, |_| true).expect("it");
    let file = FlightFile::from_recorder(image, parameters(), Path::new("x")).expect("a file");
    // The first answer of all is the safe state before the first period.
    let answers = &beside.1.put_out[1..];
    let mut at = file.given_up as usize;
    for block in &file.blocks {
        let mut cycle = Cycle::<f32>::new(parameters()).expect("a cycle");
        assert!(cycle.load(&block.snapshot));
        for frame in &block.frames {
            assert_eq!(cycle.step(frame), answers[at], "frame {at}");
            at += 1;
        }
    }
    remote.release().expect("released");
    drop(remote);
    thread.join().expect("the board's thread");
}

/// One request to a server; its answer as bytes on the wire.
fn ask(
    server: &mut Server<'_, f32>,
    hooks: &mut WithRecorder<6, 100>,
    number: u32,
    ask: Ask<'_>,
) -> Vec<u8> {
    let mut packet = Packet::empty();
    assert!(packet.fill(Way::ToBoard, &Request { number, ask }));
    let mut answer = Vec::new();
    for byte in packet.as_bytes() {
        answer.extend(server.receive(*byte, hooks).unwrap_or(&[]));
    }
    answer
}

/// Hands the answer in the bytes to `look`.
fn read<T>(bytes: &[u8], look: impl FnOnce(Answer<'_>) -> T) -> T {
    let mut inbox = Inbox::new(Way::ToBench);
    for byte in bytes {
        if let Arrival::Message(message) = inbox.push(*byte) {
            return look(Reply::read(message).expect("a reply").answer);
        }
    }
    panic!("no message in {bytes:02x?}");
}

fn refused(bytes: &[u8]) -> (Refusal, u32) {
    read(bytes, |answer| match answer {
        Answer::Refused(refused) => (refused.reason, refused.expected),
        other => panic!("{other:?}"),
    })
}

/// A piece that is not there is refused, which takes a number; the refusal is repeated like any answer.
#[test]
fn pieces_that_are_not_there() {
    let ridden = Ridden::<f32, 6, 100>::new().all(frames());
    let end = ridden.state().bytes;
    let mut server = Server::<f32>::new(parameters()).expect("a server");
    let mut hooks = WithRecorder(ridden.recorder);
    let beyond = [1, 2, 3, 513, end, end + 4, u32::MAX];
    for (number, offset) in (1..).zip(beyond) {
        let piece = Ask::Piece { offset };
        let answer = ask(&mut server, &mut hooks, number, piece);
        assert_eq!(refused(&answer), (Refusal::Offset, number + 1), "{offset}");
        assert_eq!(ask(&mut server, &mut hooks, number, piece), answer);
    }
    let number = 1 + beyond.len() as u32;
    let answer = ask(
        &mut server,
        &mut hooks,
        number,
        Ask::Piece { offset: end - 8 },
    );
    let bytes = read(&answer, |answer| match answer {
        Answer::Piece { bytes } => bytes.len(),
        other => panic!("{other:?}"),
    });
    assert_eq!(bytes, 8);
}

/// A release that was refused, as nothing was frozen, comes once more when something is: it lets nothing go.
#[test]
fn a_late_copy_of_a_refused_release_does_nothing() {
    let mut ridden = Ridden::<f32, 6, 100>::new();
    let mut server = Server::<f32>::beside_task(parameters()).expect("a server");
    let empty = Box::<Small>::default();
    let mut hooks = WithRecorder(core::mem::replace(&mut ridden.recorder, empty));
    let first = ask(&mut server, &mut hooks, 1, Ask::Release);
    assert_eq!(refused(&first), (Refusal::NotFrozen, 2));
    // The task goes on beside the server, and a fault comes.
    core::mem::swap(&mut hooks.0, &mut ridden.recorder);
    let mut ridden = ridden.all(frames());
    core::mem::swap(&mut hooks.0, &mut ridden.recorder);
    assert_eq!(hooks.0.state().phase, Phase::Frozen);
    assert_eq!(ask(&mut server, &mut hooks, 1, Ask::Release), first);
    assert_eq!(hooks.0.state().phase, Phase::Frozen);
    let released = ask(&mut server, &mut hooks, 2, Ask::Release);
    assert!(read(&released, |answer| answer == Answer::Ready));
    assert_eq!(hooks.0.state().phase, Phase::Recording);
}

/// A board without a recorder says so.
#[test]
fn a_board_without_one() {
    let (master, path) = terminal();
    let thread = becalm_tests::link::line::board::<f32>(master, parameters(), None);
    let patience = Patience::default();
    let mut remote = RemoteCore::serial(&path, DEFAULT_BAUD, parameters(), patience).expect("it");
    assert_eq!(remote.recorder().expect("a state"), Default::default());
    assert_eq!(refusal(remote.recording(4, |_| true)), Refusal::NotFrozen);
    assert_eq!(refusal(remote.release()), Refusal::NotFrozen);
    drop(remote);
    thread.join().expect("the board's thread");
}
