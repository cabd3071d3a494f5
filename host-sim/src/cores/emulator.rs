//! Starts an emulated board and stops it again.

use super::{BoardKind, CoreError};
use crate::link::{LinkError, open_socket};
use std::io::Read as _;
use std::os::unix::net::UnixStream;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
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
        static COUNT: AtomicU32 = AtomicU32::new(0);
        let image = board.image(images, "bench");
        if !image.is_file() {
            return Err(EmulatorError::NoImage {
                path: image,
                core: board.name(),
            });
        }
        let n = COUNT.fetch_add(1, Ordering::Relaxed);
        let folder = std::env::temp_dir().join(format!("becalm-{}-{n}", std::process::id()));
        std::fs::create_dir_all(&folder).map_err(|source| EmulatorError::Folder { source })?;
        let serial = format!("unix:{},server=on,wait=on", folder.join("uart").display());
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
            .args(["-icount", "shift=0", "-serial", &serial, "-kernel"])
            .arg(&image)
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

impl Drop for Emulator {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
        let _ = std::fs::remove_dir_all(&self.folder);
    }
}

fn has_setpriv() -> bool {
    let tried = Command::new("setpriv")
        .args(["--pdeathsig", "KILL", "true"])
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status();
    tried.is_ok_and(|status| status.success())
}
