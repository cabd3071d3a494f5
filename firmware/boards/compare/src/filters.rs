//! Cascades of one and four sections, and the one-pole lag.

use crate::measure::{ByBlock, ByValue, Run, SAMPLES, by_block, by_value, known, report};
use crate::ours::{self, Cascade, CascadeState, Filter, Pole};
use crate::signals::{STEP, noise};
use crate::theirs::{
    self, BiquadCascade, BiquadFixed, OnePole, c_biquad_by_hand_1, c_biquad_by_hand_4,
    c_biquad_df1, c_biquad_df2t, c_pole,
};
use mps2::counter::Counter;
use shared_math::Lag;

/// Butterworth low-pass of order 8, 60 Hz at 1 kHz, each section with gain 1 at rest: the poles of
/// `scipy.signal.butter(8, 60, fs=1000, output="sos")`, SciPy 1.17.1.
#[rustfmt::skip]
const SECTIONS: [[f32; 5]; 4] = [
    [0.025_797_53, 0.051_595_06, 0.025_797_53, 1.366_262_4, -0.469_452_5],
    [0.026_883_222, 0.053_766_444, 0.026_883_222, 1.423_761_7, -0.531_294_64],
    [0.029_150_022, 0.058_300_044, 0.029_150_022, 1.543_813_7, -0.660_413_74],
    [0.032_759_08, 0.065_518_16, 0.032_759_08, 1.734_953, -0.865_989_27],
];
/// Step responses by `scipy.signal.sosfilt` and `lfilter` in double precision, SciPy 1.17.1.
const KNOWN_1: [(usize, f32); 3] = [(5, 0.624_993_5), (10, 0.917_269_9), (20, 0.997_800_8)];
const KNOWN_4: [(usize, f32); 4] = [
    (5, 0.004_048_219_6),
    (10, 0.128_368_13),
    (20, 1.123_476_9),
    (50, 0.985_101),
];
const KNOWN_LAG: [(usize, f32); 3] = [(5, 0.259_181_8), (20, 0.650_062_3), (50, 0.921_918_3)];
/// Time constant of the lag and control period, s.
const LAG_S: f32 = 0.02;
const STEP_S: f32 = 0.001;

/// All comparisons of filters; whether all results are as they should be.
pub fn compare(counter: &mut Counter) -> bool {
    let noise = noise();
    let [first, ..] = SECTIONS;
    let one = sections(
        counter,
        "biquad, 1 section",
        [first],
        c_biquad_by_hand_1,
        &noise,
        &KNOWN_1,
    );
    let four = sections(
        counter,
        "biquad, 4 sections",
        SECTIONS,
        c_biquad_by_hand_4,
        &noise,
        &KNOWN_4,
    );
    one & four & pole(counter, &noise)
}

fn sections<const N: usize>(
    counter: &mut Counter,
    what: &str,
    coefficients: [[f32; 5]; N],
    c_by_hand: ByValue<BiquadFixed<N>>,
    noise: &[f32; SAMPLES],
    points: &[(usize, f32)],
) -> bool {
    let mut run = |samples| {
        let mut filter = Filter(Cascade(coefficients), CascadeState([[0.0; 2]; N]));
        by_value(
            counter,
            [ours::nothing, ours::cascade],
            &mut filter,
            samples,
        )
    };
    let mut good = known(what, &run(&STEP), points);
    let our_run = run(noise);

    let variants: [(&str, ByBlock<BiquadCascade>, usize); 4] = [
        ("direct form I, block of 1", c_biquad_df1, 1),
        ("direct form II t., block of 1", c_biquad_df2t, 1),
        ("direct form I, blocks of 32", c_biquad_df1, 32),
        ("direct form II t., blocks of 32", c_biquad_df2t, 32),
    ];
    for (name, function, block) in variants {
        let mut state = [[0.0_f32; 4]; N];
        let instance = BiquadCascade {
            stages: N as u32,
            state: state.as_mut_ptr().cast(),
            coefficients: coefficients.as_ptr().cast(),
        };
        let their_run: Run<1> = by_block(
            counter,
            [theirs::nothing_by_block(), function],
            &instance,
            noise,
            block,
        );
        good &= report(what, name, block == 1, &our_run, &their_run);
    }
    let mut fixed = BiquadFixed {
        coefficients,
        state: [[0.0; 2]; N],
    };
    let their_run = by_value(counter, [theirs::nothing(), c_by_hand], &mut fixed, noise);
    good & report(what, "by hand for this size", true, &our_run, &their_run)
}

fn pole(counter: &mut Counter, noise: &[f32; SAMPLES]) -> bool {
    let what = "one-pole lag";
    let mut run = |samples| {
        let mut pole = Pole(Lag::new(LAG_S, STEP_S), 0.0);
        by_value(counter, [ours::nothing, ours::lag], &mut pole, samples)
    };
    let good = known(what, &run(&STEP), &KNOWN_LAG);
    let our_run = run(noise);
    // The gain as it is told: 1 - exp(-1/20).
    let mut c = OnePole {
        k: 0.048_770_577,
        y: 0.0,
    };
    let their_run = by_value(counter, [theirs::nothing(), c_pole], &mut c, noise);
    good & report(what, "a sample at a time", true, &our_run, &their_run)
}
