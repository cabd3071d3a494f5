//! The law's memory: all of it is words with a name, any bit of it turns over, and a snapshot goes on.

use becalm_tests::faults::{fault, rig};
use firmware::{Cycle, DriveFrame, Mode, SensorFrame};
use host_sim::cores::workload::ride_frames;
use host_sim::design;
use host_sim::fault::memory::{bits, flip, places};
use host_sim::floor::FloorSpec;
use host_sim::ride::{self, Arithmetic, RideSpec};
use shared_math::{Plain, Q24, Scalar, WordKind};
use std::any::TypeId;
use std::collections::BTreeSet;
use std::sync::OnceLock;

fn law<S: Scalar>() -> Cycle<S> {
    Cycle::new(&design::parameters(&rig()).expect("parameters")).expect("a cycle")
}

/// Frames of a ride in which this law drives: somebody is lifted and shaken.
fn frames<S: 'static>(count: usize) -> impl Iterator<Item = SensorFrame> {
    static SINGLE: OnceLock<Vec<SensorFrame>> = OnceLock::new();
    static FIXED: OnceLock<Vec<SensorFrame>> = OnceLock::new();
    let (all, arithmetic) = if TypeId::of::<S>() == TypeId::of::<Q24>() {
        (&FIXED, Arithmetic::Fixed)
    } else {
        (&SINGLE, Arithmetic::F32)
    };
    let all = all.get_or_init(|| {
        let mut spec = RideSpec::on(FloorSpec::named("hauler"));
        spec.seconds = 3.1;
        spec.skip_s = 0.0;
        spec.arithmetic = arithmetic;
        ride_frames(&rig(), &spec).expect("a ride")
    });
    assert!(count <= all.len());
    all.iter().take(count).copied()
}

/// A law after some time.
fn aged<S: Scalar>() -> Cycle<S> {
    let mut cycle = law::<S>();
    for frame in frames::<S>(3000) {
        cycle.step(&frame);
    }
    assert!(cycle.mode().drives(), "{:?}", cycle.mode());
    cycle
}

#[test]
fn every_word_has_a_name_of_its_own() {
    let places = places::<f32>();
    // The last word is the bench's own.
    assert_eq!(places.len() + 1, Cycle::<f32>::WORDS);
    assert_eq!(4 * (places.len() + 1), size_of::<Cycle<f32>>());
    assert_eq!(bits::<f32>(), 32 * places.len() as u64);
    let paths: BTreeSet<&str> = places.iter().map(|p| p.path.as_str()).collect();
    assert_eq!(paths.len(), places.len());
    for path in [
        "static_force",
        "weigh.mass",
        "limit.disturbance",
        "isolate.integral",
        "supervise.standing.0",
        "estimate.even_turn",
        "events.noted",
        "config.estimate.gains.3.until",
    ] {
        assert!(paths.contains(path), "{path} is missing");
    }
    let state = places.iter().filter(|p| !p.is_constant()).count();
    assert_eq!(state, Cycle::<f32>::STATE_WORDS);
    assert!(places[..state].iter().all(|p| !p.is_constant()));
}

/// A name leads to the word that holds the value: words against what the law says of itself.
#[test]
fn names_and_words_agree() {
    let cycle = aged::<f32>();
    let places = places::<f32>();
    let word = |path: &str| {
        let n = places.iter().position(|p| p.path == path).expect("a place");
        (places[n].kind, cycle.words()[n])
    };
    let mut twin = cycle.clone();
    let next = frames::<f32>(3001).last().expect("a frame");
    let (_, inside) = twin.watch(&next);
    let after = |path: &str| {
        let n = places.iter().position(|p| p.path == path).expect("a place");
        twin.words()[n]
    };
    let (kind, standing) = word("supervise.standing.0");
    assert_eq!(
        (kind, standing as u8),
        (WordKind::Whole, cycle.mode().code())
    );
    assert_eq!(after("weigh.mass"), inside.mass.to_bits());
    assert_eq!(
        after("limit.disturbance"),
        inside.drive.disturbance.to_bits()
    );
    assert_eq!(
        after("estimate.observer.state.3"),
        inside.motion.travel.to_bits()
    );
    assert_eq!(after("arrest.astray"), inside.arrest.astray.to_bits());
    assert_eq!(word("weigh.mass").0, WordKind::Number);
}

/// One bit of one word, nothing else; twice is as before; beyond the end nothing.
fn one_bit<S: Scalar + Plain>() {
    let mut cycle = aged::<S>();
    let before = cycle.words().to_vec();
    let last = bits::<S>() - 1;
    for bit in [0, 1, 31, 32, 4321, last / 2, last] {
        flip(&mut cycle, bit);
        for (n, (a, b)) in before.iter().zip(cycle.words()).enumerate() {
            let here = n as u64 == bit / 32;
            let stated = if here { 1 << (bit % 32) } else { 0 };
            assert_eq!(a ^ b, stated, "bit {bit}, word {n}");
        }
        flip(&mut cycle, bit);
    }
    flip(&mut cycle, last + 1);
    assert_eq!(cycle.words(), before);
}

#[test]
fn one_bit_of_one_word_turns_over() {
    one_bit::<f32>();
    one_bit::<Q24>();
}

/// A snapshot loaded into a new controller goes on with the same bits, in every mode and turn.
fn goes_on<S: Scalar + Plain>() {
    let mut cycle = law::<S>();
    for (k, frame) in frames::<S>(400).enumerate() {
        cycle.step(&frame);
        if k % 23 != 0 {
            continue;
        }
        let (mut whole, mut loaded) = (cycle.clone(), law::<S>());
        assert_eq!(loaded.config_words(), whole.config_words());
        assert!(loaded.load(cycle.state_words()));
        for frame in frames::<S>(700).skip(k + 1).take(300) {
            assert_eq!(loaded.step(&frame), whole.step(&frame));
        }
        assert_eq!(loaded.words(), whole.words());
        assert!(loaded.events().eq(whole.events()));
    }
    let before = cycle.words().to_vec();
    assert!(!cycle.load(&before[1..]), "of another length");
    assert_eq!(cycle.words(), before);
}

#[test]
fn a_snapshot_goes_on_with_the_same_bits() {
    goes_on::<f32>();
    goes_on::<Q24>();
}

/// A law with a flipped bit goes on without a panic and within the frame's limits, whichever word it is in.
fn any_bit_answers<S: Scalar + Plain>() {
    let cycle = aged::<S>();
    let mut bit = 0;
    while bit < bits::<S>() {
        let mut struck = cycle.clone();
        flip(&mut struck, bit);
        for frame in frames::<S>(3040).skip(3000) {
            let answer = struck.step(&frame);
            assert!(Mode::from_code(answer.mode).is_some(), "bit {bit}");
            let idle = !answer.has(DriveFrame::ENABLE);
            // Where it does not drive, that is the share of the brake.
            assert!(!idle || answer.current_command >= 0, "bit {bit}");
        }
        assert!(struck.events().count() <= 16);
        bit += 31;
    }
}

#[test]
fn any_bit_leaves_a_law_that_answers() {
    any_bit_answers::<f32>();
    any_bit_answers::<Q24>();
}

/// Whole words of nonsense, not one bit alone: no panic, no endless loop.
#[test]
fn any_word_leaves_a_law_that_answers() {
    let cycle = aged::<f32>();
    for n in 0..Cycle::<f32>::WORDS {
        for pattern in [0, 1, 16, 0x7FFF_FFFF, 0x8000_0000, 0xFFFF_FFFF, 0x7FC0_0000] {
            let mut struck = cycle.clone();
            struck.words_mut()[n] = pattern;
            for frame in frames::<f32>(3020).skip(3000) {
                let answer = struck.step(&frame);
                assert!(Mode::from_code(answer.mode).is_some());
            }
            assert!(struck.events().count() <= 16);
        }
    }
}

/// A ride with a flip is the ride without it until then.
#[test]
fn a_ride_is_the_same_until_it_is_struck() {
    for arithmetic in [Arithmetic::F32, Arithmetic::Fixed] {
        let mut spec = RideSpec::on(host_sim::floor::FloorSpec::named("hauler"));
        (spec.seconds, spec.skip_s, spec.arithmetic) = (3.0, 1.0, arithmetic);
        let mut rides = [Vec::new(), Vec::new()];
        for (faults, drives) in [None, Some("memory-flip:onset=2.999")]
            .iter()
            .zip(&mut rides)
        {
            spec.faults = faults.iter().map(|f| fault(f)).collect();
            ride::run(&rig(), &spec, |s| {
                drives.push(s.drive);
                true
            })
            .expect("a ride");
        }
        assert_eq!(rides[0][..2999], rides[1][..2999]);
    }
}

#[test]
fn a_bit_beyond_the_memory_is_refused() {
    let mut spec = RideSpec::on(host_sim::floor::FloorSpec::named("hauler"));
    spec.seconds = 12.0;
    for size in ["900000", "3.5"] {
        spec.faults = vec![fault(&format!("memory-flip:size={size}"))];
        let error = ride::run(&rig(), &spec, |_| true)
            .expect_err("refused")
            .to_string();
        assert!(
            error.contains(&format!(
                "size = {size}: expected a whole number from 0 to "
            )),
            "{error}"
        );
    }
    spec.faults = vec![fault("memory-flip")];
    spec.arithmetic = Arithmetic::F64;
    let error = ride::run(&rig(), &spec, |_| true).expect_err("refused");
    assert!(
        error.to_string().contains("expected f32 or fixed"),
        "{error}"
    );
}
