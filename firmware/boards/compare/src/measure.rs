//! Calls one side over all samples and counts; the other side is called by the same loop.

use core::hint::black_box;
use cortex_m_semihosting::hprintln;
use mps2::counter::Counter;
use shared_math::Scalar;

/// Samples of a run.
pub const SAMPLES: usize = 2000;
/// Largest difference of two results that are taken for equal, of values of about 1.
pub const EQUAL: f32 = 1e-5;

/// Results of a run and its instructions, calls and loop included.
pub struct Run<const W: usize> {
    /// For each sample.
    pub answers: [[f32; W]; SAMPLES],
    /// For all of them, to within 3.
    pub instructions: u32,
    /// For as many calls of a function of the same side that does nothing.
    pub empty: u32,
}

/// A function that takes a sample by value.
pub type ByValue<T> = unsafe extern "C" fn(&mut T, f32) -> f32;
/// A function that takes three inputs by address.
pub type ByAddress<T> = unsafe extern "C" fn(&mut T, &[f32; 3]) -> f32;
/// A function that takes blocks of samples by address.
pub type ByBlock<T> = unsafe extern "C" fn(&T, *const f32, *mut f32, u32);

/// Calls `step` for every sample, and `nothing` as often.
pub fn by_value<T>(
    counter: &mut Counter,
    [nothing, step]: [ByValue<T>; 2],
    instance: &mut T,
    samples: &[f32; SAMPLES],
) -> Run<1> {
    let mut answers = [[0.0]; SAMPLES];
    let [empty, instructions] = [nothing, step].map(|function| {
        // The compiler must not know which function it is, or it would be inlined here.
        let function = black_box(function);
        let count = counter.count(|| {
            for (x, [y]) in samples.iter().zip(&mut answers) {
                // SAFETY: the instance is of the function's own type.
                *y = unsafe { function(instance, *x) };
            }
        });
        count.1
    });
    Run {
        answers,
        instructions,
        empty,
    }
}

/// The same with inputs by address. `states` tells the states of the instance: they
/// are read in a second run over `again`, which is not counted.
pub fn by_address<T>(
    counter: &mut Counter,
    [nothing, step]: [ByAddress<T>; 2],
    (instance, again): (&mut T, &mut T),
    states: impl Fn(&T) -> [f32; 6],
    inputs: &[[f32; 3]; SAMPLES],
) -> Run<6> {
    let mut travel = [0.0; SAMPLES];
    let mut answers = [[0.0; 6]; SAMPLES];
    let [empty, instructions] = [nothing, step].map(|function| {
        let function = black_box(function);
        let count = counter.count(|| {
            for (u, y) in inputs.iter().zip(&mut travel) {
                // SAFETY: as above.
                *y = unsafe { function(instance, u) };
            }
        });
        count.1
    });
    for ((u, x), y) in inputs.iter().zip(&mut answers).zip(&travel) {
        // SAFETY: as above.
        unsafe { step(again, u) };
        *x = states(again);
        // The counted run must have given the same.
        if x[3].to_bits() != y.to_bits() {
            x[3] = f32::NAN;
        }
    }
    Run {
        answers,
        instructions,
        empty,
    }
}

/// The same in blocks.
pub fn by_block<T>(
    counter: &mut Counter,
    [nothing, step]: [ByBlock<T>; 2],
    instance: &T,
    samples: &[f32; SAMPLES],
    block: usize,
) -> Run<1> {
    let mut answers = [[0.0]; SAMPLES];
    let [empty, instructions] = [nothing, step].map(|function| {
        let function = black_box(function);
        let count = if block == 1 {
            counter.count(|| {
                for (x, [y]) in samples.iter().zip(&mut answers) {
                    // SAFETY: as above; room for one sample each.
                    unsafe { function(instance, x, y, 1) };
                }
            })
        } else {
            counter.count(|| {
                for (x, y) in samples.chunks(block).zip(answers.chunks_mut(block)) {
                    let length = x.len() as u32;
                    // SAFETY: as above; both chunks have this length.
                    unsafe { function(instance, x.as_ptr(), y.as_mut_ptr().cast(), length) };
                }
            })
        };
        count.1
    });
    Run {
        answers,
        instructions,
        empty,
    }
}

/// Prints one comparison as a line of JSON; returns whether the results are equal.
pub fn report<const W: usize>(
    what: &str,
    c: &str,
    compared: bool,
    ours: &Run<W>,
    theirs: &Run<W>,
) -> bool {
    let pairs = ours.answers.as_flattened().iter();
    let mut most = 0.0_f32;
    let mut equal = true;
    for (a, b) in pairs.zip(theirs.answers.as_flattened()) {
        let difference = (a - b).abs();
        equal &= difference <= EQUAL * Scalar::max(a.abs(), 1.0);
        most = Scalar::max(most, difference);
    }
    hprintln!(
        "{{\"what\":\"{}\",\"c\":\"{}\",\"compared\":{},\"steps\":{},\"ours\":{},\"ours_empty\":{},\"theirs\":{},\"theirs_empty\":{},\"difference\":{:e},\"equal\":{}}}",
        what,
        c,
        compared,
        SAMPLES,
        ours.instructions,
        ours.empty,
        theirs.instructions,
        theirs.empty,
        most,
        equal
    );
    equal
}

/// Whether a step response is the one known, at the samples known.
pub fn known(what: &str, run: &Run<1>, points: &[(usize, f32)]) -> bool {
    let good = points.iter().all(|&(at, expected)| {
        run.answers
            .get(at)
            .is_some_and(|[y]| (y - expected).abs() <= EQUAL)
    });
    hprintln!("{{\"step_response\":\"{}\",\"as_known\":{}}}", what, good);
    good
}
