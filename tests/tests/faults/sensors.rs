//! What a broken sensor puts into the frame, count by count, against the sound sensor of a machine that moves
//! the same way.

use becalm_tests::faults::{STEP_S, fault, rig, twin_frames};
use firmware::SensorFrame;
use host_sim::sensors::Quantity;
use proptest::prelude::{ProptestConfig, prop_assert_eq, proptest};

const ONSET: u64 = 1500;
const LASTS: u64 = 700;
const ALL: u64 = 3000;

/// Counts of the sound and the broken sensor while the fault acts, after the check that nothing else is
/// different at any time.
fn pairs(quantity: Quantity, what: &str, numbers: &str) -> Vec<(i32, i32)> {
    let name = quantity.name();
    let text = format!("{name}-{what}:onset=1.5,duration=0.7{numbers}");
    let frames = twin_frames(&[&text], ALL);
    let mut pairs = Vec::new();
    for (k, (sound, broken)) in frames.iter().enumerate() {
        let mut mended = *broken;
        if (ONSET..ONSET + LASTS).contains(&(k as u64)) {
            pairs.push((quantity.of(sound), quantity.of(broken)));
            quantity.put(&mut mended, quantity.of(sound));
        }
        assert_eq!(mended, *sound, "{text}: frame {k}");
    }
    assert_eq!(pairs.len() as u64, LASTS);
    pairs
}

/// Counts of the sound sensor in every period.
fn sound(quantity: Quantity) -> Vec<i32> {
    let count = |(sound, _): &(SensorFrame, SensorFrame)| quantity.of(sound);
    twin_frames(&[], ALL).iter().map(count).collect()
}

fn per_unit(quantity: Quantity) -> f64 {
    quantity.counts_per_unit(&rig().sensors)
}

fn size(quantity: Quantity, what: &str) -> f64 {
    fault(&format!("{}-{what}", quantity.name())).size
}

#[test]
fn dead_reads_zero() {
    for q in Quantity::ALL {
        assert!(pairs(q, "dead", "").iter().all(|(_, b)| *b == 0));
    }
}

#[test]
fn stuck_stays_at_the_last_counts_before() {
    for q in Quantity::ALL {
        let last = sound(q)[ONSET as usize - 1];
        assert!(pairs(q, "stuck", "").iter().all(|(_, b)| *b == last));
    }
}

#[test]
fn stale_is_fresh_every_so_often() {
    for q in Quantity::ALL {
        for (numbers, every) in [("", 20), (",every=0.002", 2)] {
            let pairs = pairs(q, "stale", numbers);
            for (n, (_, broken)) in pairs.iter().enumerate() {
                assert_eq!(*broken, pairs[n - n % every].0, "{q:?} {n}");
            }
        }
    }
}

/// All defaults are whole counts, so that rounding adds nothing.
#[test]
fn bias_adds_its_counts() {
    for q in Quantity::ALL {
        let counts = size(q, "bias") * per_unit(q);
        assert!((counts - counts.round()).abs() < 1e-9);
        for (sound, broken) in pairs(q, "bias", "") {
            assert_eq!(broken, sound + counts.round() as i32, "{q:?}");
        }
    }
}

#[test]
fn drift_grows_by_its_rate() {
    for q in Quantity::ALL {
        let mut sum = 0.0;
        for (n, (sound, broken)) in pairs(q, "drift", "").into_iter().enumerate() {
            let stated = size(q, "drift") * per_unit(q) * n as f64 * STEP_S;
            let rest = f64::from(broken - sound) - stated;
            // Twice half a count of rounding.
            assert!(rest.abs() <= 1.0 + 1e-9, "{q:?} {n}: {rest}");
            sum += rest;
        }
        // Rounding to either side: 700 of at most 0.4 r.m.s. each.
        assert!((sum / LASTS as f64).abs() < 0.1, "{q:?}");
    }
}

#[test]
fn gain_scales() {
    for q in Quantity::ALL {
        for (sound, broken) in pairs(q, "gain", ",size=1.3") {
            let rest = f64::from(broken) - 1.3 * f64::from(sound);
            assert!(rest.abs() <= 0.5 * 1.3 + 0.5 + 1e-9, "{q:?}: {rest}");
        }
    }
}

#[test]
fn sign_turns() {
    for q in Quantity::ALL.into_iter().filter(|q| *q != Quantity::Supply) {
        assert!(pairs(q, "sign", "").iter().all(|(s, b)| *b == -s));
    }
}

#[test]
fn noise_has_its_size_and_no_colour() {
    for q in Quantity::ALL {
        let noise: Vec<f64> = pairs(q, "noise", "")
            .iter()
            .map(|(s, b)| f64::from(b - s) / per_unit(q))
            .collect();
        let n = noise.len() as f64;
        let mean = noise.iter().sum::<f64>() / n;
        let square = noise.iter().map(|x| x * x).sum::<f64>() / n;
        let next = noise.windows(2).map(|w| w[0] * w[1]).sum::<f64>() / n;
        let stated = size(q, "noise");
        // Four standard deviations of each: 1/sqrt(700) of the size, of 2/sqrt of it for the square.
        assert!(mean.abs() < 4.0 * stated / n.sqrt(), "{q:?}: {mean}");
        assert!((square / stated.powi(2) - 1.0).abs() < 4.0 * (2.0 / n).sqrt());
        assert!((next / stated.powi(2)).abs() < 4.0 / n.sqrt());
    }
}

#[test]
fn spikes_come_up_and_down_in_turn() {
    for q in Quantity::ALL {
        let height = (size(q, "spikes") * per_unit(q)).round() as i32;
        for (n, (sound, broken)) in pairs(q, "spikes", "").into_iter().enumerate() {
            let stated = match (n % 50, n / 50 % 2) {
                (0, 0) => height,
                (0, _) => -height,
                _ => 0,
            };
            assert_eq!(broken, sound + stated, "{q:?} {n}");
        }
    }
}

#[test]
fn saturation_clamps() {
    for q in Quantity::ALL {
        // A range that most of the samples pass.
        let counts = 20;
        let numbers = format!(",size={}", f64::from(counts) / per_unit(q));
        let low = if q == Quantity::Supply { 0 } else { -counts };
        for (sound, broken) in pairs(q, "saturated", &numbers) {
            assert_eq!(broken, sound.clamp(low, counts), "{q:?}");
        }
    }
}

#[test]
fn coarse_has_multiples_only() {
    for q in Quantity::ALL {
        for (sound, broken) in pairs(q, "coarse", ",size=5") {
            assert_eq!(broken, sound.div_euclid(32) * 32, "{q:?}");
        }
    }
}

#[test]
fn delayed_is_what_was_there_then() {
    for q in Quantity::ALL {
        let all = sound(q);
        for (n, (_, broken)) in pairs(q, "delayed", ",size=0.02").into_iter().enumerate() {
            assert_eq!(broken, all[ONSET as usize + n - 20], "{q:?} {n}");
        }
    }
}

#[test]
fn two_are_swapped() {
    use Quantity as Q;
    for (a, b) in [
        (Q::FloorAccel, Q::SeatAccel),
        (Q::FloorAccel, Q::Travel),
        (Q::SeatAccel, Q::Travel),
        (Q::Travel, Q::Current),
    ] {
        let text = format!("{}-{}-swapped:onset=1.5", a.name(), b.name());
        for (k, (sound, broken)) in twin_frames(&[&text], 2500).into_iter().enumerate() {
            let mut stated = sound;
            if k >= 1500 {
                a.put(&mut stated, b.of(&sound));
                b.put(&mut stated, a.of(&sound));
            }
            assert_eq!(broken, stated, "{text}: {k}");
        }
    }
}

/// What acts before the converter is rounded once, with the reading; two faults of one sensor follow each other.
#[test]
fn faults_of_one_sensor_add_up() {
    let both = [
        "travel-bias:onset=1,size=0.002",
        "travel-coarse:onset=1.2,size=3",
    ];
    for (k, (sound, broken)) in twin_frames(&both, 2000).into_iter().enumerate() {
        let biased = i32::from(sound.travel) + if k >= 1000 { 100 } else { 0 };
        let stated = if k >= 1200 { biased & !7 } else { biased };
        assert_eq!(i32::from(broken.travel), stated, "{k}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    /// Any onset, duration and delay, to the period.
    #[test]
    fn delay_of_any_length(onset in 0_u64..600, lasts in 0_u64..600, late in 1_u64..300) {
        let ms = |n: u64| n as f64 * STEP_S;
        let text = format!(
            "travel-delayed:onset={},duration={},size={}", ms(onset), ms(lasts), ms(late)
        );
        let frames = twin_frames(&[&text], 800);
        for (k, (_, broken)) in frames.iter().enumerate() {
            let k = k as u64;
            let acts = k >= onset && k < onset + lasts;
            let then = if acts { k.saturating_sub(late) } else { k };
            prop_assert_eq!(broken.travel, frames[then as usize].0.travel);
        }
    }
}
