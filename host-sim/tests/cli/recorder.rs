//! `becalm ride --recorder`, `becalm replay` of what it froze, `becalm readout`: what a user sees of a recording.

use crate::common::Bench;

/// Rides on the hauler floor; the travel sensor breaks on the way.
fn broken_ride(bench: &Bench, more: &[&str]) {
    let ride = [
        "ride",
        "--floor",
        "hauler",
        "--seconds",
        "10",
        "--no-bound",
        "--json",
    ];
    let run = bench.run(&[&ride, more, &["--fault", "travel-dead:onset=7"]].concat());
    // The seat may meet a stop: that is the ride's affair.
    assert!(run.code < 2, "{}", run.err);
}

/// Rides on rough ground and leaves a recording of the fault.
fn recorded(bench: &Bench, more: &[&str]) {
    let recorder = ["--level", "2.5", "--recorder", "fault.recording"];
    broken_ride(bench, &[&recorder, more].concat());
}

#[test]
fn a_fault_of_a_ride_is_recorded_and_replayed() {
    for arithmetic in ["f32", "fixed"] {
        let bench = Bench::new();
        recorded(&bench, &["--arithmetic", arithmetic]);
        let run = bench.run(&["replay", "fault.recording", "--json"]);
        assert_eq!((run.code, run.err.as_str()), (0, ""));
        let told: serde_json::Value = serde_json::from_str(&run.out).expect("JSON");
        assert_eq!(told["identical"], true);
        assert_eq!(told["arithmetic"], arithmetic);
        assert_eq!(told["frames"], 4096);
        assert_eq!(told["blocks"], 8);
        assert!(!told["first_fault"].as_array().expect("names").is_empty());
        let changes = told["changes"].as_array().expect("changes");
        let mode = changes[0]["mode"].as_str().expect("a mode");
        assert!(["active", "beyond"].contains(&mode), "{mode}");
        let at_fault = changes
            .iter()
            .find(|c| c["time_s"] == 0.0)
            .expect("the fault");
        assert_eq!(at_fault["faults"], told["first_fault"]);
        // By the onset at 7 s, seen soon after; 8 blocks of 512 periods.
        let before = told["frames_given_up"].as_u64().expect("a count");
        let fault = before + told["fault_frame"].as_u64().expect("a count");
        assert!(
            (7000..7400).contains(&fault) && before.is_multiple_of(512),
            "{fault} {before}"
        );

        let run = bench.run(&["replay", "fault.recording", "--trace", "fault.csv"]);
        assert_eq!((run.code, run.err.as_str()), (0, ""));
        assert!(
            run.out.contains("bit-identical, from every block on"),
            "{}",
            run.out
        );
        assert!(run.out.contains("First fault: "), "{}", run.out);
        let rows = bench.read("fault.csv");
        let mut lines = rows.lines();
        let columns = lines.next().expect("a header").split(',').count();
        assert_eq!(lines.clone().count(), 4096);
        assert!(lines.clone().all(|line| line.split(',').count() == columns));
        let zero = lines
            .find(|line| line.starts_with("0.000000,"))
            .expect("the fault's row");
        assert!(!zero.ends_with(",0"), "{zero}");
    }
}

/// The recorder changes nothing of the ride; a struck bit shows in the replay as what no frame explains.
#[test]
fn the_ride_is_the_same_and_struck_memory_is_seen() {
    let bench = Bench::new();
    recorded(&bench, &["--trace", "with.csv"]);
    broken_ride(&bench, &["--level", "2.5", "--trace", "without.csv"]);
    assert_eq!(bench.read("with.csv"), bench.read("without.csv"));

    // The step counter: nothing puts it right, and no answer depends on it.
    let places = host_sim::fault::memory::places::<f32>();
    let word = places
        .iter()
        .position(|p| p.path == "step")
        .expect("the counter");
    let flip = format!("memory-flip:onset=6.8,size={}", 32 * word);
    broken_ride(&bench, &["--recorder", "flip.recording", "--fault", &flip]);
    let run = bench.run(&["replay", "flip.recording"]);
    assert_eq!(run.code, 1, "{}{}", run.out, run.err);
    assert!(
        run.err
            .contains("does not give the recorded bits in 1 of 8 blocks"),
        "{}",
        run.err
    );
    assert!(run.err.contains("the state's step is"), "{}", run.err);
}

/// A ride of 8 s with a recorder.
fn ride<'a>(more: &[&'a str]) -> Vec<&'a str> {
    let ride = [
        "ride",
        "--seconds",
        "8",
        "--no-bound",
        "--json",
        "--recorder",
        "x.recording",
    ];
    [&ride, more].concat()
}

#[test]
fn rides_that_record_nothing_are_refused() {
    let bench = Bench::new();
    bench.refused(&ride(&[]), &["froze no recording", "no fault came"]);
    bench.refused(
        &ride(&["--fault", "travel-dead:onset=7.5", "--level", "2.5"]),
        &["too close to the end"],
    );
    bench.refused(&ride(&["--arithmetic", "f64"]), &["expected f32 or fixed"]);
    bench.refused(&ride(&["--fault", "watchdog:onset=7"]), &["fault watchdog"]);
    bench.refused(&ride(&["--core", "m4f"]), &["--core"]);
    bench.write("mine.txt", "mine");
    bench.refused(
        &["ride", "--seconds", "8", "--json", "--recorder", "mine.txt"],
        &["mine.txt", "not made by becalm"],
    );
}

#[test]
fn bad_recordings_and_uses_are_refused() {
    let bench = Bench::new();
    recorded(&bench, &[]);
    let good = std::fs::read(bench.path("fault.recording")).expect("the recording");
    bench.write("short.recording", &good[..5000]);
    let mut damaged = good.clone();
    damaged[5000] ^= 1;
    bench.write("damaged.recording", &damaged);
    bench.refused(
        &["replay", "short.recording"],
        &["short.recording", "5000 bytes"],
    );
    bench.refused(
        &["replay", "damaged.recording"],
        &["checksum of the recording"],
    );
    bench.refused(
        &["replay", "fault.recording", "--core", "m4f"],
        &["expected host"],
    );
    bench.refused(
        &["replay", "fault.recording", "--trace", "fault.recording"],
        &["fault.recording"],
    );
    let shown = bench.run(&["rig", "show"]).out;
    let other = shown.replace("forecast_gain = 1.", "forecast_gain = 1.0");
    assert_ne!(shown, other);
    bench.write("other.toml", &other);
    bench.refused(
        &["replay", "fault.recording", "--rig", "other.toml"],
        &["other parameters"],
    );
    bench.refused(&["readout", "--core", "m4f"], &["serial:PATH"]);
    bench.refused(&["readout", "--core", "serial:nowhere"], &["nowhere"]);
    bench.refused(
        &["readout", "--core", "serial:nowhere", "--release"],
        &["FILE"],
    );
}
