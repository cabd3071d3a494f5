//! A tiny dossier from end to end: its files, checksums by another program, schema, figures against rides of one's own,
//! verdicts by hand, cache.

use becalm_tests::dossier::{fits_schema, made};
use host_sim::dossier::folder::Baseline;
use host_sim::dossier::record::figures;
use host_sim::dossier::{Dossier, SCHEMA, Stage, Verdict, checksums, verify};
use host_sim::floor::FloorSpec;
use host_sim::limits;
use host_sim::ride::{self, RideSpec};
use serde_json::{Value, json};
use std::collections::BTreeSet;
use std::process::Command;

fn record(folder: &std::path::Path) -> Value {
    let text = std::fs::read_to_string(folder.join("dossier.json")).expect("the record");
    serde_json::from_str(&text).expect("JSON")
}

#[test]
fn the_folder_is_whole() {
    let made = made();
    let folder = made.folder.path();
    for name in [
        "dossier.html",
        "dossier.json",
        "junit.xml",
        "SHA256SUMS",
        "rides.json",
        "faults.json",
        "hunt.json",
    ] {
        assert!(folder.join(name).is_file(), "{name}");
    }
    // Another program agrees with the checksums, and nothing but they is left out of them.
    let sum = Command::new("sha256sum")
        .args(["--check", "--strict", "SHA256SUMS"])
        .current_dir(folder)
        .output();
    match sum {
        Ok(sum) => assert!(
            sum.status.success(),
            "{}",
            String::from_utf8_lossy(&sum.stdout)
        ),
        Err(e) => println!("NOT RUN: sha256sum: {e}"),
    }
    let listed = std::fs::read_to_string(folder.join(checksums::FILE)).expect("checksums");
    let there = std::fs::read_dir(folder).expect("the folder").count();
    assert_eq!(listed.lines().count() + 1, there);
    // FIPS 180-2, appendix B.1.
    assert_eq!(
        checksums::sha256(b"abc"),
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    );
    let page = std::fs::metadata(folder.join("dossier.html"))
        .expect("the page")
        .len();
    assert!((50_000..15_000_000).contains(&page), "{page}");
}

#[test]
fn the_record_fits_its_schema() {
    let schema: Value = serde_json::from_str(SCHEMA).expect("JSON");
    let record = record(made().folder.path());
    assert_eq!(fits_schema(&record, &schema, "$"), Vec::<String>::new());
    // The check can fail: each of these is no such record.
    for (pointer, value) in [
        ("/version", json!(2)),
        ("/verdicts/0/verdict", json!("fine")),
        ("/verdicts/0/value", json!("1")),
        ("/verdicts/0/enforced", json!([])),
        ("/figures/0/extra", json!(1)),
        ("/environment/rig_sha256", json!("abc")),
    ] {
        let mut other = record.clone();
        if let Some(place) = other.pointer_mut(pointer) {
            *place = value;
        } else {
            let (parent, name) = pointer.rsplit_once('/').expect("a name");
            other.pointer_mut(parent).expect("a parent")[name] = value;
        }
        assert_eq!(fits_schema(&other, &schema, "$").len(), 1, "{pointer}");
    }
}

/// The commit is the one that git tells of this tree.
#[test]
fn the_commit_is_that_of_the_sources() {
    let root = concat!(env!("CARGO_MANIFEST_DIR"), "/..");
    let head = Command::new("git")
        .args(["rev-parse", "HEAD"])
        .current_dir(root)
        .output();
    let told = &made().dossier.environment.git;
    match head {
        Ok(head) if head.status.success() => {
            let head = String::from_utf8(head.stdout).expect("a hash");
            let commit = told.split(' ').next();
            assert_eq!(commit, Some(head.trim()));
        }
        _ => assert_eq!(told, "none"),
    }
}

/// The register has a verdict on each limit, and what was not run is said with its limits.
#[test]
fn every_limit_has_a_verdict() {
    let dossier = &made().dossier;
    let register = limits::register();
    assert_eq!(dossier.verdicts.len(), register.limits.len());
    let stages: BTreeSet<&str> = Stage::ALL.iter().map(|s| s.name()).collect();
    for (limit, v) in register.limits.iter().zip(&dossier.verdicts) {
        assert_eq!(limit.id, v.limit);
        for figure in &limit.figure {
            let stage = figure.split('.').next().expect("a stage");
            assert!(stages.contains(stage), "{figure}");
        }
        match v.verdict {
            Verdict::NotDemonstrated => assert!(v.why.is_some(), "{}", v.limit),
            // Only what has no figure at all, and then it claims none.
            Verdict::ByTests => {
                assert!(limit.figure.is_empty() && limit.asserts.is_some());
                assert_eq!(v.why, limit.asserts);
                assert!(v.measured.is_none() && v.margin.is_none() && v.evidence.is_empty());
                assert!(v.command.starts_with("cargo test "), "{}", v.command);
            }
            verdict => {
                let value = dossier.figure(&v.figure).expect("the figure").value;
                assert_eq!(value, v.measured);
                // By hand, both ways round; no number keeps no limit.
                let holds = value.is_some_and(|m| {
                    if v.sense == "at most" {
                        m <= v.value
                    } else {
                        m >= v.value
                    }
                });
                assert_eq!(verdict == Verdict::Holds, holds, "{}", v.limit);
                let margin = value.map(|m| {
                    if v.sense == "at most" {
                        v.value - m
                    } else {
                        m - v.value
                    }
                });
                assert_eq!(v.margin, margin);
                assert!(v.command.starts_with("becalm "), "{}", v.command);
                assert!(
                    made().folder.path().join(&v.evidence).is_file(),
                    "{}",
                    v.evidence
                );
            }
        }
    }
    let modes = dossier
        .not_run
        .iter()
        .find(|n| n.what == "modes")
        .expect("modes were not run");
    assert_eq!(modes.limits, ["modes-claims"]);
    assert_eq!(
        dossier
            .verdicts
            .iter()
            .find(|v| v.limit == "modes-claims")
            .map(|v| v.verdict),
        Some(Verdict::NotDemonstrated)
    );
    // A plan that is not the full one holds without what it leaves out, and never with a broken limit.
    assert_eq!(dossier.holds(), dossier.count(Verdict::Broken) == 0);
    let full = Dossier {
        plan: "full".to_owned(),
        verdicts: vec![
            dossier
                .verdicts
                .iter()
                .find(|v| v.limit == "modes-claims")
                .expect("one")
                .clone(),
        ],
        ..dossier.clone()
    };
    assert!(!full.holds());
}

/// Figures are those of rides made here, with nothing of the dossier's code.
#[test]
fn figures_are_those_of_the_rides() {
    let made = made();
    let spec = |seed| RideSpec {
        seconds: 8.0,
        skip_s: 4.0,
        ..RideSpec::on(FloorSpec {
            level: 2.5,
            seed,
            ..FloorSpec::named("hauler")
        })
    };
    let rides: Vec<_> = [1, 2]
        .map(|seed| ride::run(&made.rig, &spec(seed), |_| true).expect("a ride"))
        .into();
    let figure = |id: &str| made.dossier.figure(id).unwrap_or_else(|| panic!("{id}"));
    let values: Vec<f64> = rides
        .iter()
        .map(|r| r.seat_value.expect("a floor that moves"))
        .collect();
    let seat = figure("rides.seat-value.hauler.2.5");
    assert_eq!(seat.seeds, values);
    assert_eq!(seat.value, Some((values[0] + values[1]) / 2.0));
    let peak = rides.iter().map(|r| r.seat.peak_mps2).fold(0.0, f64::max);
    assert_eq!(figure("rides.seat-peak").value, Some(peak));
    // The command is that of the ride that decides.
    let worst = if rides[0].seat.peak_mps2 == peak {
        1
    } else {
        2
    };
    assert_eq!(
        figure("rides.seat-peak").command,
        format!(
            "becalm ride --floor hauler --level 2.5 --seed {worst} --seconds 8 --skip 4 --no-bound"
        )
    );
    let current = figure("rides.reading.current").value.expect("a number");
    let force = rides
        .iter()
        .map(|r| r.actuator.force_peak_n)
        .fold(0.0, f64::max);
    // Within the rig's error of the force constant, its droop and the sensor's own error.
    assert!(
        (current * made.rig.actuator.force_constant_npa / force - 1.0).abs() < 0.15,
        "{current} {force}"
    );
}

/// A stage that is kept is not run again, and only under the same key.
#[test]
fn what_is_kept_is_taken_up() {
    let made = made();
    let folder = tempfile::tempdir().expect("a folder");
    let open = |plan: &host_sim::dossier::Plan| {
        host_sim::dossier::Cache::open(folder.path(), plan, &made.rig).expect("a cache")
    };
    let plan = becalm_tests::dossier::plan();
    let cache = open(&plan);
    assert!(cache.known(Stage::Rides).is_none());
    let marked = json!({ "rides": [], "marked": 1.0e-300 });
    cache.keep(Stage::Rides, &marked).expect("kept");
    assert_eq!(open(&plan).known(Stage::Rides), Some(marked.clone()));
    assert!(open(&plan).known(Stage::Events).is_none());
    // Taken instead of run.
    let outcome =
        host_sim::dossier::run::stage(Stage::Rides, &made.bench(), &plan, Some(&cache), &|_| ())
            .expect("a stage");
    assert!(matches!(outcome, host_sim::dossier::Outcome::Ran(data) if data == marked));
    let mut other = plan.clone();
    other.rides.seeds += 1;
    assert!(open(&other).known(Stage::Rides).is_none());
    let mut rig = made.rig.clone();
    rig.seat.empty_mass_kg += 1.0;
    assert!(
        host_sim::dossier::Cache::open(folder.path(), &plan, &rig)
            .expect("a cache")
            .known(Stage::Rides)
            .is_none()
    );
    assert_eq!(figures(Stage::Rides, &marked), []);
}

/// A baseline is replaced, a file of somebody else's is not.
#[test]
fn rebasing_replaces_only_a_dossier() {
    let made = made();
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("baseline").join("dossier.json");
    for _ in 0..2 {
        let baseline = Baseline::claim(&file).expect("a baseline");
        baseline.write(&made.dossier).expect("a baseline");
    }
    assert_eq!(verify::read(&file).expect("a dossier"), made.dossier);
    std::fs::write(&file, "mine").expect("a file");
    let said = Baseline::claim(&file).expect_err("refused").to_string();
    assert!(
        said.contains("was not made by becalm") && said.contains("--rebase"),
        "{said}"
    );
    assert_eq!(std::fs::read_to_string(&file).expect("the file"), "mine");
}

/// The committed baseline can be read, is a quick one, and fits the schema.
#[test]
fn the_committed_baseline_is_a_quick_dossier() {
    let file = concat!(env!("CARGO_MANIFEST_DIR"), "/../baseline/dossier.json");
    let baseline = verify::read(std::path::Path::new(file)).expect("the baseline");
    assert_eq!(baseline.plan, "quick");
    let schema: Value = serde_json::from_str(SCHEMA).expect("JSON");
    let text = std::fs::read_to_string(file).expect("the baseline");
    let record: Value = serde_json::from_str(&text).expect("JSON");
    assert_eq!(fits_schema(&record, &schema, "$"), Vec::<String>::new());
    assert!(baseline.figures.len() > 60 && baseline.count(Verdict::Holds) > 40);
}
