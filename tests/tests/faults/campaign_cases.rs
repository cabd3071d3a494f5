//! Cases of the fault campaign against whole rides with the same fault.

use firmware::Cycle;
use host_sim::campaign::case::{self, CaseFigures};
use host_sim::campaign::plan::{Place, Plan, only, window_s};
use host_sim::campaign::start::Start;
use host_sim::design;
use host_sim::fault::catalogue::by_name;
use host_sim::ride;
use host_sim::rig::Rig;

fn place(floor: &str, level: f64, occupant_kg: f64, onset_s: f64) -> Place {
    let plan = Plan {
        floors: vec![floor.to_owned()],
        levels: vec![level],
        occupants_kg: vec![occupant_kg],
        onsets_s: vec![onset_s],
        ..Plan::whole()
    };
    plan.places().unwrap().remove(0)
}

fn cases(rig: &Rig, place: &Place, names: &[&str]) -> Vec<CaseFigures> {
    let entries = || names.iter().map(|name| by_name(name).unwrap());
    let longest = entries().map(window_s).fold(0.0, f64::max);
    let parameters = design::parameters(rig).unwrap();
    let start = Start::ride(rig, &parameters, place, longest).unwrap();
    entries().map(|e| case::ride(&start, e).unwrap()).collect()
}

// Judges: fault-contact, fault-step
#[test]
fn a_case_has_the_figures_of_the_ride_with_its_fault() {
    let rig = Rig::default_machine().unwrap();
    // What remembers the time before the onset, what changes the plant, people, a restart, chance.
    let names = [
        "travel-delayed",
        "seat-accel-stuck",
        "floor-accel-noise",
        "winding-short",
        "jitter",
        "watchdog",
        "occupant-leaves",
    ];
    for (place, names) in [
        (place("hauler", 2.5, 40.0, 10.0), &names[..]),
        (
            place("edge", 1.0, 130.0, 0.8),
            &["enable-stuck", "clock-frozen"],
        ),
    ] {
        for (case, name) in cases(&rig, &place, names).iter().zip(names) {
            let entry = by_name(name).unwrap();
            let spec = place.ride(entry);
            let whole = ride::run(&rig, &spec, |_| true).unwrap();
            let law = (whole.travel.contact_speed_max_mps, whole.seat.peak_mps2);
            assert_eq!(
                (case.law.contact_speed_mps, case.law.peak_mps2),
                law,
                "{name}"
            );
            let passive = (
                whole.passive_travel.contact_speed_max_mps,
                whole.passive.peak_mps2,
            );
            let ours = (case.passive.contact_speed_mps, case.passive.peak_mps2);
            assert_eq!(ours, passive, "{name}");
            assert_eq!(case.modes, whole.faults[0].modes, "{name}");
            if *name != "watchdog" && *name != "occupant-leaves" {
                // Both count from the onset, whose time is a sum of periods.
                let (ours, theirs) = (case.noticed_after_s, whole.faults[0].noticed_after_s);
                assert_eq!(ours.is_some(), theirs.is_some(), "{name}");
                let apart = ours.unwrap_or(0.0) - theirs.unwrap_or(0.0);
                assert!(apart.abs() < 1.0e-9, "{name}: {ours:?} {theirs:?}");
            }
            let sound = ride::RideSpec {
                faults: Vec::new(),
                ..spec
            };
            let sound = ride::run(&rig, &sound, |_| true).unwrap();
            let healthy = (sound.travel.contact_speed_max_mps, sound.seat.peak_mps2);
            assert_eq!(
                (case.healthy.contact_speed_mps, case.healthy.peak_mps2),
                healthy
            );
        }
    }
}

#[test]
fn an_unreacting_firmware_drives_on() {
    let rig = Rig::default_machine().unwrap();
    let place = place("ballast", 1.0, 80.0, 10.0);
    let names = [
        "supply-stuck",
        "power-surge",
        "seat-accel-sign",
        "occupant-bounces",
    ];
    let [sound, surge, sign, pushed] = &cases(&rig, &place, &names)[..] else {
        panic!("four cases");
    };
    // A supply that is read at its usual value changes nothing.
    assert_eq!((sound.change_mps2, sound.change_mps), (0.0, 0.0));
    assert_eq!(
        (sound.law, sound.unreacting),
        (sound.healthy, sound.healthy)
    );
    assert_eq!(sound.noticed_after_s, None);
    // The surge itself is not felt; what is felt is the reaction.
    assert!(surge.noticed_after_s.is_some() && !surge.is_dangerous());
    assert_eq!(surge.changes_after_s, None);
    // A loop with the other sign is unstable: nothing but a reaction ends that.
    assert!(sign.is_dangerous() && sign.noticed_after_s.is_some());
    assert!(sign.unreacting.peak_mps2 > sign.law.peak_mps2);
    assert!(sign.breaks_after_s >= sign.changes_after_s);
    // Who pushes the seat pushes the passive one too.
    assert_ne!(pushed.passive, sound.passive);
}

#[test]
fn a_law_that_ignores_its_faults_reports_none_and_gives_the_same_answers_without() {
    let rig = Rig::default_machine().unwrap();
    let parameters = design::parameters(&rig).unwrap();
    let mut law = Cycle::<f32>::new(&parameters).unwrap();
    let mut deaf = law.clone();
    deaf.ignore_faults();
    let mut frame = firmware::SensorFrame {
        supply: 3000,
        ..firmware::SensorFrame::default()
    };
    let mut told = false;
    for k in 0..400_u16 {
        frame.sequence = k;
        // From here on the floor's accelerometer is far out of its range.
        if k >= 200 {
            frame.floor_accel = i16::MAX;
        }
        let (heard, unheard) = (law.step(&frame), deaf.step(&frame));
        assert_eq!(unheard.faults, 0);
        if heard.faults == 0 {
            assert_eq!(heard, unheard);
        }
        told |= heard.faults != 0 && k >= 200;
    }
    assert!(told);
}

/// Nothing that ships can be made deaf.
#[test]
fn no_port_has_the_feature_lab() {
    let boards = concat!(env!("CARGO_MANIFEST_DIR"), "/../firmware/boards");
    let mut seen = 0;
    for board in std::fs::read_dir(boards).unwrap() {
        let manifest = board.unwrap().path().join("Cargo.toml");
        if let Ok(text) = std::fs::read_to_string(manifest) {
            assert!(!text.contains("\"lab\""), "{text}");
            seen += 1;
        }
    }
    assert!(seen >= 4, "{seen}");
}

#[test]
fn only_takes_the_beginnings_of_names_and_classes() {
    let only = |texts: &[&str]| {
        let texts: Vec<String> = texts.iter().map(|t| (*t).to_owned()).collect();
        only(&texts).map(|all| all.iter().map(|e| e.name.clone()).collect::<Vec<_>>())
    };
    assert_eq!(only(&["power-s"]).unwrap(), ["power-sag", "power-surge"]);
    let time = only(&["time"]).unwrap();
    assert!(
        time.len() == 7 && time.contains(&"jitter".to_owned()),
        "{time:?}"
    );
    // The list keeps the catalogue's order and has nothing twice.
    assert_eq!(
        only(&["power-surge", "power-sag", "power"]).unwrap().len(),
        3
    );
    for bad in ["travl", "memory-flip"] {
        assert!(only(&["travel", bad]).unwrap_err().contains(bad));
    }
}
