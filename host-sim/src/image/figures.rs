//! All that can be known of one port without running it.

use super::ImageError;
use super::disassembly::Disassembly;
use super::elf::Elf;
use super::forbidden::{Forbidden, Kind, forbidden};
use super::stack::{ChainFrame, Stack, Unknown};
use std::path::Path;

/// The step of the law in the image `bench`, from which nothing is inlined into its caller.
const STEP: &str = "mps2::bench::step";
/// What the reset handler calls in the image `port`.
const MAIN: &str = "main";
/// The flight recorder of a port: the name of its static variable.
const RECORDER: &str = "RECORDER";
/// What the panic handler of a port calls; nowhere defined.
const PANIC_MARK: &str = "becalm_a_panic_can_be_reached";

/// Figures of one port.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ImageFigures {
    /// Flash of the port, bytes.
    pub flash_bytes: u32,
    /// Static RAM of the port without its flight recorder, bytes.
    pub ram_bytes: u32,
    /// Static RAM of the flight recorder, bytes; 0 when the port has none.
    pub recorder_bytes: u32,
    /// Stack of one step of the law with all it calls, bytes; a bound only without unknown calls.
    pub stack_bytes_static: u32,
    /// The chain of calls that takes it, outermost first.
    pub stack_chain: Vec<ChainFrame>,
    /// What makes that figure uncertain: unknown calls, stack that is not static, recursion.
    pub unknown_calls: Vec<Unknown>,
    /// The same for the whole port, from `main`.
    pub main_stack: Stack,
    /// What an interrupt takes before its handler begins, bytes; up to 4 more align the stack.
    pub exception_frame_bytes: u32,
    /// Routines in the port that must not be there.
    pub forbidden: Vec<Forbidden>,
    /// No panic of the port can be reached. The port's panic handler calls what is nowhere defined, so that
    /// the link alone proves it; here the symbols are looked at once more. It says nothing of an image with
    /// another panic handler.
    pub panic_free: bool,
}

impl ImageFigures {
    /// Looks into both images of a port.
    ///
    /// # Errors
    /// An image that cannot be read, a missing or failing disassembler, a function that is not found.
    pub fn of(port: &Path, bench: &Path) -> Result<Self, ImageError> {
        let elf = Elf::read(port)?;
        // Errors of the file itself come before those of the disassembler.
        Elf::read(bench)?;
        let (port_code, bench_code) = (Disassembly::of(port)?, Disassembly::of(bench)?);
        let step = Stack::of(&bench_code, bench_code.find(STEP, bench)?);
        let main_stack = Stack::of(&port_code, port_code.find(MAIN, port)?);
        let forbidden = forbidden(&elf.symbols);
        let panic_free = !forbidden.iter().any(|f| f.kind == Kind::Panic)
            && !elf.symbols.iter().any(|s| s.linked_name == PANIC_MARK);
        let named = |name: &str| name.rsplit("::").next() == Some(RECORDER);
        let recorder = elf.symbols.iter().find(|s| !s.code && named(&s.name));
        let recorder_bytes = recorder.map_or(0, |s| s.bytes);
        Ok(Self {
            flash_bytes: elf.flash_bytes(),
            ram_bytes: elf.ram_bytes().saturating_sub(recorder_bytes),
            recorder_bytes,
            stack_bytes_static: step.bytes,
            stack_chain: step.chain,
            unknown_calls: step.unknown,
            main_stack,
            exception_frame_bytes: elf.exception_frame_bytes(),
            forbidden,
            panic_free,
        })
    }

    /// The stack of a step that can never be exceeded, bytes; `None` when something is unknown.
    #[must_use]
    pub fn stack_bound(&self) -> Option<u32> {
        self.unknown_calls
            .is_empty()
            .then_some(self.stack_bytes_static)
    }
}
