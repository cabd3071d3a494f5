//! The end-of-travel clamp: its limits move no faster than the stated jerk, what lies inside them passes
//! unchanged, and a seat that follows the limit comes to rest before the stop. Our own rules; the
//! stopping distance v^2 / 2A is the textbook one.

use firmware::Timing;
use firmware::arrest::{Config, Parameters, State};
use firmware::estimate;
use host_sim::rig::Rig;
use shared_math::{Q24, Scalar};

/// Where the default rig's stops stand, m.
const END_M: f64 = 0.045;

fn parameters() -> (Parameters, Timing) {
    let rig = Rig::default_machine().expect("the default rig");
    (rig.firmware.arrest, rig.firmware.timing)
}

fn motion<S: Scalar>(floor_accel: f32, travel: f32, travel_rate: f32) -> estimate::Output<S> {
    let zero = S::ZERO;
    estimate::Output {
        floor_accel: S::from_f32(floor_accel),
        floor_velocity: zero,
        floor_displacement: zero,
        seat_accel: zero,
        seat_velocity: zero,
        travel: S::from_f32(travel),
        travel_rate: S::from_f32(travel_rate),
        floor_bias: zero,
        seat_bias: zero,
        travel_innovation: zero,
        turn: shared_math::Turn::Odd,
        floor_ahead: [zero; estimate::TIMES / 2],
        finite: true,
    }
}

/// xorshift64*, uniform in [-1, 1).
struct Chance(u64);

impl Chance {
    fn even(&mut self) -> f32 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        let bits = self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 40;
        bits as f32 / 8_388_608.0 - 1.0
    }
}

/// A jump of everything in every step: floor +-60 m/s2, travel +-70 mm, rate +-3 m/s.
fn limits_and_passing<S: Scalar + PartialEq>(tolerance: f64) {
    let (p, timing) = parameters();
    let config: Config<S> = p.build(&timing).expect("a configuration");
    let mut state = State::new(&config);
    let mut chance = Chance(1);
    let (mut inside, mut clamped) = (0, 0);
    let most = f64::from(p.accel_max_mps2);
    let jerk = f64::from(p.jerk_mps3 * timing.step_s);
    let mut last = state.limits();
    for k in 0..200_000 {
        let m = motion::<S>(
            60.0 * chance.even(),
            0.07 * chance.even(),
            3.0 * chance.even(),
        );
        let wanted = S::from_f32(40.0 * chance.even());
        let permitted = state.step(&config, &m, wanted);
        let (lower, upper) = state.limits();
        for (now, before) in [(lower, last.0), (upper, last.1)] {
            let (now, before) = (now.to_f64(), before.to_f64());
            assert!(
                (now - before).abs() <= jerk + tolerance,
                "step {k}: {before} to {now}"
            );
            assert!(now.abs() <= most + tolerance, "step {k}: {now}");
        }
        let (w, lo, hi) = (wanted.to_f64(), lower.to_f64(), upper.to_f64());
        if w >= lo && w <= hi {
            assert!(
                permitted == wanted,
                "step {k}: {w} is permitted, {permitted:?} given"
            );
            inside += 1;
        } else if lo <= hi {
            let nearest = if w > hi { upper } else { lower };
            assert!(
                permitted == nearest,
                "step {k}: {w} in {lo} to {hi} gave {permitted:?}"
            );
            clamped += 1;
        }
        last = (lower, upper);
    }
    assert!(inside > 10_000 && clamped > 10_000, "{inside} {clamped}");
}

#[test]
fn limits_move_within_the_jerk_and_the_rest_passes() {
    limits_and_passing::<f64>(1.0e-9);
    limits_and_passing::<f32>(1.0e-4);
    limits_and_passing::<Q24>(1.0e-5);
}

/// At rest in the middle nothing is clamped up to the acceleration from which the approach begins.
#[test]
fn gentle_motion_is_untouched() {
    let (p, timing) = parameters();
    let config: Config<f64> = p.build(&timing).expect("a configuration");
    let mut state = State::new(&config);
    let mut chance = Chance(7);
    for k in 0..100_000 {
        let m = motion(
            5.0 * chance.even(),
            0.02 * chance.even(),
            0.2 * chance.even(),
        );
        let wanted = f64::from(5.0 * chance.even());
        assert!(state.step(&config, &m, wanted) == wanted, "step {k}");
    }
}

/// A seat that wants to run into a stop with all its might, on a still floor, follows the profile: it
/// closes no faster than sqrt(vc^2 + 2 A d), brakes no harder than A and a tenth, and meets the stop at no more
/// than the touch speed and a fifth. The force acts as late as the firmware is told.
#[test]
fn meets_the_end_at_the_touch_speed() {
    let (p, timing) = parameters();
    let (step, brake) = (f64::from(timing.step_s), f64::from(p.braking_mps2));
    let late = (timing.latency_s / timing.step_s).round() as usize;
    for side in [1.0, -1.0] {
        for wanted in [2.0, 5.0, 10.0, 20.0] {
            let config: Config<f64> = p.build(&timing).expect("a configuration");
            let mut state = State::new(&config);
            let mut pipe = vec![0.0; late];
            let (mut travel, mut rate) = (-0.04 * side, 0.0_f64);
            let mut seat_accel = 0.0;
            let (mut hardest, mut fastest_over, mut met) = (0.0_f64, 0.0_f64, None);
            for k in 0..3000 {
                let mut m = motion(0.0, 0.0, 0.0);
                (m.travel, m.travel_rate, m.seat_accel) = (travel, rate, seat_accel);
                let permitted = state.step(&config, &m, wanted * side);
                let n = k % late;
                seat_accel = core::mem::replace(&mut pipe[n], permitted);
                travel += step * rate + 0.5 * step * step * seat_accel;
                rate += step * seat_accel;
                hardest = hardest.max(-seat_accel * side);
                if travel * side >= END_M {
                    met = Some(rate * side);
                    break;
                }
                let left = (f64::from(p.rest_m) - travel * side).max(0.0);
                let profile = (f64::from(p.touch_mps).powi(2) + 2.0 * brake * left).sqrt();
                fastest_over = fastest_over.max(rate * side - profile);
            }
            println!(
                "side {side} wanted {wanted}: met at {met:?} m/s, braking {hardest:.1} m/s2, over the profile {fastest_over:.3} m/s"
            );
            let met = met.expect("it wants to go there");
            assert!(met < 1.2 * f64::from(p.touch_mps), "{met}");
            assert!(hardest < 1.1 * brake, "{hardest}");
            assert!(fastest_over < 0.01, "{fastest_over}");
        }
    }
}
