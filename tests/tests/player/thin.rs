//! Thinning and packing of a ride: against brute force, RFC 4648 and the definition of rounding.

use host_sim::player::pack;
use host_sim::player::thin::{FACTOR, INSTANTS, Period, TRACES, Thinner};
use proptest::prelude::*;

/// Periods whose every value says which period and which signal it is.
fn telling(k: usize) -> Period {
    Period {
        traces: std::array::from_fn(|i| (k * 100 + i) as f64),
        instants: std::array::from_fn(|i| (k * 100 + 50 + i) as f64),
    }
}

/// Least and greatest of one trace over some periods, by looking at all.
fn extremes(periods: &[Period], trace: usize) -> (f64, f64) {
    let values = periods.iter().map(|p| p.traces[trace]);
    values
        .filter(|v| !v.is_nan())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), v| {
            (lo.min(v), hi.max(v))
        })
}

fn thinned(periods: &[Period], capacity: usize) -> Thinner {
    let mut thinner = Thinner::new(capacity);
    periods.iter().for_each(|p| thinner.push(p));
    thinner
}

fn check(periods: &[Period], capacity: usize) -> Result<(), TestCaseError> {
    let thinner = thinned(periods, capacity);
    prop_assert_eq!(thinner.pushed(), periods.len() as u64);
    prop_assert!(thinner.width().is_power_of_two());
    prop_assert!(thinner.levels()[0].ranges.len() <= capacity.max(2).next_multiple_of(2));
    for (n, level) in thinner.levels().iter().enumerate() {
        prop_assert_eq!(level.width, thinner.width() * (FACTOR as u64).pow(n as u32));
        let width = level.width as usize;
        prop_assert_eq!(level.ranges.len(), periods.len().div_ceil(width));
        for (i, range) in level.ranges.iter().enumerate() {
            let own = &periods[i * width..((i + 1) * width).min(periods.len())];
            for trace in 0..TRACES {
                let (least, greatest) = extremes(own, trace);
                prop_assert_eq!(range.least[trace], least);
                prop_assert_eq!(range.greatest[trace], greatest);
            }
        }
    }
    // Instants: as they were, at times that are exact multiples.
    let width = thinner.width() as usize;
    prop_assert_eq!(thinner.instants().len(), periods.len().div_ceil(width));
    for (i, instants) in thinner.instants().iter().enumerate() {
        for (n, instant) in instants.iter().enumerate().take(INSTANTS) {
            prop_assert_eq!(*instant, periods[i * width].instants[n]);
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    #[test]
    fn every_peak_survives_at_every_level(
        length in 1_usize..20_000,
        capacity in 2_usize..4000,
        spikes in prop::collection::vec((0_usize..20_000, 0_usize..TRACES, -1.0e3..1.0e3_f64), 0..20),
        gaps in prop::collection::vec(0_usize..20_000, 0..5),
    ) {
        let mut periods: Vec<Period> = (0..length).map(telling).collect();
        for p in &mut periods {
            for v in &mut p.traces {
                *v = (*v * 0.37).sin();
            }
        }
        for (k, trace, size) in spikes {
            if k < length {
                periods[k].traces[trace] = size;
            }
        }
        for k in gaps {
            if k < length {
                periods[k].traces[0] = f64::NAN;
            }
        }
        check(&periods, capacity)?;
    }

    #[test]
    fn a_count_is_off_by_half_a_count_at_most(peak in 1.0e-6..1.0e6_f64, share in -1.0..1.0_f64) {
        let step = pack::resolution(peak);
        let value = share * peak;
        let shown = f64::from(pack::count(value, step)) * step;
        prop_assert!((shown - value).abs() <= 0.5 * step * (1.0 + 1.0e-9), "{} as {} in steps of {}", value, shown, step);
        prop_assert!(pack::count(value, step) != pack::MISSING);
        // No coarser than a factor of 2.5 more than 16 bits must be, or than the finest that is used.
        prop_assert!(step <= (2.5 * peak / 32_767.0 * (1.0 + 1.0e-9)).max(1.0e-7), "{} for {}", step, peak);
    }

    #[test]
    fn base64_reads_back(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        prop_assert_eq!(decoded(&pack::base64(&bytes)), bytes);
    }
}

/// RFC 4648, section 4, from its words: six bits a letter.
fn decoded(text: &str) -> Vec<u8> {
    let mut bits = 0_u32;
    let mut held = 0;
    let mut bytes = Vec::new();
    for c in text.bytes().filter(|c| *c != b'=') {
        let six = match c {
            b'A'..=b'Z' => c - b'A',
            b'a'..=b'z' => c - b'a' + 26,
            b'0'..=b'9' => c - b'0' + 52,
            b'+' => 62,
            b'/' => 63,
            _ => panic!("{c}"),
        };
        bits = bits << 6 | u32::from(six);
        held += 6;
        if held >= 8 {
            held -= 8;
            bytes.push((bits >> held) as u8);
            bits &= (1 << held) - 1;
        }
    }
    bytes
}

/// RFC 4648, section 10.
#[test]
fn base64_gives_the_test_vectors_of_its_standard() {
    for (plain, text) in [
        ("", ""),
        ("f", "Zg=="),
        ("fo", "Zm8="),
        ("foo", "Zm9v"),
        ("foob", "Zm9vYg=="),
        ("fooba", "Zm9vYmE="),
        ("foobar", "Zm9vYmFy"),
    ] {
        assert_eq!(pack::base64(plain.as_bytes()), text);
    }
}

#[test]
fn counts_stand_with_the_low_byte_first() {
    let bytes = decoded(&pack::text([1, -2, 258].into_iter()));
    assert_eq!(bytes, [1, 0, 254, 255, 2, 1]);
}

#[test]
fn resolutions_are_round_and_what_is_no_number_has_its_own_count() {
    // 1, 2 or 5 times a power of ten, the smallest that holds the peak in 32767 counts; by hand.
    for (peak, step) in [
        (0.0, 1.0e-7),
        (32.767, 0.001),
        (32.768, 0.002),
        (69.0, 0.005),
        (1.0e5, 5.0),
        (0.045, 2.0e-6),
    ] {
        assert_eq!(pack::resolution(peak), step, "{peak}");
    }
    for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        assert_eq!(pack::count(value, 0.001), pack::MISSING);
    }
    assert_eq!(pack::count(1.0e9, 0.001), 32_767);
}

#[test]
fn the_corners_of_length_and_capacity() {
    for length in [1, 2, 3, 7, 8, 9, 63, 64, 65, 4096, 12_001] {
        for capacity in [0, 1, 2, 3, 8, 1500, 12_000, 12_001] {
            let periods: Vec<Period> = (0..length).map(telling).collect();
            check(&periods, capacity).unwrap_or_else(|e| panic!("{length} {capacity}: {e}"));
        }
    }
}
