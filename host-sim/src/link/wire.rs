//! Byte streams that a link can run over.

use super::LinkError;
use serial2::{CharSize, FlowControl, Parity, SerialPort, Settings, StopBits};
use std::io::{self, Read, Write};
#[cfg(unix)]
use std::os::unix::net::UnixStream;
use std::path::Path;
use std::time::Duration;

/// Speed of a serial line when none is given, bit/s.
pub const DEFAULT_BAUD: u32 = 115_200;

/// How long a line may take no bytes before that counts as a failed try.
const SEND: Duration = Duration::from_secs(2);

/// A byte stream with a time-out. It may lose, change or repeat bytes.
pub trait Wire {
    /// Sends all bytes.
    ///
    /// # Errors
    /// The system's; [`io::ErrorKind::TimedOut`] or `WouldBlock` when the line takes no bytes.
    fn send(&mut self, bytes: &[u8]) -> io::Result<()>;

    /// Waits for bytes, at most `timeout`; how many came, zero when none did.
    ///
    /// # Errors
    /// The system's; [`io::ErrorKind::UnexpectedEof`] when the other end has closed.
    fn receive(&mut self, bytes: &mut [u8], timeout: Duration) -> io::Result<usize>;
}

#[cfg(unix)]
impl Wire for UnixStream {
    fn send(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.set_write_timeout(Some(SEND))?;
        self.write_all(bytes)
    }

    fn receive(&mut self, bytes: &mut [u8], timeout: Duration) -> io::Result<usize> {
        self.set_read_timeout(Some(at_least_1_ms(timeout)))?;
        received(self.read(bytes))
    }
}

impl Wire for SerialPort {
    fn send(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.set_write_timeout(SEND)?;
        self.write_all(bytes)
    }

    fn receive(&mut self, bytes: &mut [u8], timeout: Duration) -> io::Result<usize> {
        self.set_read_timeout(at_least_1_ms(timeout))?;
        received(self.read(bytes))
    }
}

/// Zero would mean to wait for ever.
fn at_least_1_ms(timeout: Duration) -> Duration {
    timeout.max(Duration::from_millis(1))
}

fn received(read: io::Result<usize>) -> io::Result<usize> {
    use io::ErrorKind::{Interrupted, TimedOut, UnexpectedEof, WouldBlock};
    match read {
        Ok(0) => Err(UnexpectedEof.into()),
        Err(e) if matches!(e.kind(), Interrupted | TimedOut | WouldBlock) => Ok(0),
        other => other,
    }
}

/// The Unix-domain socket at `path`, where an emulator listens.
///
/// # Errors
/// [`LinkError::Open`].
#[cfg(unix)]
pub fn open_socket(path: &Path) -> Result<UnixStream, LinkError> {
    UnixStream::connect(path).map_err(|source| cannot_open(path, source))
}

/// The serial device at `path`: `baud` bit/s, 8 data bits, no parity, 1 stop bit, no flow control.
///
/// # Errors
/// [`LinkError::Open`], also when the device does not take these settings.
pub fn open_serial(path: &Path, baud: u32) -> Result<SerialPort, LinkError> {
    let set = |mut settings: Settings| {
        settings.set_raw();
        settings.set_baud_rate(baud)?;
        settings.set_char_size(CharSize::Bits8);
        settings.set_parity(Parity::None);
        settings.set_stop_bits(StopBits::One);
        settings.set_flow_control(FlowControl::None);
        Ok(settings)
    };
    SerialPort::open(path, set).map_err(|source| cannot_open(path, source))
}

fn cannot_open(path: &Path, source: io::Error) -> LinkError {
    LinkError::Open {
        path: path.display().to_string(),
        source,
    }
}
