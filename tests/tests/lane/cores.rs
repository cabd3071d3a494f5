//! Rides in lockstep with an emulated core give the same figures as on the host; and every way in which a
//! core cannot be used is a clear error that leaves no process behind. Our own rules.

use host_sim::cores::{self, BoardKind, CoreError, CoreKind, Emulator, EmulatorError, Shadow};
use host_sim::design;
use host_sim::floor::FloorSpec;
use host_sim::ride::{self, RideSpec};
use host_sim::rig::Rig;
use std::path::Path;

fn rig() -> Rig {
    Rig::default_machine().expect("the default rig")
}

fn connect(kind: &CoreKind, images: &Path) -> Result<Option<cores::Connected>, CoreError> {
    cores::connect(
        kind,
        images,
        &design::parameters(&rig()).expect("parameters"),
    )
}

#[test]
fn lockstep_rides_give_the_same_figures() {
    let Some(images) = becalm_tests::lane::images() else {
        return;
    };
    let rig = rig();
    for board in BoardKind::ALL {
        let mut spec = RideSpec::on(FloorSpec::named("loader"));
        (spec.seconds, spec.skip_s, spec.arithmetic) = (3.0, 1.0, board.arithmetic());
        spec.floor.level = 2.5;
        let core = connect(&CoreKind::Board(board), &images)
            .expect("a core")
            .expect("a board");
        let mut shadow = Shadow::new(core, design::parameters(&rig).expect("parameters"));
        let there = ride::run_in_core(&rig, &spec, &mut shadow, |_| true).expect("a ride");
        let here = ride::run(&rig, &spec, |_| true).expect("a ride");
        println!(
            "{}: {:.2} times real time",
            shadow.name(),
            there.real_time_factor
        );
        let figures = |s: &host_sim::summary::Summary| {
            let mut tree = serde_json::to_value(s).expect("JSON");
            tree["real_time_factor"] = 0.into();
            tree
        };
        assert_eq!(figures(&there), figures(&here), "{}", board.name());
    }
}

#[test]
fn an_image_that_is_not_there() {
    let nowhere = Path::new("/nonexistent/images");
    match connect(&CoreKind::Board(BoardKind::M4f), nowhere) {
        Err(CoreError::Emulator(error @ EmulatorError::NoImage { .. })) => {
            let text = error.to_string();
            assert!(
                text.contains("lane build") && text.contains("/nonexistent"),
                "{text}"
            );
        }
        other => panic!("{:?}", other.err()),
    }
}

/// An image that does not speak (the port instead of the bench), and one that is no program at all.
#[test]
fn images_that_do_not_boot_or_hang() {
    let Some(images) = becalm_tests::lane::images() else {
        return;
    };
    let folder = std::env::temp_dir().join(format!("becalm-no-boot-{}", std::process::id()));
    let bench = BoardKind::M4f.image(&folder, "bench");
    std::fs::create_dir_all(bench.parent().expect("a folder")).expect("a folder");
    std::fs::copy(BoardKind::M4f.image(&images, "port"), &bench).expect("a copy");
    let silent = connect(&CoreKind::Board(BoardKind::M4f), &folder)
        .err()
        .expect("an error");
    let text = silent.to_string();
    assert!(
        matches!(silent, CoreError::Emulator(EmulatorError::Silent { .. })),
        "{text}"
    );
    assert!(text.contains("does not boot, or hangs"), "{text}");

    std::fs::write(&bench, b"this is no program").expect("a file");
    let text = connect(&CoreKind::Board(BoardKind::M4f), &folder)
        .err()
        .expect("an error");
    println!("{text}");
    assert!(matches!(text, CoreError::Emulator(_)), "{text}");

    let batch = BoardKind::M4f.image(&folder, "batch");
    std::fs::write(&batch, b"nor is this").expect("a file");
    let error = Emulator::batch(BoardKind::M4f, &folder, &[]).expect_err("an error");
    println!("{error}");
    assert_eq!(
        becalm_tests::lane::processes_with(&folder.display().to_string()),
        0,
        "an orphan"
    );
    std::fs::remove_dir_all(&folder).expect("the folder goes");
}

#[test]
fn a_serial_device_that_is_not_there() {
    let kind = CoreKind::from_name("serial:/dev/becalm-nowhere").expect("a kind");
    let error = connect(&kind, Path::new(""))
        .err()
        .expect("an error")
        .to_string();
    assert!(error.contains("/dev/becalm-nowhere"), "{error}");
}
