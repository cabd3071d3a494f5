//! Why an image cannot be looked into.

use std::path::PathBuf;

/// Why an image cannot be looked into.
#[derive(Debug, thiserror::Error)]
pub enum ImageError {
    /// The file cannot be read.
    #[error("{}: cannot be read: {source}: expected an ELF image; build the ports first", path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// Not an image for an Arm core.
    #[error("{}: {message}: expected a linked ELF image for a 32-bit Arm core", path.display())]
    NotAnImage {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        message: String,
    },
    /// The disassembler cannot be started.
    #[error(
        "{program}: cannot be started: {source}: expected the disassembler of GNU binutils for \
         arm-none-eabi on the path"
    )]
    NoDisassembler {
        /// The program.
        program: String,
        /// What the system said.
        source: std::io::Error,
    },
    /// The disassembler failed.
    #[error("{}: {program} failed: {message}", path.display())]
    Disassembler {
        /// The program.
        program: String,
        /// The file.
        path: PathBuf,
        /// What it said.
        message: String,
    },
    /// No function of this name.
    #[error("{}: no function {name}: expected it in the image, not inlined", path.display())]
    NoFunction {
        /// The file.
        path: PathBuf,
        /// The name that was looked for.
        name: String,
    },
    /// More than one function of this name.
    #[error("{}: {name}: expected one function, found {}", path.display(), found.join(", "))]
    SeveralFunctions {
        /// The file.
        path: PathBuf,
        /// The name that was looked for.
        name: String,
        /// What was found.
        found: Vec<String>,
    },
}
