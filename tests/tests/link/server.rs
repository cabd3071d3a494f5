//! The board's end alone: what steps the law and what does not. Our own rule.

use becalm_tests::link::{Dice, TestHooks, parameters, plain_packet, ride_frames, server};
use firmware::link::{
    Answer, Arrival, Ask, BATCH, INSIDE_VALUES, Inbox, Packet, Refusal, Refused, Reply, Request,
    Server, Status, VERSION, Way, inside_bits,
};
use firmware::{Cycle, SensorFrame};

/// Feeds bytes; the last reply, as bytes on the wire.
fn feed(server: &mut Server<'_, f32>, bytes: &[u8]) -> Option<Vec<u8>> {
    let mut last = None;
    for byte in bytes {
        if let Some(reply) = server.receive(*byte, &mut TestHooks) {
            last = Some(reply.to_vec());
        }
    }
    last
}

fn packet(number: u32, ask: Ask<'_>) -> Vec<u8> {
    let mut packet = Packet::empty();
    assert!(packet.fill(Way::ToBoard, &Request { number, ask }));
    packet.as_bytes().to_vec()
}

fn ask(server: &mut Server<'_, f32>, number: u32, ask: Ask<'_>) -> Vec<u8> {
    feed(server, &packet(number, ask)).expect("a reply")
}

/// Hands the reply in the bytes to `look`.
fn read<T>(bytes: &[u8], look: impl FnOnce(Reply<'_>) -> T) -> T {
    let mut inbox = Inbox::new(Way::ToBench);
    for byte in bytes {
        if let Arrival::Message(message) = inbox.push(*byte) {
            return look(Reply::read(message).expect("a reply"));
        }
    }
    panic!("no message in {bytes:02x?}");
}

fn refusal(bytes: &[u8]) -> (u32, Refused) {
    read(bytes, |reply| match reply.answer {
        Answer::Refused(refused) => (reply.number, refused),
        other => panic!("not refused: {other:?}"),
    })
}

fn status(server: &mut Server<'_, f32>, number: u32) -> Status {
    read(&ask(server, number, Ask::Status), |reply| {
        match reply.answer {
            Answer::Status(status) => status,
            other => panic!("no status: {other:?}"),
        }
    })
}

fn frame_bytes(count: usize) -> Vec<u8> {
    let frames = &ride_frames()[..count];
    frames.iter().flat_map(|f| f.to_bytes()).collect()
}

/// What a controller would see in one more step, always the same one.
fn state(cycle: &Cycle<f32>) -> [u32; INSIDE_VALUES] {
    inside_bits(&cycle.clone().watch(&ride_frames()[4321]).1)
}

/// The state of the server's controller, once it has made a step.
fn bits(server: &Server<'_, f32>) -> Option<[u32; INSIDE_VALUES]> {
    let now = state(server.cycle());
    let fresh = Cycle::new(parameters()).expect("parameters");
    (now != state(&fresh)).then_some(now)
}

#[test]
fn a_repeated_request_is_answered_again_without_a_step() {
    let mut server = server::<f32>(parameters());
    let frames = frame_bytes(3);
    let steps = Ask::Steps { frames: &frames };
    let first = ask(&mut server, 1, steps);
    let after = bits(&server);
    for _ in 0..3 {
        assert_eq!(ask(&mut server, 1, steps), first);
        // Refusals and greetings in between do not touch the kept answer.
        assert_eq!(refusal(&ask(&mut server, 9, steps)).1.expected, 2);
        ask(&mut server, 77, Ask::Hello { version: VERSION });
    }
    assert_eq!(bits(&server), after);
    let status = status(&mut server, 2);
    assert_eq!((status.steps, status.repeated, status.refused), (3, 3, 3));
    let mut local = Cycle::<f32>::new(parameters()).expect("parameters");
    for frame in &ride_frames()[..3] {
        local.step(frame);
    }
    assert_eq!(after, Some(state(&local)));
}

#[test]
fn a_wrong_number_is_refused_with_the_right_one() {
    let mut server = server::<f32>(parameters());
    let frames = frame_bytes(1);
    let steps = Ask::Steps { frames: &frames };
    for number in [0, 2, 3, u32::MAX] {
        for ask_now in [
            steps,
            Ask::Reset,
            Ask::Inside { frame: &frames },
            Ask::Status,
        ] {
            let reason = Refusal::Number;
            let expected = (
                number,
                Refused {
                    reason,
                    expected: 1,
                },
            );
            assert_eq!(refusal(&ask(&mut server, number, ask_now)), expected);
        }
    }
    assert_eq!(bits(&server), None);
    ask(&mut server, 1, Ask::Reset);
    // The same number for something else.
    let reason = Refusal::Reused;
    let expected = (
        1,
        Refused {
            reason,
            expected: 2,
        },
    );
    assert_eq!(refusal(&ask(&mut server, 1, steps)), expected);
    assert_eq!(bits(&server), None);
    ask(&mut server, 2, steps);
    assert!(bits(&server).is_some());
    // A late copy of the reset does nothing.
    let reason = Refusal::Number;
    let expected = (
        1,
        Refused {
            reason,
            expected: 3,
        },
    );
    assert_eq!(refusal(&ask(&mut server, 1, Ask::Reset)), expected);
    assert!(bits(&server).is_some());
}

#[test]
fn a_wrong_number_of_frames_is_refused_and_takes_no_number() {
    let mut server = server::<f32>(parameters());
    let frames = frame_bytes(BATCH);
    for length in [0, 1, 15, 17, frames.len() - 1] {
        let steps = Ask::Steps {
            frames: &frames[..length],
        };
        let reason = Refusal::Frames;
        let expected = (
            1,
            Refused {
                reason,
                expected: 1,
            },
        );
        assert_eq!(refusal(&ask(&mut server, 1, steps)), expected, "{length}");
    }
    assert_eq!(bits(&server), None);
    ask(&mut server, 1, Ask::Steps { frames: &frames });
    assert_eq!(status(&mut server, 2).steps as usize, BATCH);
}

/// One frame more than fits: written by the plain encoder, dropped as too long.
#[test]
fn a_packet_too_long_is_dropped() {
    let mut server = server::<f32>(parameters());
    let frames = frame_bytes(BATCH + 1);
    let length = frames.len();
    let mut message = vec![1, 2, length as u8 | 0x80, (length >> 7) as u8];
    message.extend(&frames);
    assert_eq!(feed(&mut server, &plain_packet(&message)), None);
    assert_eq!(feed(&mut server, &plain_packet(&[7; 5000])), None);
    assert_eq!(bits(&server), None);
    assert_eq!(status(&mut server, 1).damaged, 2);
}

/// A request with bytes after its end, an unknown one, and a greeting of a later version.
#[test]
fn what_cannot_be_read_is_refused() {
    let mut server = server::<f32>(parameters());
    let reason = Refusal::Unreadable;
    let expected = (
        1,
        Refused {
            reason,
            expected: 1,
        },
    );
    for message in [
        &[1, 1, 0][..],
        &[1, 8],
        &[1],
        &[1, 2, 16, 0],
        &[1, 0x81, 0x80, 0x80, 0x80, 0x80, 0],
    ] {
        let reply = feed(&mut server, &plain_packet(message)).expect("a reply");
        assert_eq!(refusal(&reply), expected, "{message:?}");
    }
    let reply = feed(&mut server, &plain_packet(&[])).expect("a reply");
    assert_eq!(refusal(&reply).0, 0, "no number at all");
    let greeting = plain_packet(&[42, 0, 99, 1, 2, 3]);
    let reply = feed(&mut server, &greeting).expect("a reply");
    read(&reply, |reply| match reply.answer {
        Answer::Hello(hello) => assert_eq!((reply.number, hello.version), (42, VERSION)),
        other => panic!("no greeting: {other:?}"),
    });
    assert_eq!(bits(&server), None);
}

/// A line that echoes brings the board its own answers: it does not answer them.
#[test]
fn the_boards_own_answers_are_ignored() {
    let mut server = server::<f32>(parameters());
    let frames = frame_bytes(2);
    let mut answers = vec![
        ask(&mut server, 50, Ask::Hello { version: VERSION }),
        ask(&mut server, 70, Ask::Reset),
    ];
    let requests = [
        Ask::Reset,
        Ask::Steps { frames: &frames },
        Ask::Inside {
            frame: &frames[..16],
        },
        Ask::Status,
    ];
    for (number, request) in (1..).zip(requests) {
        answers.push(ask(&mut server, number, request));
    }
    for answer in answers {
        assert_eq!(feed(&mut server, &answer), None);
    }
    let status = status(&mut server, 5);
    assert_eq!((status.damaged, status.refused, status.steps), (0, 1, 3));
}

/// Every single bit wrong, every byte lost, every beginning: never a step.
#[test]
fn no_damage_to_a_packet_makes_a_step() {
    let frames = frame_bytes(4);
    let whole = packet(1, Ask::Steps { frames: &frames });
    let mut server = server::<f32>(parameters());
    for at in 0..whole.len() {
        for bit in 0..8 {
            let mut damaged = whole.clone();
            damaged[at] ^= 1 << bit;
            feed(&mut server, &damaged);
            // The zero at the front is only a fence, and the one at the end may come with the
            // next packet.
            let fence = at == 0 || at + 1 == whole.len();
            if !fence {
                feed(&mut server, &[0]);
                assert_eq!(bits(&server), None, "byte {at}, bit {bit}");
            } else if bits(&server).is_some() {
                server = becalm_tests::link::server(parameters());
            } else {
                feed(&mut server, &[0, 0]);
            }
        }
        let mut shorter = whole.clone();
        shorter.remove(at);
        if at > 0 && at + 1 < whole.len() {
            feed(&mut server, &shorter);
            assert_eq!(bits(&server), None, "byte {at} lost");
            feed(&mut server, &whole[..at]);
            feed(&mut server, &[0]);
            assert_eq!(bits(&server), None, "{at} bytes");
        }
    }
    feed(&mut server, &whole);
    assert!(bits(&server).is_some(), "and the whole packet does");
}

/// Noise: no panic, no step, no reply.
#[test]
fn random_bytes_never_step() {
    let mut server = server::<f32>(parameters());
    let mut dice = Dice(17);
    for round in 0..4 {
        // Zeros rare, so that long runs occur, or frequent.
        let zero_in = [2, 10, 300, 2000][round];
        for _ in 0..300_000 {
            let byte = if dice.below(zero_in) == 0 {
                0
            } else {
                dice.next() as u8
            };
            assert_eq!(server.receive(byte, &mut TestHooks), None);
        }
    }
    assert_eq!(bits(&server), None);
    feed(&mut server, &[0]);
    assert!(status(&mut server, 1).damaged > 100_000);
}

/// Noise with a right checksum, under a number that is not expected: a refusal or a
/// greeting, no panic, no step.
#[test]
fn random_messages_never_step() {
    let mut server = server::<f32>(parameters());
    let mut dice = Dice(19);
    let (mut refused, mut greeted) = (0, 0);
    for _ in 0..100_000 {
        let length = dice.below(40);
        let mut message: Vec<u8> = (0..length).map(|_| dice.next() as u8).collect();
        if let Some(first) = message.first_mut() {
            *first = (*first & 0x7F).max(2);
        }
        if let Some(variant) = message.get_mut(1) {
            *variant %= 10;
        }
        let reply = feed(&mut server, &plain_packet(&message)).expect("a reply");
        read(&reply, |reply| match reply.answer {
            Answer::Refused(_) => refused += 1,
            Answer::Hello(_) => greeted += 1,
            other => panic!("{message:?} was answered with {other:?}"),
        });
    }
    // About one in ten has the greeting's variant; three of four of those a version that fits.
    assert!(refused > 50_000 && greeted > 5_000, "{refused} {greeted}");
    assert_eq!(bits(&server), None);
}

/// A reset forgets everything: the same frames, the same answers.
#[test]
fn a_reset_gives_a_new_controller() {
    let mut server = server::<f32>(parameters());
    let frames: Vec<SensorFrame> = ride_frames()[..BATCH].to_vec();
    let bytes = frame_bytes(BATCH);
    let steps = Ask::Steps { frames: &bytes };
    let first = ask(&mut server, 1, steps);
    ask(&mut server, 2, Ask::Reset);
    assert_eq!(bits(&server), None);
    let second = ask(&mut server, 3, steps);
    let drives = |bytes: &[u8]| {
        read(bytes, |reply| match reply.answer {
            Answer::Steps { drives, .. } => drives.to_vec(),
            other => panic!("{other:?}"),
        })
    };
    assert_eq!(drives(&first), drives(&second));
    let mut local = Cycle::<f32>::new(parameters()).expect("parameters");
    let expected: Vec<u8> = frames
        .iter()
        .flat_map(|f| local.step(f).to_bytes())
        .collect();
    assert_eq!(drives(&second), expected);
}

/// How much memory a port needs; printed, for the documentation.
#[test]
fn the_server_is_small() {
    let server = size_of::<Server<'_, f32>>();
    let cycle = size_of::<Cycle<f32>>();
    let packets = 2 * firmware::link::PACKET_BYTES + firmware::link::MESSAGE_BYTES;
    println!("server {server} bytes, of which cycle {cycle}, buffers {packets}");
    assert!(server < cycle + packets + 128);
}
