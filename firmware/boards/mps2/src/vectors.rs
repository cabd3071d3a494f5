//! The board's table of interrupts: none is used, the exceptions of the core are enough.

unsafe extern "C" {
    /// What an interrupt that nobody handles comes to.
    fn DefaultHandler();
}

/// Interrupts of the boards' FPGA images (32, from memory): a port that enables one puts its handler here.
const INTERRUPTS: usize = 32;

/// The table, where the linker script of the runtime looks for it.
// SAFETY: name and section are those that the runtime asks of a device, the length is the device's own.
#[unsafe(link_section = ".vector_table.interrupts")]
#[unsafe(no_mangle)]
pub static __INTERRUPTS: [unsafe extern "C" fn(); INTERRUPTS] = [DefaultHandler; INTERRUPTS];
