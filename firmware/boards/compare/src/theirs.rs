//! The C side: the instances its functions take, as `c/*.c` declares them.

use crate::measure::{ByAddress, ByBlock, ByValue};
use core::ffi::c_void;
use core::mem::transmute;

/// `biquad_cascade`.
#[repr(C)]
pub struct BiquadCascade {
    /// Number of stages, at least 1.
    pub stages: u32,
    /// Four (direct form I) or two (II transposed) states a stage.
    pub state: *mut f32,
    /// Five coefficients a stage.
    pub coefficients: *const f32,
}

/// `biquad_fixed_N`.
#[repr(C)]
pub struct BiquadFixed<const N: usize> {
    /// Five coefficients a stage.
    pub coefficients: [[f32; 5]; N],
    /// Two states a stage.
    pub state: [[f32; 2]; N],
}

/// `one_pole`.
#[repr(C)]
pub struct OnePole {
    /// Gain.
    pub k: f32,
    /// Output.
    pub y: f32,
}

/// `observer_instance`.
#[repr(C)]
pub struct ObserverInstance {
    /// Numbers of states, inputs, innovations.
    pub sizes: [u32; 3],
    /// A, B, C, K, row by row.
    pub matrices: [*const f32; 4],
    /// State.
    pub state: *mut f32,
    /// Room for as many.
    pub scratch: *mut f32,
    /// Last accelerations.
    pub last: [f32; 2],
}

/// `observer_rows`.
#[repr(C)]
pub struct ObserverRows {
    /// Transition.
    pub a: [[f32; 6]; 6],
    /// Inputs.
    pub b: [[f32; 2]; 6],
    /// Gains.
    pub k: [[f32; 2]; 6],
    /// State.
    pub state: [f32; 6],
    /// Last accelerations.
    pub last: [f32; 2],
}

/// `observer_by_hand`.
#[repr(C)]
pub struct ObserverByHand {
    /// Control period, s.
    pub step: f32,
    /// Half its square, s^2.
    pub half_step_squared: f32,
    /// Gains.
    pub k: [[f32; 2]; 6],
    /// State.
    pub state: [f32; 6],
    /// Last accelerations.
    pub last: [f32; 2],
}

unsafe extern "C" {
    /// What a call costs, by value.
    fn c_nothing(s: *mut c_void, x: f32) -> f32;
    /// By address, with one load.
    fn c_nothing_by_address(s: *mut c_void, input: &[f32; 3]) -> f32;
    /// In blocks.
    fn c_nothing_by_block(s: *const c_void, src: *const f32, dst: *mut f32, block: u32);
    /// Cascade in direct form I, in blocks.
    pub fn c_biquad_df1(s: &BiquadCascade, src: *const f32, dst: *mut f32, block: u32);
    /// Cascade in direct form II transposed, in blocks.
    pub fn c_biquad_df2t(s: &BiquadCascade, src: *const f32, dst: *mut f32, block: u32);
    /// One section by hand.
    pub fn c_biquad_by_hand_1(s: &mut BiquadFixed<1>, x: f32) -> f32;
    /// Four sections by hand.
    pub fn c_biquad_by_hand_4(s: &mut BiquadFixed<4>, x: f32) -> f32;
    /// One-pole low-pass.
    pub fn c_pole(p: &mut OnePole, x: f32) -> f32;
    /// Observer of small matrix-vector products.
    pub fn c_observer_matrices(s: &mut ObserverInstance, input: &[f32; 3]) -> f32;
    /// Observer of loops over rows of known length.
    pub fn c_observer_rows(s: &mut ObserverRows, input: &[f32; 3]) -> f32;
    /// Observer by hand.
    pub fn c_observer_by_hand(s: &mut ObserverByHand, input: &[f32; 3]) -> f32;
}

type Plain = unsafe extern "C" fn(*mut c_void, f32) -> f32;
type PlainAddress = unsafe extern "C" fn(*mut c_void, &[f32; 3]) -> f32;
type PlainBlock = unsafe extern "C" fn(*const c_void, *const f32, *mut f32, u32);

/// What a call by value costs.
pub fn nothing<T>() -> ByValue<T> {
    // SAFETY: a pointer to anything is passed alike, and the function does not follow it.
    unsafe { transmute::<Plain, ByValue<T>>(c_nothing) }
}

/// What a call by address costs, and one load.
pub fn nothing_by_address<T>() -> ByAddress<T> {
    // SAFETY: as above.
    unsafe { transmute::<PlainAddress, ByAddress<T>>(c_nothing_by_address) }
}

/// What a call for a block costs.
pub fn nothing_by_block<T>() -> ByBlock<T> {
    // SAFETY: as above.
    unsafe { transmute::<PlainBlock, ByBlock<T>>(c_nothing_by_block) }
}
