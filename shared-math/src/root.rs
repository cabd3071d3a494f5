//! Square root in single precision: the processor's own where there is one.
//!
//! IEEE 754 asks for the correctly rounded root, so instruction and library give the same bits; the
//! parity checks of the ports hold that.

/// Square root of `x`, zero or above.
#[cfg(all(target_arch = "arm", target_abi = "eabihf"))]
#[allow(
    unsafe_code,
    reason = "core has no stable square root; one instruction, no side effect"
)]
#[inline(always)]
pub(crate) fn sqrt(x: f32) -> f32 {
    let root: u32;
    // SAFETY: the target's ABI passes floats in FPU registers, so the FPU and its square root are
    // there. The one FPU register used is put back; stable Rust cannot name it as an operand here.
    unsafe {
        core::arch::asm!(
            "vpush {{s0}}",
            "vmov s0, {x}",
            "vsqrt.f32 s0, s0",
            "vmov {root}, s0",
            "vpop {{s0}}",
            x = in(reg) x.to_bits(),
            root = lateout(reg) root,
            options(pure, nomem, preserves_flags)
        );
    }
    f32::from_bits(root)
}

/// Square root of `x`, zero or above: on a small core by whole numbers, for that has the root for fixed point anyway.
#[cfg(all(target_arch = "arm", not(target_abi = "eabihf")))]
pub(crate) fn sqrt(x: f32) -> f32 {
    crate::whole::root_f32(x)
}

/// Square root of `x`, zero or above.
#[cfg(not(target_arch = "arm"))]
#[inline(always)]
pub(crate) fn sqrt(x: f32) -> f32 {
    libm::sqrtf(x)
}
