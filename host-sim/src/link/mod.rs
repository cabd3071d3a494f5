//! The bench's end of the lockstep link: the law runs in another core.
//!
//! [`RemoteCore`] is what a ride needs: reset, step, look inside. It speaks the protocol of
//! [`firmware::link`] over a [`Wire`]: a socket to an emulator, or a serial device.

mod error;
mod exchange;
mod remote_core;
mod wire;

pub use error::LinkError;
pub use exchange::{LinkTally, Patience};
pub use remote_core::{CoreHello, InsideValue, RemoteCore};
#[cfg(unix)]
pub use wire::open_socket;
pub use wire::{DEFAULT_BAUD, Wire, open_serial};
