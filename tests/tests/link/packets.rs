//! Framing, checksum and encoding of the link, against published values and an encoder of its own.

use becalm_tests::link::{Dice, parameters, plain_crc, plain_packet, plain_stuff};
use firmware::link::{
    Answer, Arrival, Ask, BATCH, Hello, INSIDE, INSIDE_VALUES, Inbox, MESSAGE_BYTES, PACKET_BYTES,
    PIECE_BYTES, Packet, Refusal, Refused, Reply, Request, Status, Way, crc32, parameters_crc,
};
use firmware::{DriveFrame, Fault, Marks, Phase, RecorderState, SensorFrame, Switches};
use serde::Serialize;
use std::collections::HashSet;

fn packet(way: Way, message: &impl Serialize) -> Vec<u8> {
    let mut packet = Packet::empty();
    assert!(packet.fill(way, message));
    packet.as_bytes().to_vec()
}

/// The one message in the bytes. It comes out at one end of the line, and only there.
fn message(way: Way, bytes: &[u8]) -> Vec<u8> {
    let mut wrong_end = Inbox::new(match way {
        Way::ToBoard => Way::ToBench,
        Way::ToBench => Way::ToBoard,
    });
    assert!(bytes.iter().all(|b| wrong_end.push(*b) == Arrival::Nothing));
    let mut inbox = Inbox::new(way);
    let mut found = Vec::new();
    for byte in bytes {
        match inbox.push(*byte) {
            Arrival::Nothing => {}
            Arrival::Damaged => panic!("damaged: {bytes:02x?}"),
            Arrival::Message(message) => found.push(message.to_vec()),
        }
    }
    assert_eq!(found.len(), 1);
    found.remove(0)
}

/// Check value of CRC-32/ISO-HDLC in the catalogue of parametrised CRC algorithms, as transcribed
/// by the open-source library crc-catalog 2.5.0: 0xCBF43926 for the digits 1 to 9.
#[test]
fn checksum_has_the_published_check_value() {
    assert_eq!(crc32(b"123456789"), 0xCBF4_3926);
    assert_eq!(plain_crc(b"123456789"), 0xCBF4_3926);
    let mut dice = Dice(5);
    for length in 0..300 {
        let bytes: Vec<u8> = (0..length).map(|_| dice.next() as u8).collect();
        assert_eq!(crc32(&bytes), plain_crc(&bytes));
    }
}

/// Figures 2 and 3 of Cheshire and Baker, "Consistent Overhead Byte Stuffing", IEEE/ACM
/// Transactions on Networking 7(2), 1999, from memory.
#[test]
fn stuffing_follows_the_paper() {
    let ip = [
        0x45, 0x00, 0x00, 0x2C, 0x4C, 0x79, 0x00, 0x00, 0x40, 0x06, 0x4F, 0x37,
    ];
    let stuffed = [
        0x02, 0x45, 0x01, 0x04, 0x2C, 0x4C, 0x79, 0x01, 0x05, 0x40, 0x06, 0x4F, 0x37,
    ];
    assert_eq!(plain_stuff(&ip), stuffed);

    let ones = |n| vec![1_u8; n];
    let long = [ones(679), vec![0]].concat();
    let blocks = [
        vec![0xFF],
        ones(254),
        vec![0xFF],
        ones(254),
        vec![0xAC],
        ones(171),
        vec![1],
    ];
    assert_eq!(plain_stuff(&long), blocks.concat());
}

/// Every length that fits, with no zeros, some and only zeros: the same bytes as the plain
/// encoder's, and back.
#[test]
fn packets_are_as_defined() {
    let mut dice = Dice(11);
    for length in 0..=BATCH * SensorFrame::BYTES {
        for zeros in [0, 1, 60, 256] {
            let frames: Vec<u8> = (0..length)
                .map(|_| match dice.below(256) {
                    n if n < zeros => 0,
                    n => (n as u8).max(1),
                })
                .collect();
            let ask = Ask::Steps { frames: &frames };
            let number = 0x7F;
            let bytes = packet(Way::ToBoard, &Request { number, ask });
            assert!(bytes.len() <= PACKET_BYTES);
            // By hand: number, variant, length as a varint, the bytes.
            let mut plain = vec![0x7F, 2];
            if length < 128 {
                plain.push(length as u8);
            } else {
                plain.extend([length as u8 | 0x80, (length >> 7) as u8]);
            }
            plain.extend(&frames);
            let ours = plain_packet(&plain);
            // A full last run may be followed by an empty one or not; the receiver takes both.
            let mut shorter = ours.clone();
            shorter.truncate(ours.len() - 2);
            shorter.push(0);
            assert!(
                bytes == ours || (ours.ends_with(&[1, 0]) && bytes == shorter),
                "{length} {zeros}"
            );
            assert_eq!(message(Way::ToBoard, &bytes), plain);
            assert_eq!(message(Way::ToBoard, &ours), plain);
            assert_eq!(Request::read(&plain), Ok(Request { number, ask }));
        }
    }
}

#[test]
fn every_message_comes_back() {
    let frames: Vec<u8> = (0..=255).cycle().take(BATCH * SensorFrame::BYTES).collect();
    let drives: Vec<u8> = (0..=255).cycle().take(BATCH * DriveFrame::BYTES).collect();
    let costs: Vec<u8> = (0..4 * BATCH).map(|n| !n as u8).collect();
    let values: Vec<u8> = (0..4 * INSIDE_VALUES).map(|n| n as u8).collect();
    for number in [0, 1, 127, 128, 70_000, u32::MAX] {
        for ask in [
            Ask::Hello { version: u16::MAX },
            Ask::Reset,
            Ask::Steps { frames: &frames },
            Ask::Steps { frames: &[] },
            Ask::Inside {
                frame: &frames[..SensorFrame::BYTES],
            },
            Ask::Status,
            Ask::Recorder,
            Ask::Piece { offset: 70_000 },
            Ask::Release,
        ] {
            let request = Request { number, ask };
            assert_eq!(
                Request::read(&message(Way::ToBoard, &packet(Way::ToBoard, &request))),
                Ok(request)
            );
        }
        let refused = |reason| {
            Answer::Refused(Refused {
                reason,
                expected: 300,
            })
        };
        let name = "x".repeat(64);
        for answer in [
            Answer::Hello(Hello {
                version: 7,
                core: &name,
                arithmetic: "fixed",
                parameters: 0x1234_5678,
                step_s: 0.001,
                batch: 32,
                expected: 5,
            }),
            Answer::Ready,
            Answer::Steps {
                drives: &drives,
                costs: &costs,
            },
            Answer::Inside { values: &values },
            Answer::Status(Status {
                stack_bytes: 1,
                steps: 2,
                damaged: 300,
                refused: u32::MAX,
                repeated: 5,
            }),
            refused(Refusal::Unreadable),
            refused(Refusal::Number),
            refused(Refusal::Reused),
            refused(Refusal::Frames),
            refused(Refusal::Parameters),
            refused(Refusal::NotFrozen),
            refused(Refusal::Offset),
            refused(Refusal::Running),
            Answer::Recorder(RecorderState {
                phase: Phase::Closing,
                frames: 300,
                room: 4096,
                faults: 1 << 13,
                bytes: u32::MAX,
            }),
            Answer::Piece {
                bytes: &frames[..PIECE_BYTES],
            },
        ] {
            let reply = Reply { number, answer };
            let bytes = message(Way::ToBench, &packet(Way::ToBench, &reply));
            assert_eq!(Reply::read(&bytes), Some(reply));
            let greeting = matches!(answer, Answer::Hello(_)).then_some((number, 7));
            assert_eq!(Reply::version(&bytes), greeting);
        }
    }
}

#[test]
fn drive_frames_come_back() {
    let mut dice = Dice(3);
    for _ in 0..10_000 {
        let bytes = dice.next().to_le_bytes();
        assert_eq!(DriveFrame::from_bytes(bytes).to_bytes(), bytes);
    }
}

/// The parameter table's name is the checksum of its whole encoding: any field changes it.
#[test]
fn the_parameter_checksum_is_of_the_encoding() {
    let mut bytes = vec![0; 100_000];
    let used = postcard::to_slice(parameters(), &mut bytes).expect("room");
    assert!(used.len() > 400, "{} bytes", used.len());
    assert_eq!(parameters_crc(parameters()), plain_crc(used));
    let mut other = *parameters();
    other.supervise.clear_s = other.supervise.clear_s.next_up();
    assert_ne!(parameters_crc(&other), parameters_crc(parameters()));
}

#[test]
fn names_inside_are_unique() {
    let names: HashSet<_> = INSIDE.iter().collect();
    assert_eq!(names.len(), INSIDE_VALUES);
}

/// The largest packet really is one, and a message too long leaves the packet empty.
#[test]
fn sizes_are_tight() {
    let number = u32::MAX;
    let frames = [0xA5; BATCH * SensorFrame::BYTES + 1];
    let most = Ask::Steps {
        frames: &frames[1..],
    };
    let bytes = packet(Way::ToBoard, &Request { number, ask: most });
    assert_eq!(message(Way::ToBoard, &bytes).len() + 5, MESSAGE_BYTES);
    assert_eq!(bytes.len(), PACKET_BYTES);
    let ask = Ask::Steps { frames: &frames };
    let mut packet = Packet::empty();
    assert!(!packet.fill(Way::ToBoard, &Request { number, ask }));
    assert!(packet.as_bytes().is_empty());
}

fn page() -> String {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../docs/link.md");
    let page = std::fs::read_to_string(path).expect("docs/link.md");
    page.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The table in `docs/link.md` names the values in their order.
#[test]
fn the_documented_order_inside_is_true() {
    let page = page();
    let (_, mut rest) = page.split_once("| position | stage |").expect("the table");
    for (at, (stage, name)) in INSIDE.iter().enumerate() {
        // The forecast is given as a range.
        if name.starts_with("floor_ahead_") && (18..20).contains(&at) {
            continue;
        }
        (_, rest) = rest
            .split_once(&format!("`{name}`"))
            .unwrap_or_else(|| panic!("{at}: {stage} {name} is not in its place"));
    }
    assert!(page.contains(&format!("| 43, {} | `weigh`", INSIDE_VALUES - 1)));
}

/// The bytes in `docs/link.md` are the bytes on the wire.
#[test]
fn the_documented_examples_are_true() {
    let frame = SensorFrame {
        sequence: 1,
        floor_accel: 100,
        seat_accel: -100,
        travel: 0,
        current: 0,
        supply: 4800,
        coil_temperature: 250,
        switches: Switches(7),
        marks: Marks(0),
    };
    let drive = DriveFrame {
        sequence: 1,
        ..DriveFrame::SAFE
    };
    let request = |number, ask| packet(Way::ToBoard, &Request { number, ask });
    let reply = |number, answer| packet(Way::ToBench, &Reply { number, answer });
    let examples = [
        ("Hello, number 300", request(300, Ask::Hello { version: 3 })),
        ("Reset, number 1", request(1, Ask::Reset)),
        (
            "Steps, number 2, one frame",
            request(
                2,
                Ask::Steps {
                    frames: &frame.to_bytes(),
                },
            ),
        ),
        (
            "Inside, number 3, the same frame",
            request(
                3,
                Ask::Inside {
                    frame: &frame.to_bytes(),
                },
            ),
        ),
        ("Status, number 4", request(4, Ask::Status)),
        ("Recorder, number 5", request(5, Ask::Recorder)),
        (
            "Piece, number 6, from byte 512",
            request(6, Ask::Piece { offset: 512 }),
        ),
        ("Release, number 7", request(7, Ask::Release)),
        (
            "Hello to number 300",
            reply(
                300,
                Answer::Hello(Hello {
                    version: 3,
                    core: "demo",
                    arithmetic: "f32",
                    parameters: 0x1234_5678,
                    step_s: 0.001,
                    batch: 32,
                    expected: 1,
                }),
            ),
        ),
        ("Ready to number 1", reply(1, Answer::Ready)),
        (
            "Steps to number 2, cost 70 000",
            reply(
                2,
                Answer::Steps {
                    drives: &drive.to_bytes(),
                    costs: &70_000_u32.to_le_bytes(),
                },
            ),
        ),
        (
            "Refused to number 9: wrong number, 3 expected",
            reply(
                9,
                Answer::Refused(Refused {
                    reason: Refusal::Number,
                    expected: 3,
                }),
            ),
        ),
        (
            "Recorder to number 5, frozen by the travel sensor",
            reply(
                5,
                Answer::Recorder(RecorderState {
                    phase: Phase::Frozen,
                    frames: 4096,
                    room: 4096,
                    faults: Fault::Travel as u16,
                    bytes: 80_544,
                }),
            ),
        ),
    ];
    let page = page();
    let mut missing = Vec::new();
    for (what, bytes) in examples {
        let hex: Vec<_> = bytes.iter().map(|b| format!("{b:02x}")).collect();
        let line = format!("{what}: {}", hex.join(" "));
        println!("{line}");
        if !page.contains(&line) {
            missing.push(line);
        }
    }
    assert!(missing.is_empty(), "not in docs/link.md: {missing:#?}");
}
