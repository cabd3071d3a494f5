//! Standard output, standard error, progress bar and Ctrl-C.

use super::Failure;
use indicatif::{ProgressBar, ProgressStyle};
use std::io::{ErrorKind, IsTerminal, Write};
use std::sync::atomic::{AtomicBool, Ordering};

static INTERRUPTED: AtomicBool = AtomicBool::new(false);

/// Makes Ctrl-C (and a request to end) raise the flag that [`interrupted`] tells.
pub(super) fn watch_interrupt() -> Result<(), Failure> {
    ctrlc::set_handler(|| {
        if INTERRUPTED.swap(true, Ordering::Relaxed) {
            // Asked twice: something does not look at the flag.
            std::process::exit(2);
        }
    })?;
    Ok(())
}

/// Whether the run has been asked to end.
#[inline]
pub(super) fn interrupted() -> bool {
    INTERRUPTED.load(Ordering::Relaxed)
}

/// Prints to standard output. A reader that has gone away is no error.
pub(super) fn print(text: &str) -> Result<(), Failure> {
    let mut out = std::io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() != ErrorKind::BrokenPipe => {
            Err(format!("standard output cannot be written to: {error}").into())
        }
        _ => Ok(()),
    }
}

/// Prints a serialised value as one JSON object to standard output.
pub(super) fn print_json(value: &impl serde::Serialize) -> Result<(), Failure> {
    print(&format!("{}\n", serde_json::to_string_pretty(value)?))
}

/// Prints a line to standard error.
pub(super) fn note(text: &str) {
    // When standard error is gone there is nobody left to tell.
    let _ = writeln!(std::io::stderr(), "{text}");
}

/// A progress bar on standard error, only if that is a terminal and `wanted`.
pub(super) fn progress(wanted: bool, length: u64, unit: &str) -> ProgressBar {
    styled(
        wanted,
        length,
        &format!("[{{bar:40}}] {{pos}} of {{len}} {unit}, {{eta}} left"),
    )
}

/// The same for stages that differ: which one, and how long all have taken; how long they will take nobody knows.
pub(super) fn progress_of_stages(wanted: bool, length: u64) -> ProgressBar {
    styled(wanted, length, "[{bar:30}] {elapsed}  {msg}")
}

fn styled(wanted: bool, length: u64, template: &str) -> ProgressBar {
    if !wanted || !std::io::stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let bar = ProgressBar::new(length);
    let style = ProgressStyle::with_template(template);
    bar.set_style(
        style
            .unwrap_or_else(|_| ProgressStyle::default_bar())
            .progress_chars("=> "),
    );
    bar
}
