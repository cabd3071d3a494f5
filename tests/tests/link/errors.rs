//! What the bench says when the other end is silent, different, restarted or gone. Our own rule.

use becalm_tests::link::line::board;
use becalm_tests::link::{TestHooks, parameters, ride_frames, server, terminal};
use firmware::Parameters;
use firmware::link::{
    Answer, Arrival, Hello, Inbox, Packet, Refusal, Reply, Request, VERSION, Way, parameters_crc,
};
use host_sim::link::{DEFAULT_BAUD, LinkError, Patience, RemoteCore};
use std::io::{Read, Write};
use std::os::unix::net::{UnixListener, UnixStream};
use std::path::Path;
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

const QUICK: Patience = Patience {
    answer: Duration::from_millis(50),
    repeats: 3,
};

/// Enough for a busy machine.
const CALM: Patience = Patience {
    answer: Duration::from_secs(2),
    repeats: 3,
};

fn connect(stream: UnixStream, patience: Patience) -> Result<RemoteCore, LinkError> {
    RemoteCore::connect(stream, parameters(), patience)
}

fn error<T>(result: Result<T, LinkError>) -> LinkError {
    match result {
        Ok(_) => panic!("it should have failed"),
        Err(error) => {
            println!("{error}");
            error
        }
    }
}

/// A board that answers each request by `reply`, which gets its number.
fn scripted(
    mut stream: UnixStream,
    reply: impl Fn(u32, &mut Packet) + Send + 'static,
) -> JoinHandle<()> {
    thread::spawn(move || {
        let mut inbox = Inbox::new(Way::ToBoard);
        let mut packet = Packet::empty();
        let mut byte = [0];
        while let Ok(1) = stream.read(&mut byte) {
            let [byte] = byte;
            let Arrival::Message(message) = inbox.push(byte) else {
                continue;
            };
            let number = Request::read(message).expect("a request").number;
            reply(number, &mut packet);
            let _ = stream.write_all(packet.as_bytes());
        }
    })
}

/// Four tries of 50 ms: an error after 0.2 s, and not much later.
#[test]
fn a_silent_board_is_given_up_in_the_stated_time() {
    let (master, path) = terminal();
    let start = Instant::now();
    let found = error(RemoteCore::serial(&path, DEFAULT_BAUD, parameters(), QUICK));
    let took = start.elapsed();
    assert!(took >= Duration::from_millis(200), "{took:?}");
    assert!(took < Duration::from_millis(1200), "{took:?}");
    match found {
        LinkError::NoAnswer {
            request: "hello",
            seconds,
            tries: 4,
            damaged: 0,
        } => assert!((seconds - 0.2).abs() < 1e-9),
        other => panic!("{other:?}"),
    }
    drop(master);
}

/// A board that only talks nonsense is given up in the same time: noise does not prolong the wait.
#[test]
fn noise_does_not_prolong_the_wait() {
    let (bench, mut other) = UnixStream::pair().expect("a pair");
    let noise = thread::spawn(move || {
        let mut sent = 0_u32;
        while other.write_all(&[5, 1, 0, 3]).is_ok() {
            sent += 1;
            thread::sleep(Duration::from_millis(2));
        }
        sent
    });
    let start = Instant::now();
    match error(connect(bench, QUICK)) {
        LinkError::NoAnswer { damaged, .. } => assert!(damaged > 3, "{damaged}"),
        other => panic!("{other:?}"),
    }
    assert!(start.elapsed() < Duration::from_millis(1200));
    assert!(noise.join().expect("the noise") > 3);
}

/// A line that sends everything back: the bench does not take its own request for the answer.
#[test]
fn an_echo_is_no_answer() {
    let (bench, mut other) = UnixStream::pair().expect("a pair");
    thread::spawn(move || {
        let mut board = server::<f32>(parameters());
        let mut byte = [0];
        while let Ok(1) = other.read(&mut byte) {
            let _ = other.write_all(&byte);
            if let Some(reply) = board.receive(byte[0], &mut TestHooks) {
                let _ = other.write_all(reply);
            }
        }
    });
    let mut remote = connect(bench, CALM).expect("a greeting");
    remote.reset().expect("ready");
    let frames = &ride_frames()[..100];
    let answers = remote.steps(frames).expect("steps");
    let mut local = firmware::Cycle::<f32>::new(parameters()).expect("parameters");
    for (frame, answer) in frames.iter().zip(answers) {
        assert_eq!(answer.0, local.step(frame));
    }
    assert_eq!(remote.tally().stale, 0);

    let (bench, mut other) = UnixStream::pair().expect("a pair");
    thread::spawn(move || {
        let mut byte = [0];
        while let Ok(1) = other.read(&mut byte) {
            let _ = other.write_all(&byte);
        }
    });
    let found = error(connect(bench, QUICK));
    assert!(matches!(found, LinkError::NoAnswer { damaged: 0, .. }));
}

/// A greeting of another version is known by its version, whatever follows.
#[test]
fn another_version_is_named() {
    let (bench, other) = UnixStream::pair().expect("a pair");
    scripted(other, |number, packet| {
        assert!(packet.fill(Way::ToBench, &(number, 0_u32, VERSION + 1, [0xFF_u8; 3])));
    });
    match error(connect(bench, CALM)) {
        LinkError::WrongVersion { board, host } => {
            assert_eq!((board, host), (VERSION + 1, VERSION))
        }
        other => panic!("{other:?}"),
    }
}

#[test]
fn other_parameters_are_named_by_both_checksums() {
    let mut changed: Parameters = *parameters();
    changed.isolate.centre_hz = changed.isolate.centre_hz.next_up();
    let changed: &'static Parameters = Box::leak(Box::new(changed));
    let (bench, other) = UnixStream::pair().expect("a pair");
    board::<f32>(other, changed, None);
    let found = error(connect(bench, CALM));
    let text = found.to_string();
    match found {
        LinkError::OtherParameters { board, host } => {
            assert_eq!(board, parameters_crc(changed));
            assert_eq!(host, parameters_crc(parameters()));
            assert!(
                text.contains(&format!("{board:08x}")) && text.contains(&format!("{host:08x}"))
            );
        }
        other => panic!("{other:?}"),
    }
}

/// A peer that closes in the middle of an exchange, over a socket and over a terminal.
#[test]
fn a_peer_that_closes_is_named() {
    let (bench, mut other) = UnixStream::pair().expect("a pair");
    let peer = thread::spawn(move || other.read_exact(&mut [0; 4]));
    match error(connect(bench, CALM)) {
        LinkError::Closed { request: "hello" } => {}
        other => panic!("{other:?}"),
    }
    peer.join().expect("the peer").expect("four bytes");

    let (mut master, path) = terminal();
    // Serves three requests, then leaves in the middle of the fourth.
    let peer = thread::spawn(move || {
        let mut server = server::<f32>(parameters());
        let mut byte = [0];
        let mut replies = 0;
        while replies < 3 {
            master.read_exact(&mut byte).expect("a byte");
            if let Some(reply) = server.receive(byte[0], &mut TestHooks) {
                master.write_all(reply).expect("room");
                replies += 1;
            }
        }
        master.read_exact(&mut [0; 20]).expect("half of a request");
    });
    let mut remote =
        RemoteCore::serial(&path, DEFAULT_BAUD, parameters(), CALM).expect("a greeting");
    remote.reset().expect("ready");
    remote.step(&ride_frames()[0]).expect("a step");
    match error(remote.step(&ride_frames()[1])) {
        LinkError::Closed { request: "steps" } => {}
        other => panic!("{other:?}"),
    }
    peer.join().expect("the peer");
}

/// A board that was restarted does not know the number, and says so.
#[test]
fn a_restarted_board_is_noticed() {
    let (bench, mut other) = UnixStream::pair().expect("a pair");
    thread::spawn(move || {
        let mut board = server::<f32>(parameters());
        let mut replies = 0;
        let mut byte = [0];
        while let Ok(1) = other.read(&mut byte) {
            if let Some(reply) = board.receive(byte[0], &mut TestHooks) {
                let _ = other.write_all(reply);
                replies += 1;
                if replies == 4 {
                    board = server(parameters());
                }
            }
        }
    });
    let mut remote = connect(bench, CALM).expect("a greeting");
    remote.reset().expect("ready");
    remote.step(&ride_frames()[0]).expect("a step");
    remote.step(&ride_frames()[1]).expect("a step");
    match error(remote.step(&ride_frames()[2])) {
        LinkError::Refused {
            request: "steps",
            reason: Refusal::Number,
            sent: 4,
            expected: 1,
        } => {}
        other => panic!("{other:?}"),
    }
}

/// A second bench takes over a running board where it is; a fresh controller only by a reset.
#[test]
fn a_second_bench_may_follow() {
    let dir = std::env::temp_dir().join(format!("becalm-link-{}", std::process::id()));
    std::fs::create_dir_all(&dir).expect("a directory");
    let path = dir.join("board");
    let listener = UnixListener::bind(&path).expect("a socket");
    let serving = thread::spawn(move || {
        let mut board = server::<f32>(parameters());
        for _ in 0..2 {
            let (mut stream, _) = listener.accept().expect("a bench");
            let mut byte = [0];
            while let Ok(1) = stream.read(&mut byte) {
                if let Some(reply) = board.receive(byte[0], &mut TestHooks) {
                    stream.write_all(reply).expect("room");
                }
            }
        }
    });
    for bench in 0..2 {
        let mut remote = RemoteCore::socket(&path, parameters(), CALM).expect("a greeting");
        let before = remote.status().expect("status").steps;
        assert_eq!(before, 40 * bench);
        remote.steps(&ride_frames()[..40]).expect("steps");
    }
    serving.join().expect("the board");
    std::fs::remove_dir_all(&dir).expect("removed");
}

/// A greeting, then an answer of the wrong kind or the wrong length.
#[test]
fn an_answer_that_does_not_fit_is_named() {
    let bad_answers = [
        Answer::Ready,
        Answer::Steps {
            drives: &[0; 8],
            costs: &[0; 4],
        },
        Answer::Steps {
            drives: &[0; 16],
            costs: &[0; 4],
        },
        Answer::Steps {
            drives: &[0; 15],
            costs: &[0; 8],
        },
    ];
    for bad in bad_answers {
        let (bench, other) = UnixStream::pair().expect("a pair");
        scripted(other, move |number, packet| {
            let greeting = Answer::Hello(Hello {
                version: VERSION,
                core: "script",
                arithmetic: "f32",
                parameters: parameters_crc(parameters()),
                step_s: 0.001,
                batch: 32,
                expected: 5,
            });
            let answer = if number == 5 { bad } else { greeting };
            assert!(packet.fill(Way::ToBench, &Reply { number, answer }));
        });
        let mut remote = connect(bench, CALM).expect("a greeting");
        match error(remote.steps(&ride_frames()[..2])) {
            LinkError::Unexpected {
                request: "steps", ..
            } => {}
            other => panic!("{other:?}"),
        }
    }
}

#[test]
fn what_cannot_be_opened_is_named() {
    let path = Path::new("/nonexistent/board");
    for found in [
        error(RemoteCore::socket(path, parameters(), QUICK)),
        error(RemoteCore::serial(path, 9600, parameters(), QUICK)),
    ] {
        assert!(matches!(found, LinkError::Open { .. }));
        assert!(found.to_string().starts_with("/nonexistent/board: "));
    }
}
