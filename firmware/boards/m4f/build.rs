//! Tells the linker where the memory layout is, and for `log` where its texts go.

fn main() {
    println!("cargo:rustc-link-search={}", env!("CARGO_MANIFEST_DIR"));
    println!("cargo:rustc-link-arg-bins=-Tlink.x");
    if std::env::var_os("CARGO_FEATURE_LOG").is_some() {
        println!("cargo:rustc-link-arg-bin=log=-Tdefmt.x");
    }
    println!("cargo:rerun-if-changed=memory.x");
}
