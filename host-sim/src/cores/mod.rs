//! The law in another core: which core, how it is started, and whether it gives the same bits.
//!
//! | file | purpose |
//! |---|---|
//! | `emulator` | starts an emulated board and stops it again |
//! | `frame_file` | recorded frames and answers of a ride, for replay |
//! | `parity` | steps a core beside the host's and finds the first difference |
//! | `timing` | what a step costs on a core |
//! | `workload` | frames by which a core's time is measured |

mod emulator;
mod frame_file;
mod parity;
pub mod timing;
pub mod workload;

pub use emulator::{Batch, Emulator, EmulatorError};
pub use frame_file::{FrameFile, FrameFileError};
pub use parity::{Difference, Shadow};

use crate::link::{LinkError, Patience, RemoteCore};
use crate::ride::Arithmetic;
use firmware::Parameters;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Duration;

/// What the emulator says of itself; none when there is none.
#[must_use]
pub fn emulator_version() -> Option<String> {
    let said = Command::new("qemu-system-arm")
        .arg("--version")
        .output()
        .ok()?;
    let text = String::from_utf8_lossy(&said.stdout);
    text.lines().next().map(|line| line.trim().to_owned())
}

/// Where the law runs.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum CoreKind {
    /// In this process.
    #[default]
    Host,
    /// In an emulated board.
    Board(BoardKind),
    /// Behind a serial device.
    Serial(PathBuf),
}

/// Emulated boards.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BoardKind {
    /// Cortex-M4F, single precision.
    M4f,
    /// Cortex-M7, single precision.
    M7,
    /// Cortex-M3 without FPU, fixed point.
    M3,
}

impl BoardKind {
    /// All boards.
    pub const ALL: [Self; 3] = [Self::M4f, Self::M7, Self::M3];

    /// Name on the command line, and of the port's folder.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::M4f => "m4f",
            Self::M7 => "m7",
            Self::M3 => "m3",
        }
    }

    /// The emulator's name of the machine.
    #[must_use]
    pub const fn machine(self) -> &'static str {
        match self {
            Self::M4f => "mps2-an386",
            Self::M7 => "mps2-an500",
            Self::M3 => "mps2-an385",
        }
    }

    /// Target that the port is built for.
    #[must_use]
    pub const fn target(self) -> &'static str {
        match self {
            Self::M4f | Self::M7 => "thumbv7em-none-eabihf",
            Self::M3 => "thumbv7m-none-eabi",
        }
    }

    /// Arithmetic of the law there.
    #[must_use]
    pub const fn arithmetic(self) -> Arithmetic {
        match self {
            Self::M4f | Self::M7 => Arithmetic::F32,
            Self::M3 => Arithmetic::Fixed,
        }
    }

    /// The image `name` (`port` or `bench`) below the folder of images.
    #[must_use]
    pub fn image(self, images: &Path, name: &str) -> PathBuf {
        let folder = images.join(self.name()).join(self.target());
        folder.join("release").join(name)
    }
}

impl CoreKind {
    /// Reads `host`, `m4f`, `m7`, `m3` or `serial:PATH`.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        if name == "host" {
            return Some(Self::Host);
        }
        if let Some(path) = name.strip_prefix("serial:") {
            return (!path.is_empty()).then(|| Self::Serial(path.into()));
        }
        let board = BoardKind::ALL.into_iter().find(|b| b.name() == name);
        board.map(Self::Board)
    }
}

/// The folder of the ports' images: `BECALM_IMAGES`, else `target/boards`.
#[must_use]
pub fn images() -> PathBuf {
    std::env::var_os("BECALM_IMAGES").map_or_else(|| "target/boards".into(), PathBuf::from)
}

/// Why a core could not be used.
#[derive(Debug, thiserror::Error)]
pub enum CoreError {
    /// The emulator.
    #[error(transparent)]
    Emulator(#[from] EmulatorError),
    /// The link.
    #[error(transparent)]
    Link(#[from] LinkError),
    /// The core's arithmetic is not the one asked for.
    #[error("the core runs {core}, but {asked} is asked for: m4f and m7 run f32, m3 runs fixed")]
    Arithmetic {
        /// The core's.
        core: String,
        /// What was asked for.
        asked: &'static str,
    },
    /// A parameter.
    #[error(transparent)]
    Parameters(#[from] firmware::BuildError),
}

/// A core that answers, and the emulator that it lives in.
pub struct Connected {
    /// The core.
    pub remote: RemoteCore,
    /// Its arithmetic.
    pub arithmetic: Arithmetic,
    _emulator: Option<Emulator>,
}

impl Connected {
    /// Whether it runs this arithmetic.
    ///
    /// # Errors
    /// [`CoreError::Arithmetic`].
    pub fn must_run(&self, asked: Arithmetic) -> Result<(), CoreError> {
        if self.arithmetic == asked {
            return Ok(());
        }
        Err(CoreError::Arithmetic {
            core: self.arithmetic.name().to_owned(),
            asked: asked.name(),
        })
    }
}

/// An emulated core answers at once; a lost packet is unlikely, a hung guest is not.
const PATIENCE: Patience = Patience {
    answer: Duration::from_secs(2),
    repeats: 3,
};

/// Starts or opens the core and greets it. `None` for the host's own.
///
/// # Errors
/// No emulator, no image, a guest or a board that does not answer, another version, other parameters.
pub fn connect(
    kind: &CoreKind,
    images: &Path,
    parameters: &Parameters,
) -> Result<Option<Connected>, CoreError> {
    let (mut remote, emulator) = match kind {
        CoreKind::Host => return Ok(None),
        CoreKind::Board(board) => {
            let mut emulator = Emulator::start(*board, images)?;
            let wire = emulator.open()?;
            let remote = RemoteCore::connect(wire, parameters, PATIENCE);
            (remote.map_err(|e| emulator.blame(e))?, Some(emulator))
        }
        CoreKind::Serial(path) => {
            let baud = crate::link::DEFAULT_BAUD;
            let remote = RemoteCore::serial(path, baud, parameters, Patience::default())?;
            (remote, None)
        }
    };
    remote.reset()?;
    let name = remote.hello().arithmetic.clone();
    let Some(arithmetic) = Arithmetic::from_name(&name) else {
        return Err(CoreError::Arithmetic {
            core: name,
            asked: "f32, f64 or fixed",
        });
    };
    Ok(Some(Connected {
        remote,
        arithmetic,
        _emulator: emulator,
    }))
}
