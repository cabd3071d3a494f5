//! Checks the register of limits and fails the build when a limit is enforced by nothing or demonstrated by nothing; writes
//! its constants; and says what this build is made from.
#![allow(
    dead_code,
    unreachable_pub,
    reason = "the register's files are the library's own and are used in part here"
)]

#[path = "src/limits/evidence.rs"]
mod evidence;
#[path = "src/limits/reader.rs"]
mod reader;
#[path = "src/limits/register.rs"]
mod register;
#[path = "src/limits/sources.rs"]
mod sources;
#[path = "src/units.rs"]
mod units;

use register::{Refusal, Register};
use std::fmt::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// From the root of the repository.
const REGISTER: &str = "host-sim/limits.toml";

fn main() -> ExitCode {
    let here = PathBuf::from(variable("CARGO_MANIFEST_DIR"));
    let root = here.parent().unwrap_or(&here);
    match limits(root).and_then(|text| write_out("limits.rs", &text)) {
        Ok(()) => {}
        Err(refusals) => {
            for refusal in refusals {
                println!("cargo::error={refusal}");
            }
            return ExitCode::FAILURE;
        }
    }
    made_from(root);
    ExitCode::SUCCESS
}

fn variable(name: &str) -> String {
    std::env::var(name).unwrap_or_default()
}

/// The constants, when nothing stands against the register.
fn limits(root: &Path) -> Result<String, Vec<Refusal>> {
    let path = root.join(REGISTER);
    println!("cargo::rerun-if-changed={}", path.display());
    let text = std::fs::read_to_string(&path).map_err(|e| {
        vec![Refusal {
            file: REGISTER.to_owned(),
            line: 0,
            limit: None,
            field: "file".to_owned(),
            found: e.to_string(),
            expected: "the register of limits".to_owned(),
        }]
    })?;
    let register = Register::read(&text, REGISTER)?;
    let refusals = evidence::check(&register, root)?;
    if !refusals.is_empty() {
        return Err(refusals);
    }
    let mut out = String::new();
    for limit in &register.limits {
        let name = limit.id.to_uppercase().replace('-', "_");
        // Writing to a string cannot fail.
        let _ = writeln!(
            out,
            "/// {}, {} {} ({}).\npub const {name}: f64 = {:?};",
            limit.protects,
            limit.sense.words(),
            limit.value,
            limit.unit,
            limit.value
        );
    }
    Ok(out)
}

fn write_out(name: &str, text: &str) -> Result<(), Vec<Refusal>> {
    let path = Path::new(&variable("OUT_DIR")).join(name);
    std::fs::write(&path, text).map_err(|e| {
        vec![Refusal {
            file: path.display().to_string(),
            line: 0,
            limit: None,
            field: "constants".to_owned(),
            found: e.to_string(),
            expected: "a file that can be written".to_owned(),
        }]
    })
}

/// Compiler, target, profile, digest of the sources, and what git said when this script ran: it runs again when a source has
/// changed, not at a commit. The dossier asks git itself where the sources are at hand.
fn made_from(root: &Path) {
    for folder in sources::FOLDERS {
        println!("cargo::rerun-if-changed={}", root.join(folder).display());
    }
    println!("cargo::rerun-if-changed=build.rs");
    let compiler = sources::said(root, &variable("RUSTC"), &["--version"]);
    let compiler = compiler.unwrap_or_else(|| "unknown".to_owned());
    let git = sources::commit(root).unwrap_or_else(|| "none".to_owned());
    let sources = sources::digest(root).unwrap_or_else(|| "unknown".to_owned());
    for (name, value) in [
        ("COMPILER", compiler),
        ("TARGET", variable("TARGET")),
        (
            "PROFILE",
            format!(
                "{}, opt-level {}",
                variable("PROFILE"),
                variable("OPT_LEVEL")
            ),
        ),
        ("GIT", git),
        ("SOURCES", sources),
    ] {
        println!("cargo::rustc-env=BECALM_{name}={value}");
    }
}
