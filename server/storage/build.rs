//! Embeds the migrations anew when they change.

fn main() {
    println!("cargo::rerun-if-changed=../../migrations");
}
