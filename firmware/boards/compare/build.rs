//! Compiles the C side with the cross compiler and tells the linker where the memory layout is.

use std::path::PathBuf;
use std::process::{Command, exit};

const COMPILER: &str = "arm-none-eabi-gcc";
const FLAGS: [&str; 7] = [
    "-O3",
    "-mcpu=cortex-m4",
    "-mthumb",
    "-mfloat-abi=hard",
    "-mfpu=fpv4-sp-d16",
    "-Wall",
    "-Wextra",
];
const SOURCES: [&str; 4] = ["biquad", "nothing", "observer", "pole"];

fn main() {
    let Some(out) = std::env::var_os("OUT_DIR").map(PathBuf::from) else {
        eprintln!("OUT_DIR is not set: this file is run by cargo");
        exit(1);
    };
    for name in SOURCES {
        let source = format!("c/{name}.c");
        let object = out.join(format!("{name}.o"));
        let done = Command::new(COMPILER)
            .args(FLAGS)
            .args(["-c", &source, "-o"])
            .arg(&object)
            .status();
        match done {
            Ok(status) if status.success() => {}
            Ok(status) => {
                eprintln!("{COMPILER} {source}: {status}");
                exit(1);
            }
            Err(error) => {
                eprintln!("{COMPILER} cannot be run: {error}");
                exit(1);
            }
        }
        println!("cargo:rustc-link-arg-bins={}", object.display());
        println!("cargo:rerun-if-changed={source}");
    }
    println!("cargo:rustc-link-search={}", env!("CARGO_MANIFEST_DIR"));
    println!("cargo:rustc-link-arg-bins=-Tlink.x");
    println!("cargo:rerun-if-changed=memory.x");
}
