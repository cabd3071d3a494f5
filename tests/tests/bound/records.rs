//! Bounds of whole records: discretisation, windows, limits that never act, very short travel.

use host_sim::bound::{self, Bound, BoundSpec, SolverStatus, Windows, causal, share_of_possible};
use host_sim::floor::spectra::SPECTRA;
use host_sim::floor::{self, FloorSpec};

fn spec(name: &str, level: f64, seconds: f64, travel_m: f64) -> BoundSpec {
    let floor = FloorSpec {
        level,
        ..FloorSpec::named(name)
    };
    BoundSpec::new(floor, 1000.0, seconds, 2.0, travel_m)
}

fn bound(spec: &BoundSpec) -> Bound {
    bound::run(spec, || false, |_| ()).expect("a bound")
}

fn seat_value(bound: &Bound) -> f64 {
    bound.seat_value.expect("the floor moves")
}

/// Half the step from knot to knot, and the travel checked at every sample: the errors that the documents state. Our
/// own choice of accuracy.
#[test]
fn a_finer_grid_changes_little() {
    for (name, travel_m, seat_error, peak_share) in [
        ("hauler", 0.045, 0.002, 0.02),
        ("road-e", 0.045, 0.002, 0.02),
        ("hauler", 0.010, 0.002, 0.02),
        // 2 % of 0.32.
        ("ballast", 0.001, 0.005, 0.02),
    ] {
        let coarse = spec(name, 2.5, 8.0, travel_m);
        let fine = BoundSpec {
            rms_knot_s: 0.5 * coarse.rms_knot_s,
            peak_knot_s: 0.4 * coarse.peak_knot_s,
            ..coarse.clone()
        };
        let (coarse, fine) = (bound(&coarse), bound(&fine));
        let seat = seat_value(&coarse) - seat_value(&fine);
        let peak = coarse.peak_mps2 / fine.peak_mps2 - 1.0;
        println!(
            "{name} {travel_m}: {:.5} {seat:+.5}, {:.4} {peak:+.4}",
            seat_value(&fine),
            fine.peak_mps2
        );
        assert!(seat.abs() < seat_error, "{name} {travel_m}: {seat}");
        assert!(peak.abs() < peak_share, "{name} {travel_m}: {peak}");
    }
}

/// The travel is kept at every sample, the program's own figure is what the meter reads, and the least is no more
/// than what a seat fixed to the floor feels; from 1 mm of travel to more than is needed.
#[test]
fn a_motion_keeps_to_its_travel_and_the_meter_agrees() {
    for (name, level) in [("hauler", 2.5), ("ballast", 2.5), ("road-e", 1.0)] {
        let mut last = f64::INFINITY;
        for travel_m in [0.001, 0.010, 0.045, 0.5] {
            let b = bound(&spec(name, level, 8.0, travel_m));
            let over = b.travel_peak_m - travel_m;
            println!("{name} {travel_m}: {b:?}");
            assert!(
                over < (0.003 * travel_m).max(2.0e-5),
                "{name} {travel_m}: {over} m over"
            );
            let apart = b.weighted_rms_mps2 - b.program_rms_mps2;
            assert!(
                apart.abs() < 2.0e-3 * b.weighted_rms_mps2 + 1.0e-4 * b.floor_weighted_rms_mps2,
                "{name} {travel_m}: {apart}"
            );
            // More travel, less vibration.
            assert!(seat_value(&b) < 1.0 && seat_value(&b) <= last + 1.0e-3);
            last = seat_value(&b);
        }
    }
}

#[test]
fn where_the_seat_can_stand_still_the_bound_is_nothing() {
    for (name, level) in [("ballast", 2.5), ("crawler", 1.0)] {
        let b = bound(&spec(name, level, 12.0, 0.045));
        assert_eq!(b.status, SolverStatus::Still);
        assert_eq!((b.seat_value, b.peak_mps2), (Some(0.0), 0.0));
        assert!(b.travel_peak_m > 0.0 && b.travel_peak_m < 0.045);
    }
    // A floor at rest: no SEAT value, nothing to share.
    let b = bound(&spec("hauler", 0.0, 12.0, 0.045));
    assert_eq!((b.seat_value, b.weighted_rms_mps2), (None, 0.0));
    assert_eq!(share_of_possible(None, None, b.seat_value), None);
}

/// The travel is just too short to stand still: the solver's nothing stays below what is stated, 0.001.
#[test]
fn a_limit_that_hardly_acts_gives_almost_nothing() {
    let free = bound(&spec("ballast", 2.5, 12.0, 0.045));
    let b = bound(&spec("ballast", 2.5, 12.0, 0.97 * free.travel_peak_m));
    assert_eq!(b.status, SolverStatus::Solved);
    assert!(seat_value(&b) < 0.001, "{b:?}");
}

/// A record in overlapping windows against the same record in one piece.
#[test]
fn windows_cost_next_to_nothing() {
    for (name, level) in [("hauler", 2.5), ("road-e", 2.5)] {
        let whole = spec(name, level, 40.0, 0.045);
        let cut = BoundSpec {
            windows: Windows {
                whole_s: 1.0,
                kept_s: 10.0,
                ahead_s: 5.0,
            },
            ..whole.clone()
        };
        let (whole, cut) = (bound(&whole), bound(&cut));
        println!("{name}: {whole:?}\n{cut:?}");
        assert_eq!(whole.windows, 1);
        assert!(cut.windows > 2);
        let seat = seat_value(&cut) / seat_value(&whole) - 1.0;
        assert!(seat.abs() < 1.0e-3, "{name}: {seat}");
        // A window's peak is never above that of the whole, but for the grid.
        let peak = cut.peak_mps2 / whole.peak_mps2 - 1.0;
        assert!((-0.01..2.0e-3).contains(&peak), "{name}: {peak}");
    }
}

/// The floor's filter as the causal law knows it, against the floor's own density.
#[test]
fn the_causal_law_knows_the_floor() {
    let frequencies = [0.1, 0.5, 1.5, 3.0, 8.0, 20.0, 40.0];
    for spectrum in &SPECTRA {
        let model = causal::FloorModel::spectrum(spectrum, 1000.0);
        let density = floor::model_density(&FloorSpec::named(spectrum.name), 1000.0, &frequencies)
            .expect("a floor")
            .expect("a random one");
        for (f, expected) in frequencies.iter().zip(density) {
            let ours = model.gain(*f).powi(2) * spectrum.density_mps4_per_hz;
            assert!(
                (ours - expected).abs() < 1.0e-6 * expected + 1.0e-12,
                "{} {f} Hz: {ours} {expected}",
                spectrum.name
            );
        }
    }
}

/// The causal law fills the travel on its own record and lies between the bound and a seat fixed to the floor.
#[test]
fn the_causal_law_lies_above_the_bound() {
    for (name, level) in [("hauler", 2.5), ("grader", 2.5), ("loader", 1.5)] {
        let spec = spec(name, level, 20.0, 0.045);
        let least = bound(&spec);
        let law = causal::best(&spec.floor, 1000.0, 20.0, 2.0, 0.045, || false)
            .expect("a law")
            .expect("an invented floor");
        println!("{name}: {law:?}");
        assert!((law.travel_peak_m / 0.045 - 1.0).abs() < 1.0e-3, "{law:?}");
        assert!(law.weighted_rms_mps2 > least.weighted_rms_mps2);
        assert!(law.weighted_rms_mps2 < least.floor_weighted_rms_mps2);
    }
    let road = FloorSpec::named("road-e");
    let none = causal::best(&road, 1000.0, 20.0, 2.0, 0.045, || false).expect("no error");
    assert!(none.is_none());
}

#[test]
fn values_out_of_range_are_refused() {
    for (travel_m, seconds, field) in [
        (0.0, 12.0, "travel"),
        (f64::NAN, 12.0, "travel"),
        (0.045, 0.0, "seconds"),
        (0.045, 2.0, "skip"),
    ] {
        let error = bound::run(&spec("hauler", 1.0, seconds, travel_m), || false, |_| ())
            .expect_err("out of range");
        assert!(error.to_string().contains(field), "{error}");
    }
}
