//! The log of the task, from an emulated Cortex-M4F core, as text: the port's bin `log` plays a script, the
//! emulator hands out its frames, the `defmt-decoder` of the authors of `defmt` reads them by the ELF.
//!
//! Independent of the project: encoding, texts and values, by that decoder. Our own rules: the order of modes
//! and faults for that script, as the documentation of the modes and of the task states it; times come from
//! the parameter table of the default rig.

use defmt_decoder::{DecodeError, Table};
use std::io::Read;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

const EMULATOR: &str = "qemu-system-arm";
/// The table that the ports hold.
static TABLE: firmware::StoredTable = include!("../../parameters.rs");
const PATIENCE: Duration = Duration::from_secs(60);

/// The emulator; killed when it is dropped, also by a failing check.
struct Emulator(Child);

impl Drop for Emulator {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// Fails when the lane is required, else says why nothing was run.
fn not_run(why: &str) {
    let text = format!("NOT RUN: {why}; build the images by `firmware/boards/lane build`");
    let required = std::env::var("BECALM_LANE").is_ok_and(|lane| lane == "required");
    assert!(!required, "{text}");
    eprintln!("{text}");
}

fn image() -> PathBuf {
    let boards = std::env::var_os("BECALM_IMAGES").map_or_else(
        || Path::new(env!("CARGO_MANIFEST_DIR")).join("../../../target/boards"),
        PathBuf::from,
    );
    boards.join("m4f/thumbv7em-none-eabihf/release/log")
}

/// What the image put out before it ended by itself.
fn run(image: &Path) -> Vec<u8> {
    let child = Command::new(EMULATOR)
        .args(["-M", "mps2-an386", "-nographic", "-icount", "shift=0"])
        .args(["-semihosting-config", "enable=on,target=native", "-kernel"])
        .arg(image)
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .spawn()
        .expect("the emulator starts");
    let mut emulator = Emulator(child);
    let mut output = emulator.0.stdout.take().expect("a pipe");
    let reader = std::thread::spawn(move || {
        let mut bytes = Vec::new();
        output.read_to_end(&mut bytes).map(|_| bytes)
    });
    let begun = Instant::now();
    let status = loop {
        if let Some(status) = emulator.0.try_wait().expect("the emulator's state") {
            break status;
        }
        assert!(begun.elapsed() < PATIENCE, "no end within {PATIENCE:?}");
        std::thread::sleep(Duration::from_millis(10));
    };
    assert!(
        status.success(),
        "{status}; the codes are in the bin's source"
    );
    reader.join().expect("a reader").expect("output")
}

/// The lines of the log: level and text.
fn decode(elf: &[u8], bytes: &[u8]) -> Vec<String> {
    let table = Table::parse(elf)
        .expect("an ELF of this version of defmt")
        .expect("an ELF with log texts");
    let mut decoder = table.new_stream_decoder();
    decoder.received(bytes);
    let mut lines = Vec::new();
    loop {
        match decoder.decode() {
            Ok(frame) => {
                let level = frame.level().expect("a level");
                lines.push(format!("{} {}", level.as_str(), frame.display_message()));
            }
            Err(DecodeError::UnexpectedEof) => return lines,
            Err(DecodeError::Malformed) => panic!("malformed frame after {lines:#?}"),
        }
    }
}

#[test]
fn the_log_of_an_emulated_core_tells_modes_and_faults_in_order() {
    let image = image();
    let Ok(elf) = std::fs::read(&image) else {
        return not_run(&format!("no image at {}", image.display()));
    };
    if Command::new(EMULATOR)
        .arg("--version")
        .stdout(Stdio::null())
        .status()
        .is_err()
    {
        return not_run(&format!("no {EMULATOR} (install it)"));
    }
    let lines = decode(&elf, &run(&image));
    let text = lines.join("\n");
    println!("{text}");
    assert!(
        !lines.is_empty(),
        "no frames: build in the port's folder, which sets DEFMT_LOG; else only errors are logged"
    );

    // The moments of the script (see the bin), and what the table adds to them. A change that has to rest for
    // n periods counts in the n-th.
    let p = *TABLE.parameters().expect("a whole table");
    let periods = |time_s: f32| (time_s / p.timing.step_s).round() as u32 - 1;
    let (switch, clear) = (periods(p.supervise.switch_s), periods(p.supervise.clear_s));
    // At rest in mid travel the motor carries nothing: set down when the adjuster has rested and the force has faded.
    let set_down = periods(p.supervise.level_rest_s) + periods(p.supervise.lead_out_s) + 2;
    let (strikes, debounce) = (p.vet.late_strikes, p.vet.fault_steps);
    let up = |from: u32| {
        [
            (Some(from), "info mode Passive, faults none"),
            (Some(from + 1), "info mode Rise, faults none"),
            (Some(from + 2), "info mode Active, faults none"),
        ]
    };
    let mut wanted = vec![
        (
            None,
            "warn not started: parameter timing.step_s = -1.0: expected 0.00025 to 0.005 s",
        ),
        (None, "info started: arithmetic f32, step 0.001 s"),
        (Some(200 + switch), "info mode Passive, faults none"),
        (Some(500 + switch), "info mode Rise, faults none"),
        // At rest in mid travel: risen at once.
        (Some(501 + switch), "info mode Active, faults none"),
        // The stop circuit is no fault, and is not waited for.
        (Some(2000), "info mode Damped, faults none"),
    ];
    wanted.extend(up(2100 + clear));
    wanted.extend([
        (Some(4504), "warn 3 skipped before it, 3 since reset"),
        // Only the first of a row; each is marked in the next frame.
        (Some(5000), "warn answer late, 1 since reset"),
        (Some(5000 + strikes), "info mode Settle, faults late"),
    ]);
    // When strikes are forgiven is checked elsewhere; the seat waits from then on, and is not down before.
    let forgiven = lines
        .iter()
        .map(|line| period_and_text(line))
        .find(|(_, text)| text == "info mode Settle, faults none")
        .and_then(|(period, _)| period)
        .unwrap_or_else(|| panic!("late answers are not forgiven:\n{text}"));
    wanted.push((Some(forgiven), "info mode Settle, faults none"));
    wanted.push((Some(forgiven + clear), "info mode Active, faults none"));
    wanted.extend([
        (
            Some(7500),
            "warn answer not taken by an output, 1 since reset",
        ),
        (
            Some(8000),
            "warn no value from travel, 1 such samples since reset",
        ),
        (Some(8000 + debounce - 1), "info mode Settle, faults travel"),
        (
            Some(8000 + debounce - 1 + set_down),
            "info mode Fault, faults travel",
        ),
        // Disarming is the deliberate reset; it takes effect in the next period.
        (Some(9500 + switch), "info mode Off, faults travel"),
        (Some(9501 + switch), "info mode Off, faults none"),
        (
            None,
            "info end: Tally { late: 8, skipped: 3, sensor_errors: 20, output_errors: 1 }",
        ),
    ]);
    let found: Vec<_> = lines.iter().map(|line| period_and_text(line)).collect();
    for (n, (found, wanted)) in found.iter().zip(&wanted).enumerate() {
        assert_eq!(
            (found.0, found.1.as_str()),
            *wanted,
            "line {}:\n{text}",
            n + 1
        );
    }
    assert_eq!(found.len(), wanted.len(), "lines:\n{text}");
}

/// Splits `level period n: text` into the number and `level text`.
fn period_and_text(line: &str) -> (Option<u32>, String) {
    let split = || {
        let (level, rest) = line.split_once(" period ")?;
        let (period, text) = rest.split_once(": ")?;
        Some((Some(period.parse().ok()?), format!("{level} {text}")))
    };
    split().unwrap_or_else(|| (None, line.to_owned()))
}
