//! The page is embedded from `page/`; cargo must look again when a file comes or goes there.

fn main() {
    println!("cargo::rerun-if-changed=page");
    println!("cargo::rerun-if-changed=build.rs");
}
