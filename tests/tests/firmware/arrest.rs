//! The end-of-travel clamp: its limits stay within the clamp's own, what lies inside them passes
//! unchanged, what it foresees comes, and a seat that follows the limit comes to rest before the stop. Our own rules; the
//! stopping distance v^2 / 2A is the textbook one.

use firmware::Timing;
use firmware::arrest::{Ahead, Config, Output, Parameters, State};
use firmware::estimate;
use host_sim::limits::constant;
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
        slack: false,
        sound: true,
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
    let mut state = State::default();
    let mut chance = Chance(1);
    let (mut inside, mut clamped) = (0, 0);
    let most = f64::from(p.accel_max_mps2);
    for k in 0..200_000 {
        let m = motion::<S>(
            60.0 * chance.even(),
            0.07 * chance.even(),
            3.0 * chance.even(),
        );
        let wanted = S::from_f32(40.0 * chance.even());
        let Output {
            permitted,
            lower,
            upper,
            ahead,
            ..
        } = state.step(&config, &m, wanted);
        assert!(ahead.floor_accel.to_f64().abs() <= f64::from(p.floor_accel_max_mps2) + tolerance);
        let (w, lo, hi) = (wanted.to_f64(), lower.to_f64(), upper.to_f64());
        assert!(lo.abs() <= most + tolerance && hi.abs() <= most + tolerance);
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
    }
    assert!(inside > 10_000 && clamped > 10_000, "{inside} {clamped}");
}

// Demonstrates: clamp-accel
#[test]
fn limits_stay_within_the_clamp_and_the_rest_passes() {
    limits_and_passing::<f64>(1.0e-9);
    limits_and_passing::<f32>(1.0e-4);
    limits_and_passing::<Q24>(1.0e-5);
}

/// What is permitted toward either end is the stated closed form, g (V - v) - A v / W with W = sqrt((vc + u)^2 + 2 A d) and
/// V = W - u, with the numbers of the register, wherever the seat is and however fast it closes.
// Demonstrates: arrest-rest, arrest-braking, arrest-touch, arrest-allowance
#[test]
fn the_clamp_is_the_profile_of_the_register() {
    let (p, timing) = parameters();
    let config: Config<f64> = p.build(&timing).expect("a configuration");
    let (brake, allowance) = (constant::ARREST_BRAKING, constant::ARREST_ALLOWANCE);
    let (rest, end) = (constant::ARREST_REST, constant::ARREST_TOUCH + allowance);
    let (g, most) = (f64::from(p.approach_ps), constant::CLAMP_ACCEL);
    let mut free = 0;
    for place in -50..=50 {
        for speed in 0..30 {
            let (travel, closing) = (0.001 * f64::from(place), 0.05 * f64::from(speed));
            let root = (end * end + 2.0 * brake * (rest - travel).max(0.0)).sqrt();
            let toward = g * (root - allowance - closing) - brake * closing / root;
            let expected = toward.clamp(-most, most);
            for side in [1.0, -1.0] {
                let (lower, upper) = config.limits(&Ahead {
                    travel: side * travel,
                    travel_rate: side * closing,
                    floor_accel: 0.0,
                });
                let found = if side > 0.0 { upper } else { -lower };
                assert!(
                    (found - expected).abs() <= 1.0e-5 * most,
                    "{travel} m, {closing} m/s: {found}, expected {expected}"
                );
            }
            free += u32::from(toward.abs() < most);
        }
    }
    assert!(free > 500, "{free} of 3030 not clamped");
}

/// A point on a floor of constant jerk that does exactly what was permitted, late by the latency: what the arrest
/// foresees comes, but for the floor's jerk over the way ahead, J t^2 / 2 of speed (the integral of what the floor's
/// acceleration changes meanwhile), and nothing adds up.
#[test]
fn what_is_foreseen_comes() {
    let (p, timing) = parameters();
    let step = f64::from(timing.step_s);
    let jerk = 600.0_f64;
    for latency_steps in [0.5_f32, 1.0, 1.5, 2.5] {
        let timing = Timing {
            latency_s: latency_steps * timing.step_s,
            ..timing
        };
        let config: Config<f64> = p.build(&timing).expect("a configuration");
        let ahead_steps = f64::from(latency_steps) - 0.5;
        let mut state = State::default();
        let (mut travel, mut rate) = (0.0, 0.0);
        let mut permitted = vec![0.0; 8];
        let mut chance = Chance(5);
        let (mut foreseen, mut came) = (Vec::new(), Vec::new());
        let mut astray = 0.0;
        for k in 0..40 {
            let t = f64::from(k) * step;
            let floor = jerk * (t - 0.02);
            let m = motion::<f64>(floor as f32, 0.0, 0.0);
            let m = estimate::Output {
                floor_accel: floor,
                travel,
                travel_rate: rate,
                ..m
            };
            let output = state.step(&config, &m, f64::from(6.0 * chance.even()));
            foreseen.push(output.ahead);
            // The first steps know nothing of the time before them.
            let fading = (1.0 - f64::from(p.approach_ps) * step) * astray;
            if k > 3 {
                assert!(
                    (output.astray - fading).abs() <= 1e-6,
                    "{latency_steps} step {k}: astray {} after {astray}",
                    output.astray
                );
            }
            astray = output.astray;
            permitted.insert(0, output.permitted);
            permitted.truncate(8);
            // The force of a step acts from `ahead_steps` on for one step.
            let whole = ahead_steps.floor();
            let part = ahead_steps - whole;
            let n = whole as usize;
            let seat = [permitted[n + 1], permitted[n]];
            for (first, start, share, accel) in [
                (true, 0.0, part, seat[0]),
                (false, part, 1.0 - part, seat[1]),
            ] {
                // Exactly, under a floor whose acceleration rises evenly.
                let h = share * step;
                let a = accel - jerk * (t + start * step - 0.02);
                travel += h * rate + 0.5 * h * h * a - jerk * h.powi(3) / 6.0;
                rate += h * a - 0.5 * jerk * h * h;
                if first {
                    came.push((travel, rate));
                }
            }
        }
        for k in 10..30 {
            let (travel, rate) = came[k + ahead_steps.floor() as usize];
            let most = 0.5 * jerk * (ahead_steps * step).powi(2) + 1.0e-6;
            assert!(
                (foreseen[k].travel_rate - rate).abs() <= most,
                "{latency_steps} step {k}: {} came {rate}",
                foreseen[k].travel_rate
            );
            assert!(
                (foreseen[k].travel - travel).abs() <= 2.0e-5,
                "{latency_steps} step {k}: {} came {travel}",
                foreseen[k].travel
            );
        }
    }
}

/// At rest in the middle on a floor that swings gently, nothing is clamped.
#[test]
fn gentle_motion_is_untouched() {
    let (p, timing) = parameters();
    let config: Config<f64> = p.build(&timing).expect("a configuration");
    let mut state = State::default();
    let mut chance = Chance(7);
    for k in 0..100_000 {
        let m = motion(
            5.0 * (0.02 * k as f32).sin(),
            0.02 * chance.even(),
            0.2 * chance.even(),
        );
        let wanted = f64::from(5.0 * chance.even());
        assert!(
            state.step(&config, &m, wanted).permitted == wanted,
            "step {k}"
        );
    }
}

/// A seat that wants to run into a stop with all its might, on a still floor, follows the profile: it
/// closes no faster than sqrt(vc^2 + 2 A d), brakes no harder than A and a tenth, and meets the stop at no more
/// than the touch speed and a fifth. The force acts as late as the firmware is told.
// Demonstrates: arrest-rest, arrest-braking, arrest-touch
#[test]
fn meets_the_end_at_the_touch_speed() {
    let (p, timing) = parameters();
    let (step, brake) = (f64::from(timing.step_s), f64::from(p.braking_mps2));
    let late = (timing.latency_s / timing.step_s).round() as usize;
    for side in [1.0, -1.0] {
        for wanted in [2.0, 5.0, 10.0, 20.0] {
            let config: Config<f64> = p.build(&timing).expect("a configuration");
            let mut state = State::default();
            let mut pipe = vec![0.0; late];
            let (mut travel, mut rate) = (-0.04 * side, 0.0_f64);
            let mut seat_accel = 0.0;
            let (mut hardest, mut fastest_over, mut met) = (0.0_f64, 0.0_f64, None);
            for k in 0..3000 {
                let mut m = motion(0.0, 0.0, 0.0);
                (m.travel, m.travel_rate, m.seat_accel) = (travel, rate, seat_accel);
                let permitted = state.step(&config, &m, wanted * side).permitted;
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
                let allowance = f64::from(p.allowance_mps);
                let at_end = f64::from(p.touch_mps) + allowance;
                let profile = (at_end.powi(2) + 2.0 * brake * left).sqrt() - allowance;
                fastest_over = fastest_over.max(rate * side - profile);
            }
            println!(
                "side {side} wanted {wanted}: met at {met:?} m/s, braking {hardest:.1} m/s2, over the profile {fastest_over:.3} m/s"
            );
            let met = met.expect("it wants to go there");
            assert!(met < 1.2 * constant::ARREST_TOUCH, "{met}");
            assert!(hardest < 1.1 * constant::ARREST_BRAKING, "{hardest}");
            assert!(fastest_over < 0.01, "{fastest_over}");
        }
    }
}
