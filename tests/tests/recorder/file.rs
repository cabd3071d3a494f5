//! Files of the flight recorder: every kind of bad one is told, another table is refused, struck memory shows. Our own
//! rules; the layout is written down here once more, by hand.

use becalm_tests::recorder::{Ridden, frames, parameters, plain_crc};
use firmware::{Cycle, SNAPSHOT_WORDS};
use host_sim::flight::{Differs, FlightFile, FlightReplay};
use host_sim::ride::Arithmetic;
use std::path::Path;

const BLOCK: usize = 4 * (2 + SNAPSHOT_WORDS + 400);
/// First byte of block `n` in a file of blocks of 100 frames.
const fn block(n: usize) -> usize {
    28 + 32 + n * BLOCK
}

fn good() -> Vec<u8> {
    Ridden::<f32, 6, 100>::new().all(frames()).file().to_bytes()
}

fn read(bytes: &[u8]) -> Result<FlightFile, String> {
    FlightFile::from_bytes(bytes, Path::new("a.recording")).map_err(|e| e.to_string())
}

fn put(bytes: &mut [u8], at: usize, word: u32) {
    bytes[at..at + 4].copy_from_slice(&word.to_le_bytes());
}

/// Mends the checksums and the stated length, so that what was changed is seen for what it is.
fn mend(bytes: &mut [u8]) {
    let end = bytes.len() - 4;
    put(bytes, 20, (end - 28) as u32);
    let head = plain_crc(&bytes[..24]);
    put(bytes, 24, head);
    let sum = plain_crc(&bytes[28..end]);
    put(bytes, end, sum);
}

fn replay(file: &FlightFile) -> Result<FlightReplay, String> {
    let path = Path::new("a.recording");
    FlightReplay::run::<f32>(file, parameters(), path, |_| {}).map_err(|e| e.to_string())
}

#[test]
fn a_file_comes_back() {
    let bytes = good();
    assert_eq!(bytes.len(), block(6) + 4);
    assert_eq!(&bytes[..8], b"BECALMRC");
    let file = read(&bytes).expect("a file");
    assert_eq!(file.to_bytes(), bytes);
    assert_eq!(file.arithmetic, Arithmetic::F32);
    assert_eq!(file.step_s, parameters().timing.step_s);
    assert_eq!(
        file.parameters,
        firmware::link::parameters_crc(parameters())
    );
    let cycle = Cycle::<f32>::new(parameters()).expect("a cycle");
    let words: Vec<u8> = cycle
        .config_words()
        .iter()
        .flat_map(|w| w.to_le_bytes())
        .collect();
    assert_eq!(file.constants, plain_crc(&words));
    assert_eq!(replay(&file).expect("a replay").differences, []);
}

#[test]
fn bad_files_are_told() {
    let good = good();
    type Change = fn(&mut Vec<u8>);
    let cases: [(&str, Change, &str); 18] = [
        ("empty", |b| b.clear(), "should begin with BECALMRC"),
        (
            "text",
            |b| *b = b"time_s\n1\n".to_vec(),
            "should begin with BECALMRC",
        ),
        ("opening alone", |b| b.truncate(8), "8 bytes; expected 32"),
        ("half a head", |b| b.truncate(20), "20 bytes; expected 32"),
        (
            "cut short",
            |b| b.truncate(9000),
            "9000 bytes; expected 20876",
        ),
        (
            "a byte less",
            |b| b.truncate(b.len() - 1),
            "20875 bytes; expected 20876",
        ),
        ("a byte more", |b| b.push(0), "20877 bytes; expected 20876"),
        ("damaged head", |b| b[13] ^= 4, "checksum of the head is"),
        ("damaged", |b| b[9000] ^= 4, "checksum of the recording is"),
        (
            "damaged end",
            |b| *b.last_mut().expect("one") ^= 1,
            "checksum of the recording is",
        ),
        (
            "another version",
            |b| {
                b[8] = 2;
                mend(b);
            },
            "version 2 of the format; this becalm reads version 1",
        ),
        (
            "arithmetic",
            |b| {
                put(b, 28, 1);
                mend(b);
            },
            "the arithmetic's number is 1; expected 0 (f32) or 2 (fixed)",
        ),
        (
            "snapshot",
            |b| {
                put(b, 36, 7);
                mend(b);
            },
            "the number of words of a snapshot is 7; expected",
        ),
        (
            "no blocks",
            |b| {
                put(b, 40, 0);
                mend(b);
            },
            "the number of blocks is 0; expected 1 to 65536",
        ),
        (
            "a block too few",
            |b| {
                put(b, 40, 5);
                mend(b);
            },
            "the recording's number of words is",
        ),
        (
            "frames of a block",
            |b| {
                put(b, block(2), u32::MAX);
                mend(b);
            },
            "the number of frames of block 2 is 4294967295; expected 0 to 65536",
        ),
        (
            "fault's block",
            |b| {
                put(b, 44, 6);
                mend(b);
            },
            "the first fault's block is 6; expected one of the blocks",
        ),
        (
            "fault's frame",
            |b| {
                put(b, 48, 100);
                mend(b);
            },
            "the first fault's frame is 100; expected one of its block's",
        ),
    ];
    // By hand: head 28, recording 32 and six blocks, checksum 4.
    let whole = block(6) + 4;
    for (name, change, words) in cases {
        let mut bytes = good.clone();
        change(&mut bytes);
        let words = words
            .replace("20876", &whole.to_string())
            .replace("20875", &(whole - 1).to_string())
            .replace("20877", &(whole + 1).to_string());
        let message = read(&bytes).expect_err(name);
        assert!(
            message.contains(&words) && message.starts_with("a.recording: "),
            "{name}: {message}"
        );
    }
    // A recording cut at any word, with right checksums: never a panic, never a file.
    for words in 0..(whole - 32) / 4 {
        let mut bytes = good[..28 + 4 * words].to_vec();
        bytes.extend([0; 4]);
        mend(&mut bytes);
        assert!(read(&bytes).is_err(), "{words} words");
    }
}

/// Another table is refused, and so are other constants under the same table.
#[test]
fn another_table_is_refused() {
    let file = read(&good()).expect("a file");
    let mut other = *parameters();
    other.isolate.forecast_gain = other.isolate.forecast_gain.next_up();
    let error = FlightReplay::run::<f32>(&file, &other, Path::new("a.recording"), |_| {})
        .expect_err("another table")
        .to_string();
    assert!(error.contains("other parameters"), "{error}");

    let mut bytes = good();
    put(&mut bytes, 32, 0x1234_5678);
    mend(&mut bytes);
    let error = replay(&read(&bytes).expect("a file")).expect_err("other constants");
    assert!(error.contains("constants (checksum 12345678)"), "{error}");
}

/// One bit turned over in a frame, a checksum or a snapshot: the block is named, and the word of state.
#[test]
fn struck_memory_shows() {
    let differences = |at: usize| {
        let mut bytes = good();
        bytes[at] ^= 1;
        mend(&mut bytes);
        replay(&read(&bytes).expect("a file"))
            .expect("a replay")
            .differences
    };
    let frame = |n: usize, k: usize| block(n) + 4 * (2 + SNAPSHOT_WORDS) + 16 * k;
    // The travel of a frame of block 1, while the law drives.
    let found = differences(frame(1, 50) + 6);
    assert_eq!(
        (found[0].block, found[0].first_frame),
        (1, 100),
        "{found:?}"
    );
    // The recorded checksum of block 4: nothing else.
    let found = differences(block(4) + 4);
    assert_eq!(found.len(), 1);
    assert_eq!(found[0].block, 4);
    assert!(
        matches!(found[0].what, Differs::Answers { .. }),
        "{found:?}"
    );
    assert!(
        found[0]
            .to_string()
            .contains("block 4 (from frame 400 on): the answers")
    );
    // The step counter in the snapshot of block 3: the state after block 2 is another one.
    let places = host_sim::fault::memory::places::<f32>();
    let n = places
        .iter()
        .position(|p| p.path == "step")
        .expect("the counter");
    let found = differences(block(3) + 8 + 4 * n);
    assert_eq!(found[0].block, 2);
    assert!(
        found[0]
            .to_string()
            .contains("after it the state's step is "),
        "{}",
        found[0]
    );
}
