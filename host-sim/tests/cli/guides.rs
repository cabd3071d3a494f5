//! The commands in the guides, run as they stand: each guide in an empty folder, block after block.
#![cfg(unix)]

use crate::common::Bench;
use std::fs;
use std::process::Command;

/// The blocks of a guide that are marked `sh`, each with the line it begins at.
fn blocks(text: &str) -> Vec<(usize, String)> {
    let mut found = Vec::new();
    let mut open: Option<(usize, String)> = None;
    for (n, line) in text.lines().enumerate() {
        match (&mut open, line) {
            (None, "```sh") => open = Some((n + 2, String::new())),
            (Some(_), "```") => found.extend(open.take()),
            (Some((_, block)), line) => {
                block.push_str(line);
                block.push('\n');
            }
            (None, _) => {}
        }
    }
    assert!(open.is_none(), "a block is not closed");
    found
}

/// Runs the blocks of `docs/NAME`; returns the folder.
fn follow(name: &str) -> Bench {
    let path = format!("{}/../docs/{name}", env!("CARGO_MANIFEST_DIR"));
    let text = fs::read_to_string(&path).unwrap();
    let bench = Bench::new();
    let programs = bench.path("programs");
    fs::create_dir(&programs).unwrap();
    std::os::unix::fs::symlink(env!("CARGO_BIN_EXE_becalm"), programs.join("becalm")).unwrap();
    let paths = format!(
        "{}:{}",
        programs.display(),
        std::env::var("PATH").unwrap_or_default()
    );
    let all = blocks(&text);
    assert!(!all.is_empty(), "{name} has no block to run");
    for (line, block) in all {
        let run = Command::new("sh")
            .args(["-eu", "-c", &block])
            .current_dir(bench.path("."))
            .env("PATH", &paths)
            .output()
            .unwrap();
        assert!(
            run.status.success(),
            "docs/{name}:{line}: {}\n{block}\n{}{}",
            run.status,
            String::from_utf8_lossy(&run.stdout),
            String::from_utf8_lossy(&run.stderr)
        );
    }
    bench
}

#[test]
fn the_port_guide() {
    let bench = follow("guide-port.md");
    assert!(bench.read("parameters.rs").contains("StoredTable"));
}

#[test]
fn the_test_guide() {
    let bench = follow("guide-test.md");
    // The rig was changed, and the comparison saw it.
    assert!(bench.read("stiffer.toml").contains("centre_hz = 0.5"));
    let comment = bench.read("comment.md");
    assert!(
        comment.contains('|') && comment.contains("travel"),
        "{comment}"
    );
}

#[test]
fn the_audit_guide() {
    let bench = follow("guide-audit.md");
    assert!(bench.read("fault.csv").lines().count() > 1000);
}

/// The worked example, and what it says of its own outcome.
#[test]
fn the_own_machine() {
    let bench = follow("own-machine.md");
    let limit = bench.run(&["limits", "peak-current", "--rig", "loader.toml"]);
    assert_eq!(limit.code, 0, "{}", limit.err);
    assert!(limit.out.contains("at most 80 A"), "{}", limit.out);
    let proof = bench.run(&["certify", "--rig", "loader.toml"]);
    assert_eq!(proof.code, 1, "{}", proof.err);
}
