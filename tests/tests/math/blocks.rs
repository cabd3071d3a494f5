//! Lag, delay, debounce, range, observer and horizon against closed forms and scipy.

use serde_json::Value;
use shared_math::{
    Bounds, Debounce, DebounceBits, DebounceBitsConfig, Delay, Horizon, HorizonConfig, Lag,
    Observer, ObserverGains, Q24, RangeError, Scalar, Strikes, StrikesConfig, Turn,
};
use std::f64::consts::TAU;

fn reference() -> Value {
    serde_json::from_str(include_str!("../../reference/design/math.json")).expect("JSON")
}

fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

fn numbers(value: &Value) -> Vec<f64> {
    value
        .as_array()
        .expect("a list")
        .iter()
        .map(number)
        .collect()
}

/// A held step rises as 1 - exp(-t / tau). The constant is kept in single precision: 6e-8 of it,
/// times t / tau steps' worth; fixed point rounds each step to 6e-8 and forgets at the same rate.
#[test]
fn lag_is_the_exact_exponential() {
    fn worst<S: Scalar>(tau: f32, dt: f32) -> f64 {
        let lag = Lag::<S>::new(tau, dt);
        let mut y = S::ZERO;
        (1..2000)
            .map(|n| {
                let ours = lag.step(&mut y, S::ONE).to_f64();
                (ours - (1.0 - (-f64::from(dt) * f64::from(n) / f64::from(tau)).exp())).abs()
            })
            .fold(0.0, f64::max)
    }
    for (tau, dt) in [(0.1, 0.001), (0.0009, 0.001), (1.0, 0.001)] {
        assert!(worst::<f64>(tau, dt) < 1e-7, "{tau}");
        let rounding = f64::from(tau / dt).max(1.0) * 1e-7;
        assert!(worst::<f32>(tau, dt) < rounding.max(4e-7), "{tau}");
        assert!(worst::<Q24>(tau, dt) < rounding.max(4e-7), "{tau}");
    }
    let mut y = 0.0_f64;
    assert!(Lag::new(0.0, 0.001).step(&mut y, 3.0) == 3.0);
}

/// The share that a lag reaches in one step, against expm1 of the C library, from steps that are a millionth of the time
/// constant to some that are a hundred times as long.
#[test]
fn share_of_a_step_is_right_at_every_ratio() {
    let mut worst = 0.0_f64;
    for n in 0..=8000 {
        let ratio = (10.0_f64.powf(f64::from(n) / 1000.0 - 6.0)) as f32;
        let mut y = 0.0_f64;
        let share = Lag::new(1.0, ratio).step(&mut y, 1.0);
        let exact = -f64::from(-ratio).exp_m1();
        worst = worst.max((share / exact - 1.0).abs());
    }
    assert!(worst < 3.0e-7, "{worst}");
}

/// scipy.signal.cont2discrete(zoh), advanced by one sample; and near the first-order Butterworth
/// low-pass of 10 Hz (scipy.signal.butter: b 0.030468747091, a -0.939062505817), from which the exact
/// form differs by the bilinear rule's warping: below 1 % up to the corner.
#[test]
fn lag_against_scipy() {
    let case = &reference()["lag"];
    let (tau, dt) = (number(&case["time_constant_s"]), number(&case["dt_s"]));
    let lag = Lag::<f64>::new(tau as f32, dt as f32);
    let mut y = 1.0;
    let pole = lag.step(&mut y, 0.0);
    assert!((pole - number(&case["pole"])).abs() < 1e-8, "{pole}");
    let lists = ["f_hz", "gain", "low_pass_gain"].map(|k| numbers(&case[k]));
    for (i, f_hz) in lists[0].iter().enumerate() {
        let (mut y, mut re, mut im) = (0.0, 0.0, 0.0);
        let per_cycle = (1.0 / (f_hz * dt)).round() as u32;
        for n in 0..per_cycle * 200 {
            let angle = TAU * f64::from(n % per_cycle) / f64::from(per_cycle);
            let out = lag.step(&mut y, angle.sin());
            if n >= per_cycle * 199 {
                re += 2.0 * out * angle.cos() / f64::from(per_cycle);
                im += 2.0 * out * angle.sin() / f64::from(per_cycle);
            }
        }
        let gain = re.hypot(im);
        assert!(
            (gain - lists[1][i]).abs() < 1e-6,
            "{f_hz} Hz: {gain} {}",
            lists[1][i]
        );
        if *f_hz <= 10.0 {
            assert!(
                (gain / lists[2][i] - 1.0).abs() < 0.01,
                "{f_hz} Hz: {gain} {}",
                lists[2][i]
            );
        }
    }
}

#[test]
fn delay_gives_back_what_went_in() {
    let mut delay = Delay::<f64, 3>::default();
    for n in 0..20 {
        let out = delay.step(f64::from(n));
        assert!(out == f64::from((n - 3).max(0)));
    }
    let mut none = Delay::<f32, 0>::default();
    assert!(none.step(5.0) == 5.0);
}

/// A run of `steps` equal answers changes the state; anything shorter does not.
#[test]
fn debounce_needs_a_full_run() {
    for steps in [1_u32, 2, 5, 300] {
        let mut d = Debounce::default();
        for _ in 0..4 {
            for _ in 1..steps {
                assert!(!d.step(false, true, steps));
            }
            if steps > 1 {
                assert!(!d.step(false, false, steps), "a gap starts the count again");
            }
        }
        for _ in 1..steps {
            assert!(!d.step(false, true, steps));
        }
        assert!(d.step(false, true, steps));
        for _ in 1..steps {
            assert!(d.step(true, false, steps));
        }
        assert!(!d.step(true, false, steps));
    }
    assert!(Debounce::default().step(false, true, 0));
}

#[test]
fn bounds_refuse_what_is_no_interval() {
    assert_eq!(
        Bounds::<f32>::new(f32::NAN, 1.0).err(),
        Some(RangeError::NotFinite)
    );
    assert_eq!(
        Bounds::<Q24>::new(0.0, f32::INFINITY).err(),
        Some(RangeError::NotFinite)
    );
    assert_eq!(
        Bounds::<f64>::new(1.0, 0.5).err(),
        Some(RangeError::Inverted)
    );
    let band = Bounds::<f64>::new(-1.0, 2.0).expect("an interval");
    assert!(band.limit(-3.0) == -1.0 && band.limit(0.5) == 0.5 && band.limit(9.0) == 2.0);
    assert!(Bounds::<f32>::new(1.0, 1.0).expect("a point").limit(7.0) == 1.0);
}

#[test]
fn observer_adds_weighted_innovations() {
    let gains = ObserverGains::<f64, 3, 2>::from_f32(&[[0.5, 0.25], [0.0, -1.0], [2.0, 0.0]]);
    let mut observer = Observer {
        state: [1.0, 2.0, 3.0],
    };
    observer.correct(&gains, &[4.0, 8.0]);
    assert_eq!(observer.state, [5.0, -6.0, 11.0]);
}

const N: usize = 12;

fn horizon<S: Scalar>(case: &Value, h: f64, sweeps: usize) -> f64 {
    let config = HorizonConfig::<S, N>::new(
        h as f32,
        number(&case["near"]) as f32,
        number(&case["far"]) as f32,
        number(&case["softness"]) as f32,
    );
    let list = numbers(&case["error"]);
    let error: [S; N] = core::array::from_fn(|j| S::from_f32(list[j] as f32));
    sweeps_of(&mut Horizon::default(), &config, &error, sweeps).to_f64()
}

/// Whole sweeps, two half ones each.
fn sweeps_of<S: Scalar>(
    horizon: &mut Horizon<S, N>,
    config: &HorizonConfig<S, N>,
    error: &[S; N],
    sweeps: usize,
) -> S {
    let half = |first: usize| -> [S; N / 2] { core::array::from_fn(|i| error[2 * i + first]) };
    let (odd, even) = (half(0), half(1));
    let mut first = S::ZERO;
    for _ in 0..sweeps {
        let _ = horizon.step(config, Turn::Odd, &odd);
        first = horizon.step(config, Turn::Even, &even);
    }
    first
}

/// The converged duals against the optimum of the quadratic program by scipy (SLSQP on the primal and
/// non-negative least squares on the dual, which agree to 2e-7; the script asserts the
/// Karush-Kuhn-Tucker conditions). The constants are made in single precision.
#[test]
fn horizon_against_quadratic_program() {
    let reference = reference();
    let h = number(&reference["horizon"]["h"]);
    let mut worst = [0.0_f64; 3];
    let mut short = 0;
    for case in reference["horizon"]["cases"].as_array().expect("cases") {
        let optimum = number(&case["first"]);
        let scale = optimum.abs().max(1.0);
        let ours = horizon::<f64>(case, h, 30_000);
        worst[0] = worst[0].max((ours - optimum).abs() / scale);
        worst[1] = worst[1].max((horizon::<f32>(case, h, 30_000) - optimum).abs() / scale);
        let fixed = horizon::<Q24>(case, h, 30_000);
        let error = (fixed - optimum).abs() / scale;
        if error < 1e-4 {
            worst[2] = worst[2].max(error);
        } else {
            short += 1;
            assert!(
                fixed * optimum > 0.0 && fixed.abs() < optimum.abs(),
                "{fixed} {optimum}"
            );
        }
    }
    println!("horizon against the program, f64 f32 fixed: {worst:?}; {short} saturated");
    assert!(
        worst[0] < 1e-5 && worst[1] < 1e-5 && worst[2] < 1e-5,
        "{worst:?}"
    );
    // At softness 1e-5 the weight of the first time is 172 to 177 / m, and fixed point holds 128: what is
    // outside at once counts for too little. Two of these cases start 20 and 60 mm outside and ask
    // for 68 and 45 % less than they should.
    assert!(short <= 2, "{short}");
}

/// One time outside: u = -(e -+ limit) / (G (1 + softness)) with G = h^2 / 2 / 2 ... for the first of two times,
/// whose effect is h^2 / 2 and whose dual Hessian h^3 / 4; nothing inside. The softness is a share of the last
/// time's Hessian, h^3 (9 + 1) / 4, and the limit is half-way to the far one.
#[test]
fn horizon_of_one_time() {
    let (h, near, far, softness) = (0.1_f32, 0.05_f32, 0.03_f32, 0.01_f32);
    let config = HorizonConfig::<f64, 2>::new(h, near, far, softness);
    let limit = 0.04;
    for error in [0.03, 0.06, -0.10_f64] {
        let outside = error.signum() * (error.abs() - limit).max(0.0);
        let u = Horizon::default().step(&config, Turn::Odd, &[error]);
        let (effect, hessian) = (0.5 * 0.01, 0.25 * 0.001);
        let dual = outside / (hessian + 0.01 * 10.0 * hessian);
        let closed = -dual * effect / 0.1;
        assert!(
            (u - closed).abs() < 1e-5 * closed.abs().max(1.0),
            "{u} {closed}"
        );
    }
    let times = |turn| config.times(turn).collect::<Vec<_>>();
    assert!((times(Turn::Odd)[0] - 0.1).abs() < 1e-8);
    assert!((times(Turn::Even)[0] - 0.2).abs() < 1e-8);
}

/// Properties of the optimum: nothing to do inside the limit, mirror images, and warm starts reach
/// the same point.
#[test]
fn horizon_is_odd_and_rests_inside() {
    let config = HorizonConfig::<f64, N>::new(0.05, 0.04, 0.04, 1.0e-3);
    let inside: [f64; N] = core::array::from_fn(|j| 0.0399 * (j as f64).cos());
    assert!(sweeps_of(&mut Horizon::default(), &config, &inside, 50) == 0.0);
    let error: [f64; N] = core::array::from_fn(|j| 0.09 * (0.6 * j as f64 + 0.2).sin());
    let u = sweeps_of(&mut Horizon::default(), &config, &error, 20_000);
    let mirrored = sweeps_of(&mut Horizon::default(), &config, &error.map(|e| -e), 20_000);
    assert!(u.abs() > 0.1 && u == -mirrored);
    let mut warm = Horizon::default();
    let _ = sweeps_of(&mut warm, &config, &error.map(|e| -2.0 * e), 100);
    let mut from_elsewhere = 0.0;
    for _ in 0..10_000 {
        from_elsewhere = sweeps_of(&mut warm, &config, &error, 2);
    }
    assert!(
        (from_elsewhere - u).abs() < 1e-9 * u.abs(),
        "{from_elsewhere} {u}"
    );
}

/// Sixteen conditions at once do what sixteen single ones do, whatever is seen and for every number of steps.
#[test]
fn debounced_bits_are_sixteen_debounces() {
    let mut random = 0x9E37_79B9_7F4A_7C15_u64;
    for steps in 1..=DebounceBitsConfig::MOST {
        let config = DebounceBitsConfig::new(steps);
        let mut bits = DebounceBits::default();
        let mut single = [(Debounce::default(), false); 16];
        let mut seen = 0_u16;
        for n in 0..4000 {
            random ^= random << 13;
            random ^= random >> 7;
            random ^= random << 17;
            // Few bits change at a time, so that conditions last long enough to stand.
            seen ^= (random & random >> 16 & random >> 32 & random >> 48) as u16;
            let together = bits.step(&config, seen);
            let apart = single
                .iter_mut()
                .enumerate()
                .fold(0, |all, (i, (one, stands))| {
                    *stands = one.step(*stands, seen >> i & 1 == 1, steps.into());
                    all | u16::from(*stands) << i
                });
            assert_eq!(together, apart, "{steps} steps, at {n}");
        }
        assert!(
            steps > 8 || bits != DebounceBits::default(),
            "something stood"
        );
    }
}

/// The stated number of strikes makes the condition stand when they come faster than they are forgotten; at
/// the stated rate, or slower, any number is borne; it stands until all are forgotten.
#[test]
fn strikes_are_counted_and_forgotten() {
    let config = StrikesConfig::new(5, 40);
    let mut strikes = Strikes::default();
    for n in 1..=5 {
        assert_eq!(strikes.step(&config, true), n == 5, "{n}");
    }
    // More do not lengthen it.
    for _ in 0..100 {
        assert!(strikes.step(&config, true));
    }
    for n in 1..=5 * 40 {
        assert_eq!(strikes.step(&config, false), n < 5 * 40, "{n}");
    }
    // One in 41 steps is forgotten in the 40 between.
    for n in 0..10_000 {
        assert!(!strikes.step(&config, n % 41 == 0), "{n}");
    }
    // Zeros act as ones.
    assert!(Strikes::default().step(&StrikesConfig::new(0, 0), true));
}
