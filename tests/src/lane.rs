//! Shared by the tests that need the emulated boards.

use host_sim::cores::BoardKind;
use std::path::PathBuf;
use std::process::Command;

/// The folder of the images: `BECALM_IMAGES`, else the repository's own target directory.
pub fn folder() -> PathBuf {
    std::env::var_os("BECALM_IMAGES").map_or_else(
        || PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/../target/boards")),
        PathBuf::from,
    )
}

/// Whether what a test needs is there. If not, the test says that it was not run; that is a failure only with
/// BECALM_LANE=required.
pub fn available(there: bool, missing: &str) -> bool {
    if !there {
        let required = std::env::var("BECALM_LANE").is_ok_and(|v| v == "required");
        assert!(!required, "missing: {missing}");
        println!("NOT RUN: missing: {missing}");
    }
    there
}

/// The folder of the images, when they and the emulator are there.
pub fn images() -> Option<PathBuf> {
    let images = folder();
    let built = |board: BoardKind| {
        let mut names = ["port", "bench", "batch", "commission", "recorder"].iter();
        names.all(|name| board.image(&images, name).is_file())
    };
    let emulator = Command::new("qemu-system-arm").arg("--version").output();
    let there = available(emulator.is_ok(), "the emulator: firmware/boards/lane setup")
        && available(
            BoardKind::ALL.into_iter().all(built),
            "the ports' images: firmware/boards/lane build",
        );
    there.then_some(images)
}

/// Processes of this machine whose command line holds `text`.
pub fn processes_with(text: &str) -> usize {
    let Ok(list) = std::fs::read_dir("/proc") else {
        return 0;
    };
    list.filter_map(Result::ok)
        .filter(|entry| entry.file_name() != *std::process::id().to_string())
        .filter_map(|entry| std::fs::read(entry.path().join("cmdline")).ok())
        .filter(|line| String::from_utf8_lossy(line).contains(text))
        .count()
}
