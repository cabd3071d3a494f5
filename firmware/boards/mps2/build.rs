//! Tells the linker where the device's file is, for every port.

fn main() {
    println!("cargo:rustc-link-search={}", env!("CARGO_MANIFEST_DIR"));
    println!("cargo:rerun-if-changed=device.x");
}
