//! The numbers in the law's memory: all are found, where they are, and one bit of one turns over.

mod fault_support;

use fault_support::rig;
use firmware::{Cycle, SensorFrame, Switches};
use host_sim::design;
use host_sim::fault::memory::{Plain, Word, flip, number, places};
use host_sim::ride::{self, Arithmetic, RideSpec};
use shared_math::{Q24, Scalar};
use std::collections::BTreeSet;

fn law<S: Scalar>() -> Cycle<S> {
    Cycle::new(&design::parameters(&rig()).expect("parameters")).expect("a cycle")
}

/// Frames of a seated, armed machine that shakes.
fn frames(count: u16) -> impl Iterator<Item = SensorFrame> {
    (0..count).map(|k| SensorFrame {
        sequence: k,
        floor_accel: (300.0 * f64::sin(f64::from(k) * 0.02)) as i16 + (k % 7) as i16,
        seat_accel: (100.0 * f64::sin(f64::from(k) * 0.02 + 0.5)) as i16 + (k % 5) as i16,
        travel: (200.0 * f64::cos(f64::from(k) * 0.02)) as i16,
        supply: 4800,
        coil_temperature: 250,
        switches: Switches(Switches::ARM | Switches::OCCUPANT | Switches::STOP_CIRCUIT),
        ..SensorFrame::default()
    })
}

/// A law after some time, and its twin in words, which has given the same answers.
fn aged<S: Plain>() -> (Cycle<S>, Cycle<Word<S>>) {
    let (mut plain, mut words) = (law::<S>(), law::<Word<S>>());
    for frame in frames(3000) {
        assert_eq!(plain.step(&frame), words.step(&frame));
    }
    (plain, words)
}

fn all_numbers<S: Plain>(cycle: &mut Cycle<Word<S>>) -> Vec<S> {
    let count = places(cycle).len();
    (0..count)
        .map(|n| *number(cycle, n).expect("a number"))
        .collect()
}

/// The text of the twin shows the value of every number where the text of the words shows its place.
fn every_number_is_found<S: Plain>() {
    let (plain, mut words) = aged::<S>();
    let stated = format!("{plain:#?}");
    let shown = format!("{words:#?}");
    assert_eq!(stated.lines().count(), shown.lines().count());
    let values = all_numbers(&mut words);
    let mut found = values.iter();
    for (stated, shown) in stated.lines().zip(shown.lines()) {
        if shown.contains('@') {
            let value = format!("{:?}", found.next().expect("a number"));
            let stated = stated.trim().trim_end_matches(',');
            let stated = stated.rsplit(": ").next().expect("a value");
            assert_eq!(value, stated);
        } else {
            assert_eq!(stated, shown);
        }
    }
    assert_eq!(found.next().map(|v| format!("{v:?}")), None);
    let places = places(&words);
    let paths: BTreeSet<&str> = places.iter().map(|p| p.path.as_str()).collect();
    assert_eq!(paths.len(), places.len(), "each has a path of its own");
    for path in [
        "static_force",
        "weigh.mass",
        "limit.disturbance",
        "isolate.integral",
    ] {
        assert!(paths.contains(path), "{path} is missing");
    }
    assert!(places.iter().any(|p| p.is_constant()));
    assert!(places.iter().any(|p| !p.is_constant()));
}

#[test]
fn every_number_is_found_where_it_is() {
    every_number_is_found::<f32>();
    every_number_is_found::<f64>();
}

/// One bit of one number, nothing else; twice is as before.
fn one_bit<S: Plain>(bits: impl Fn(S) -> u64) {
    let (_, mut words) = aged::<S>();
    let before = all_numbers(&mut words);
    let last = before.len() as u64 * u64::from(S::BITS) - 1;
    for bit in [0, 1, 31, 32, 4321, last / 2, last] {
        flip(&mut words, bit);
        let after = all_numbers(&mut words);
        for (n, (a, b)) in before.iter().zip(&after).enumerate() {
            let here = n as u64 == bit / u64::from(S::BITS);
            let stated = if here {
                1 << (bit % u64::from(S::BITS))
            } else {
                0
            };
            assert_eq!(bits(*a) ^ bits(*b), stated, "bit {bit}, number {n}");
        }
        flip(&mut words, bit);
    }
    flip(&mut words, last + 1);
    let same = all_numbers(&mut words);
    assert!(before.iter().zip(&same).all(|(a, b)| bits(*a) == bits(*b)));
}

#[test]
fn one_bit_of_one_number_turns_over() {
    one_bit::<f32>(|x| x.to_bits().into());
    one_bit::<f64>(f64::to_bits);
    one_bit::<Q24>(|x| x.to_bits().cast_unsigned().into());
}

/// A law with a flipped bit goes on without a panic and within the frame's limits, whichever bit it is.
#[test]
fn any_bit_leaves_a_law_that_answers() {
    let (_, words) = aged::<f32>();
    let last = places(&words).len() as u64 * 32;
    let mut bit = 0;
    while bit < last {
        let mut struck = words.clone();
        flip(&mut struck, bit);
        for frame in frames(3040).skip(3000) {
            let answer = struck.step(&frame);
            assert!(answer.current_command.unsigned_abs() <= 19_001, "bit {bit}");
        }
        bit += 97;
    }
}

/// A ride with a flip that has no effect is the ride without: the law in words computes the same bits.
#[test]
fn words_ride_as_plain_numbers_do() {
    for arithmetic in [Arithmetic::F32, Arithmetic::Fixed] {
        let mut spec = RideSpec::on(host_sim::floor::FloorSpec::named("hauler"));
        (spec.seconds, spec.skip_s, spec.arithmetic) = (3.0, 1.0, arithmetic);
        let mut rides = [Vec::new(), Vec::new()];
        for (faults, drives) in [None, Some("memory-flip:onset=2.999")]
            .iter()
            .zip(&mut rides)
        {
            spec.faults = faults.iter().map(|f| fault_support::fault(f)).collect();
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
        spec.faults = vec![fault_support::fault(&format!("memory-flip:size={size}"))];
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
}
