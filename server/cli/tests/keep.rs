//! `traybook backup`, `restore` and `move`, run as commands.

#![expect(clippy::expect_used, reason = "a test stops at the first thing that is not there")]

mod place;

use place::{Place, said};
use std::process::{Child, Output, Stdio};
use std::time::{Duration, Instant};

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

/// A server that ends with the test.
struct Served(Child);

impl Drop for Served {
    fn drop(&mut self) {
        self.0.kill().ok();
        self.0.wait().ok();
    }
}

#[test]
fn a_server_makes_the_first_backup_at_once() {
    let place = Place::new("scheduled");
    place.found(&[]);
    let serve = ["serve", "--listen", "127.0.0.1:0", "--backup", "backups"];
    let mut command = place.command(&serve);
    command.stdout(Stdio::null()).stderr(Stdio::null());
    let mut served = Served(command.spawn().expect("it runs"));
    // Generous: only a server that makes none waits so long.
    let until = Instant::now() + Duration::from_secs(120);
    let file = loop {
        assert!(Instant::now() < until, "no backup was made");
        assert_eq!(served.0.try_wait().expect("a state"), None, "it goes on");
        let entries = std::fs::read_dir(place.0.join("backups")).into_iter().flatten().flatten();
        let done = |p: &std::path::PathBuf| p.extension().is_some_and(|e| e == "gz");
        if let Some(file) = entries.map(|e| e.path()).find(done) {
            break file;
        }
        std::thread::sleep(Duration::from_millis(50));
    };
    let url = ["--database-url", "sqlite:restored.sqlite"];
    let restored = place.run(&[&["restore", file.to_str().expect("text")][..], &url].concat());
    assert!(said(&restored).contains("opened and checked: "), "{}", wrong(&restored));
}
