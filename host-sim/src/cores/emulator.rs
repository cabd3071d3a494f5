//! Starts an emulated board and stops it again.
//!
//! The image `bench` answers on the serial port, step by step; the image `batch` works through a file of
//! frames, a hundred times faster.

use super::{BoardKind, CoreError};
use crate::link::{LinkError, open_socket};
use firmware::{DriveFrame, SensorFrame};
use std::io::Read as _;
use std::os::unix::net::UnixStream;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::OnceLock;
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::{Duration, Instant};

/// The emulator's program.
const PROGRAM: &str = "qemu-system-arm";
/// How long the emulator may take to open its serial port.
const START: Duration = Duration::from_secs(10);

/// Why no emulated board runs.
#[derive(Debug, thiserror::Error)]
pub enum EmulatorError {
    /// The port has not been built.
    #[error(
        "{path}: no image of the {core} port there; build it with `firmware/boards/lane build`, or say where it is with BECALM_IMAGES"
    )]
    NoImage {
        /// Where it was looked for.
        path: PathBuf,
        /// The port.
        core: &'static str,
    },
    /// The emulator is not installed.
    #[error("{PROGRAM} cannot be started: {source}; install it with `firmware/boards/lane setup`")]
    NoEmulator {
        /// The system's reason.
        source: std::io::Error,
    },
    /// The emulator ended by itself.
    #[error("{PROGRAM} ended before the board spoke ({status}): {message}")]
    Ended {
        /// How it ended.
        status: String,
        /// What it said.
        message: String,
    },
    /// It runs, but nothing answers.
    #[error("{path}: the image does not boot, or hangs: {link}")]
    Silent {
        /// The image.
        path: PathBuf,
        /// What the link saw.
        link: LinkError,
    },
    /// A batch did not come to its end.
    #[error("{path}: the batch did not end within {seconds} s; the emulator hangs and was stopped")]
    Hangs {
        /// The image.
        path: PathBuf,
        /// Time given to it, s.
        seconds: u64,
    },
    /// A batch left something else than answers.
    #[error("{path}: the batch gave {found} bytes of answers; expected {expected}")]
    Answers {
        /// The image.
        path: PathBuf,
        /// Bytes found.
        found: usize,
        /// Bytes expected.
        expected: usize,
    },
    /// A folder for the socket.
    #[error("no folder for the emulator's socket: {source}")]
    Folder {
        /// The system's reason.
        source: std::io::Error,
    },
}

/// A running emulated board; it is stopped when this is dropped.
#[derive(Debug)]
pub struct Emulator {
    child: Child,
    folder: PathBuf,
    image: PathBuf,
}

impl Emulator {
    /// Starts the `bench` image of a port. One instruction takes one nanosecond of the guest's time.
    ///
    /// # Errors
    /// No image, no emulator.
    pub fn start(board: BoardKind, images: &Path) -> Result<Self, EmulatorError> {
        let folder = new_folder()?;
        let socket = folder.join("uart");
        let serial = format!("unix:{},server=on,wait=on", socket.display());
        Self::spawn(
            board,
            board.image(images, "bench"),
            folder,
            &["-serial", &serial],
        )
    }

    fn spawn(
        board: BoardKind,
        image: PathBuf,
        folder: PathBuf,
        more: &[&str],
    ) -> Result<Self, EmulatorError> {
        if !image.is_file() {
            let _ = std::fs::remove_dir_all(&folder);
            return Err(EmulatorError::NoImage {
                path: image,
                core: board.name(),
            });
        }
        let image = image.canonicalize().unwrap_or(image);
        // Where there is setpriv, the emulator ends with this process however that ends.
        let mut command = if has_setpriv() {
            let mut command = Command::new("setpriv");
            command.args(["--pdeathsig", "KILL", PROGRAM]);
            command
        } else {
            Command::new(PROGRAM)
        };
        let child = command
            .args([
                "-M",
                board.machine(),
                "-display",
                "none",
                "-monitor",
                "none",
            ])
            .args(["-icount", "shift=0"])
            .args(more)
            .arg("-kernel")
            .arg(&image)
            .current_dir(&folder)
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .map_err(|source| EmulatorError::NoEmulator { source })?;
        Ok(Self {
            child,
            folder,
            image,
        })
    }

    /// Runs a batch: the answer and the instructions of every step, and the deepest stack, bytes.
    ///
    /// # Errors
    /// No image, no emulator, an emulator that hangs or gives something else than answers.
    pub fn batch(
        board: BoardKind,
        images: &Path,
        frames: &[SensorFrame],
    ) -> Result<Batch, EmulatorError> {
        Self::batch_of("batch", board, images, frames)
    }

    /// The same for another image that works through files: `commission`.
    ///
    /// # Errors
    /// As [`Self::batch`].
    pub fn batch_of(
        image: &str,
        board: BoardKind,
        images: &Path,
        frames: &[SensorFrame],
    ) -> Result<Batch, EmulatorError> {
        let folder = new_folder()?;
        let bytes: Vec<u8> = frames.iter().flat_map(|f| f.to_bytes()).collect();
        std::fs::write(folder.join("frames"), bytes)
            .map_err(|source| EmulatorError::Folder { source })?;
        let semihosting = [
            "-semihosting-config",
            "enable=on,target=native",
            "-serial",
            "null",
        ];
        let mut emulator = Self::spawn(board, board.image(images, image), folder, &semihosting)?;
        let seconds = 20 + frames.len() as u64 / 2000;
        let start = Instant::now();
        loop {
            match emulator.child.try_wait() {
                Ok(Some(status)) if status.success() => break,
                Ok(Some(_)) => {
                    let ended = emulator.ended();
                    return Err(ended.unwrap_or_else(|| emulator.hangs(seconds)));
                }
                _ if start.elapsed() > Duration::from_secs(seconds) => {
                    return Err(emulator.hangs(seconds));
                }
                _ => std::thread::sleep(Duration::from_millis(2)),
            }
        }
        let answers = std::fs::read(emulator.folder.join("answers")).unwrap_or_default();
        let wrong = || EmulatorError::Answers {
            path: emulator.image.clone(),
            found: answers.len(),
            expected: frames.len() * 12 + 4,
        };
        let (stack, steps) = answers
            .split_last_chunk()
            .ok_or_else(wrong)
            .map(|(s, l)| (l, s))?;
        let (steps, rest) = steps.as_chunks::<12>();
        if steps.len() != frames.len() || !rest.is_empty() {
            return Err(wrong());
        }
        let step = |bytes: &[u8; 12]| {
            let [a, b, c, d, e, f, g, h, i, j, k, l] = *bytes;
            let drive = DriveFrame::from_bytes([a, b, c, d, e, f, g, h]);
            (drive, u32::from_le_bytes([i, j, k, l]))
        };
        Ok(Batch {
            steps: steps.iter().map(step).collect(),
            stack_bytes: u32::from_le_bytes(*stack),
        })
    }

    fn hangs(&self, seconds: u64) -> EmulatorError {
        EmulatorError::Hangs {
            path: self.image.clone(),
            seconds,
        }
    }

    /// The board's serial port, as soon as it is there.
    ///
    /// # Errors
    /// The emulator ended, or its port does not open in time.
    pub fn open(&mut self) -> Result<UnixStream, CoreError> {
        let path = self.folder.join("uart");
        let start = Instant::now();
        loop {
            match open_socket(&path) {
                Ok(wire) => return Ok(wire),
                Err(error) if start.elapsed() > START => return Err(self.blame(error)),
                Err(_) => std::thread::sleep(Duration::from_millis(5)),
            }
            if let Some(ended) = self.ended() {
                return Err(ended.into());
            }
        }
    }

    /// A failed greeting, in the terms of the emulator.
    pub(super) fn blame(&mut self, link: LinkError) -> CoreError {
        // A line that closes is an emulator that is about to end.
        if matches!(link, LinkError::Closed { .. } | LinkError::Io { .. }) {
            let start = Instant::now();
            while start.elapsed() < Duration::from_secs(1) {
                if let Some(ended) = self.ended() {
                    return ended.into();
                }
                std::thread::sleep(Duration::from_millis(5));
            }
        }
        if let Some(ended) = self.ended() {
            return ended.into();
        }
        match link {
            LinkError::NoAnswer { .. } | LinkError::Open { .. } => EmulatorError::Silent {
                path: self.image.clone(),
                link,
            }
            .into(),
            other => other.into(),
        }
    }

    fn ended(&mut self) -> Option<EmulatorError> {
        let status = self.child.try_wait().ok()??;
        // What env, setpriv and shells say of a program that is not there.
        if status.code() == Some(127) {
            let source = std::io::ErrorKind::NotFound.into();
            return Some(EmulatorError::NoEmulator { source });
        }
        let mut message = String::new();
        if let Some(stderr) = self.child.stderr.take() {
            let _ = stderr.take(4096).read_to_string(&mut message);
        }
        Some(EmulatorError::Ended {
            status: status.to_string(),
            message: message.trim().to_owned(),
        })
    }
}

/// What a batch gave.
#[derive(Clone, Debug, PartialEq)]
pub struct Batch {
    /// Answer and instructions of every step.
    pub steps: Vec<(DriveFrame, u32)>,
    /// Deepest stack of a step, bytes; every thirteenth step is looked at.
    pub stack_bytes: u32,
}

/// A folder of its own for each emulator.
fn new_folder() -> Result<PathBuf, EmulatorError> {
    static COUNT: AtomicU32 = AtomicU32::new(0);
    let n = COUNT.fetch_add(1, Ordering::Relaxed);
    let folder = std::env::temp_dir().join(format!("becalm-{}-{n}", std::process::id()));
    std::fs::create_dir_all(&folder).map_err(|source| EmulatorError::Folder { source })?;
    Ok(folder)
}

impl Drop for Emulator {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
        let _ = std::fs::remove_dir_all(&self.folder);
    }
}

fn has_setpriv() -> bool {
    static FOUND: OnceLock<bool> = OnceLock::new();
    *FOUND.get_or_init(|| {
        let tried = Command::new("setpriv")
            .args(["--pdeathsig", "KILL", "true"])
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .status();
        tried.is_ok_and(|status| status.success())
    })
}
