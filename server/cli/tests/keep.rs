//! `traybook backup`, `restore` and `move`, run as commands.

#![expect(clippy::expect_used, reason = "a test stops at the first thing that is not there")]

mod place;

use place::{Place, said};
use std::process::Output;

fn wrong(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

#[test]
fn a_backup_is_made_and_restored_into_an_empty_place() {
    let place = Place::new("keep");
    place.found(&[]);
    place.write("areas.csv", "name\nNorth\n");
    assert!(place.run(&["import", "areas.csv"]).status.success());
    let made = place.run(&["backup", "backups", "--backup-keep-days", "30"]);
    assert!(
        made.status.success() && said(&made).contains("opened and checked: "),
        "{}",
        said(&made)
    );
    let folder = std::fs::read_dir(place.0.join("backups")).expect("a folder");
    let files: Vec<_> = folder.map(|e| e.expect("an entry").path()).collect();
    let [file] = files.as_slice() else { panic!("{files:?}") };
    let file = file.to_str().expect("plain text");
    // Where something is nothing is written.
    let refused = place.run(&["restore", file]);
    assert_eq!(refused.status.code(), Some(2));
    assert!(wrong(&refused).contains("nothing is ever written over"), "{}", wrong(&refused));
    let url = ["--database-url", "sqlite:other/place.sqlite"];
    let done = place.run(&[&["restore", file][..], &url].concat());
    for part in ["restored as of 20", "opened and checked: ", "2 one-time codes ended"] {
        assert!(said(&done).contains(part), "{part}: {}", said(&done));
    }
    let check = place.run(&[&["check"][..], &url].concat());
    assert!(check.status.success(), "{}", said(&check));
    // A copy that somebody made with other tools is taken too.
    let copy = ["--database-url", "sqlite:copied.sqlite"];
    let done = place.run(&[&["restore", "other/place.sqlite"][..], &copy].concat());
    assert!(said(&done).contains("does not say of which instant"), "{}", said(&done));
    let moved = place.run(&["move", "--to", "sqlite:moved.sqlite"]);
    assert!(said(&moved).contains("moved: "), "{}", said(&moved));
    let by_hand = place.run(&["restore", "--by-other-tools"]);
    assert!(said(&by_hand).contains("2 one-time codes ended"), "{}", said(&by_hand));
    for (args, part) in [
        (vec!["backup", "b", "--backup-recipient", "x"], "give a recipient of age"),
        (vec!["restore"], "required arguments"),
    ] {
        let refused = place.run(&args);
        assert!(!refused.status.success() && wrong(&refused).contains(part), "{}", wrong(&refused));
    }
}
