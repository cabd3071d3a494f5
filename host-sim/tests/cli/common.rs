//! Runs the command in a folder of its own.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// A folder for one test.
pub(crate) struct Bench {
    dir: TempDir,
}

/// What a run came to.
pub(crate) struct Run {
    pub(crate) code: i32,
    pub(crate) out: String,
    pub(crate) err: String,
}

impl Bench {
    pub(crate) fn new() -> Self {
        Self {
            dir: tempfile::tempdir().unwrap(),
        }
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.dir.path().join(name)
    }

    pub(crate) fn write(&self, name: &str, content: impl AsRef<[u8]>) -> PathBuf {
        let path = self.path(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(&path, content).unwrap();
        path
    }

    pub(crate) fn read(&self, name: &str) -> String {
        fs::read_to_string(self.path(name)).unwrap()
    }

    pub(crate) fn command(&self, args: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_becalm"));
        command
            .args(args)
            .current_dir(self.dir.path())
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped());
        command
    }

    pub(crate) fn run(&self, args: &[&str]) -> Run {
        Run::from(self.command(args).output().unwrap())
    }

    /// Starts a run, interrupts it once `sign` is true, which must be within `patience`, and gives what it came to.
    pub(crate) fn interrupted(
        &self,
        args: &[&str],
        patience: Duration,
        sign: impl Fn() -> bool,
    ) -> Run {
        let mut child = self.command(args).spawn().unwrap();
        let begun = Instant::now();
        while !sign() {
            if begun.elapsed() > patience {
                child.kill().unwrap();
                panic!("{args:?}: not in time");
            }
            std::thread::sleep(Duration::from_millis(10));
        }
        std::thread::sleep(Duration::from_millis(200));
        let kill = Command::new("kill")
            .args(["-INT", &child.id().to_string()])
            .status()
            .unwrap();
        assert!(kill.success());
        Run::from(child.wait_with_output().unwrap())
    }

    /// All files and folders below the test's folder, sorted, with `/` between parts.
    pub(crate) fn listing(&self) -> Vec<String> {
        fn walk(dir: &Path, root: &Path, names: &mut Vec<String>) {
            for entry in fs::read_dir(dir).unwrap() {
                let path = entry.unwrap().path();
                let name = path.strip_prefix(root).unwrap();
                names.push(name.display().to_string());
                if path.is_dir() {
                    walk(&path, root, names);
                }
            }
        }
        let mut names = Vec::new();
        walk(self.dir.path(), self.dir.path(), &mut names);
        names.sort();
        names
    }

    /// The run is refused: exit code 2, nothing on standard output, nothing written
    /// or changed, one message with all the words.
    pub(crate) fn refused(&self, args: &[&str], words: &[&str]) -> String {
        let contents = || -> Vec<(String, Option<Vec<u8>>)> {
            self.listing()
                .into_iter()
                .map(|name| {
                    let content = fs::read(self.path(&name)).ok();
                    (name, content)
                })
                .collect()
        };
        let before = contents();
        let run = self.run(args);
        assert_eq!(run.code, 2, "{args:?}: {}{}", run.out, run.err);
        assert_eq!(run.out, "", "{args:?}");
        assert!(
            run.err.starts_with("becalm: error: "),
            "{args:?}: {}",
            run.err
        );
        for word in words {
            assert!(
                run.err.contains(word),
                "{args:?}: \"{}\" lacks \"{word}\"",
                run.err
            );
        }
        assert!(!run.err.contains("panicked"), "{}", run.err);
        assert!(before == contents(), "{args:?} left or changed files");
        run.err
    }
}

impl From<Output> for Run {
    fn from(output: Output) -> Self {
        Self {
            code: output.status.code().unwrap_or(-1),
            out: String::from_utf8(output.stdout).unwrap(),
            err: String::from_utf8(output.stderr).unwrap(),
        }
    }
}

/// An invented recording of `rows` rows: a 2 Hz sine of 1 m/s2, `rate_hz` rows a second.
pub(crate) fn sine_csv(rows: usize, rate_hz: f64, frequency_hz: f64, mean_mps2: f64) -> String {
    let mut text = String::from("time,accel\n");
    for i in 0..rows {
        let t = i as f64 / rate_hz;
        let a = mean_mps2 + (std::f64::consts::TAU * frequency_hz * t).sin();
        text += &format!("{t:.5},{a:.6}\n");
    }
    text
}
