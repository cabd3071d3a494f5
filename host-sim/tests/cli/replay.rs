//! `becalm ride --record` and `becalm replay`: the same bits, and every kind of bad file.

use crate::common::Bench;

/// Records a short ride; its bytes.
fn recorded(bench: &Bench) -> Vec<u8> {
    let run = bench.run(&[
        "ride",
        "--floor",
        "loader",
        "--seconds",
        "4",
        "--record",
        "a.frames",
        "--json",
    ]);
    assert_eq!(run.code, 0, "{}", run.err);
    std::fs::read(bench.path("a.frames")).expect("the recording")
}

#[test]
fn a_recording_replays_with_the_same_bits() {
    let bench = Bench::new();
    let bytes = recorded(&bench);
    assert_eq!(bytes.len(), 32 + 4000 * 24 + 4);
    let run = bench.run(&["replay", "a.frames", "--json"]);
    assert_eq!((run.code, run.err.as_str()), (0, ""));
    let object: serde_json::Value = serde_json::from_str(&run.out).expect("JSON");
    assert_eq!(object["steps"], 4000);
    assert_eq!(object["identical"], true);
    assert_eq!(object["arithmetic"], "f32");
    let run = bench.run(&["replay", "a.frames"]);
    assert!(run.out.contains("bit-identical"), "{}", run.out);
    // Recording does not change the ride, and replaces only its own.
    std::fs::write(bench.path("mine.txt"), "mine").expect("a file");
    let run = bench.run(&["ride", "--seconds", "1", "--record", "mine.txt", "--json"]);
    assert_eq!(run.code, 2, "{}", run.err);
    assert_eq!(
        std::fs::read_to_string(bench.path("mine.txt")).expect("it"),
        "mine"
    );
}

/// CRC-32 (ISO-HDLC) bit by bit.
fn crc32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(u32::MAX, |crc, byte| {
        (0..8).fold(crc ^ u32::from(*byte), |c, _| {
            (c >> 1) ^ if c & 1 == 1 { 0xEDB8_8320 } else { 0 }
        })
    })
}

/// Mends both checksums, so that what was changed is seen for what it is.
fn mend(bytes: &mut [u8]) {
    let head = crc32(&bytes[..28]).to_le_bytes();
    bytes[28..32].copy_from_slice(&head);
    let end = bytes.len() - 4;
    let sum = crc32(&bytes[32..end]).to_le_bytes();
    bytes[end..].copy_from_slice(&sum);
}

#[test]
fn a_changed_answer_is_named() {
    let bench = Bench::new();
    let mut bytes = recorded(&bench);
    // The current command of step 3000.
    bytes[32 + 3000 * 24 + 18] ^= 1;
    mend(&mut bytes);
    std::fs::write(bench.path("b.frames"), &bytes).expect("a file");
    let run = bench.run(&["replay", "b.frames"]);
    assert_eq!(run.code, 1, "{}", run.err);
    assert!(run.err.contains("step 3000"), "{}", run.err);
}

#[test]
fn bad_files_are_refused() {
    let bench = Bench::new();
    let good = recorded(&bench);
    type Change = fn(&mut Vec<u8>);
    let cases: [(&str, Change, &str); 9] = [
        ("empty", |b| b.clear(), "begin with BECALMFR"),
        (
            "text",
            |b| *b = b"time,accel\n1,2\n".to_vec(),
            "begin with BECALMFR",
        ),
        ("head only", |b| b.truncate(20), "20 bytes"),
        ("cut short", |b| b.truncate(50_000), "announces 4000 steps"),
        (
            "a byte less",
            |b| b.truncate(b.len() - 1),
            "announces 4000 steps",
        ),
        ("a byte more", |b| b.push(0), "announces 4000 steps"),
        ("damaged", |b| b[50_000] ^= 4, "checksum of the steps"),
        ("damaged head", |b| b[13] ^= 4, "checksum of the head"),
        (
            "another version",
            |b| {
                b[8] = 2;
                mend(b);
            },
            "version 2",
        ),
    ];
    for (name, change, words) in cases {
        let mut bytes = good.clone();
        change(&mut bytes);
        std::fs::write(bench.path("bad.frames"), &bytes).expect("a file");
        let run = bench.run(&["replay", "bad.frames"]);
        assert_eq!(run.code, 2, "{name}: {}", run.err);
        assert!(
            run.err.contains(words) && run.err.contains("bad.frames"),
            "{name}: {}",
            run.err
        );
    }
    let mut bytes = good.clone();
    bytes[10] = 9;
    mend(&mut bytes);
    std::fs::write(bench.path("bad.frames"), &bytes).expect("a file");
    let run = bench.run(&["replay", "bad.frames"]);
    assert!(
        run.code == 2 && run.err.contains("arithmetic"),
        "{}",
        run.err
    );
    let run = bench.run(&["replay", "nowhere.frames"]);
    assert!(
        run.code == 2 && run.err.contains("nowhere.frames"),
        "{}",
        run.err
    );
}

#[test]
fn another_rig_or_core_is_refused() {
    let bench = Bench::new();
    recorded(&bench);
    let shown = bench.run(&["rig", "show"]).out;
    let other = shown.replace("forecast_gain = 1.", "forecast_gain = 1.0");
    assert_ne!(shown, other);
    bench.write("other.toml", &other);
    let run = bench.run(&["replay", "a.frames", "--rig", "other.toml"]);
    assert!(
        run.code == 2 && run.err.contains("other parameters"),
        "{}",
        run.err
    );
    let run = bench.run(&["replay", "a.frames", "--core", "m3"]);
    assert!(
        run.code == 2 && !run.err.contains("panicked"),
        "{}",
        run.err
    );
    let run = bench.run(&["replay", "a.frames", "--core", "m5"]);
    assert!(
        run.code == 2 && run.err.contains("host, m4f, m7, m3"),
        "{}",
        run.err
    );
    // No images in this folder.
    let run = bench.run(&["ride", "--seconds", "1", "--core", "m4f", "--json"]);
    assert!(
        run.code == 2 && run.err.contains("lane build"),
        "{}",
        run.err
    );
    let run = bench.run(&["timing", "--core", "m4f"]);
    assert!(run.code == 2, "{}", run.err);
}
