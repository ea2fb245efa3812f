//! `traybook import`, run as a command on a database of its own.

#![expect(clippy::expect_used, reason = "a test stops at the first thing that is not there")]

mod place;

use place::{Place, said};
use std::path::Path;

fn read(path: &Path) -> String {
    std::fs::read_to_string(path).expect("a file")
}

#[test]
fn good_rows_go_in_and_the_others_come_back_with_their_reason() {
    let place = Place::new("import");
    place.found(&[]);
    place.write("areas.csv", "name\nNorth\n");
    assert!(place.run(&["import", "areas.csv"]).status.success());
    let members = "Members of the group\r\n\r\nNo.;Name;Gender;Village;Phone;Joined\r\n\
                   M1;Asha Mfano;KE;north;0712 345 678;5/3/2025\r\n\
                   M2;Juma Mfano;ME;Nowhere;;6/3/2025\r\n";
    place.write("members 2025.csv", members);
    // What the file does not say is named, with the line of the header, and nothing is guessed.
    let open = place.run(&["import", "members 2025.csv", "--dry-run"]);
    for part in ["members 2025.csv:3: language: add the column language", "consent"] {
        assert!(said(&open).contains(part), "{part}: {}", said(&open));
    }
    let fill = ["--fill", "language=sw", "--fill", "consent=yes"];
    let days = place.run(&[&["import", "members 2025.csv"][..], &fill].concat());
    assert!(said(&days).contains("4: column 6 (Joined): this can be 2025-03-05 or 2025-05-03"));
    let import = ["import", "members 2025.csv", "--days", "day-first", "--good-rows", "--refused"];
    let done = place.run(&[&import[..], &["mend"], &fill].concat());
    assert_eq!(done.status.code(), Some(1), "there were bad rows");
    let part = "members 2025.csv: bad rows, left out: 1 of 2; 1 new, 0 there already";
    assert!(said(&done).contains(part), "{}", said(&done));
    let refused = read(&place.0.join("mend/members 2025.csv.refused.csv"));
    assert!(refused.contains("M2,Juma Mfano,ME,Nowhere,,6/3/2025,Village: "), "{refused}");
    // Mended, the same file comes in; once more changes nothing.
    place.write("mended.csv", &refused.replace("Nowhere,", "North,"));
    let import = ["import", "mended.csv", "--days", "day-first"];
    let mended = place.run(&[&import[..], &fill].concat());
    assert!(said(&mended).contains("mended.csv: 1 rows, 1 new"), "{}", said(&mended));
    let again = place.run(&[&import[..], &fill].concat());
    assert!(said(&again).contains("0 new, 1 there already"), "{}", said(&again));
}

#[test]
fn a_dry_run_of_a_new_co_operative_makes_nothing() {
    let place = Place::new("import-new");
    let coop = "id,name,currency,zone,language,started_on\n\
                01890a5d-ac96-774b-bcce-b302099a8057,Mfano,TZS,Africa/Dar_es_Salaam,sw,2026-01-01\n";
    place.write("all/cooperatives.csv", coop);
    place.write("all/areas.csv", "name\nNorth\n");
    let tried = place.run(&["import", "all", "--dry-run"]);
    assert!(tried.status.success(), "{}", String::from_utf8_lossy(&tried.stderr));
    assert!(said(&tried).contains("areas.csv: 1 rows, 1 would be new"), "{}", said(&tried));
    let kept = place.run(&["export", "out"]);
    assert!(!kept.status.success(), "no co-operative is there: {}", said(&kept));
    let left = std::fs::read_dir(place.0.join("data")).expect("the folder");
    let names: Vec<_> = left.map(|e| e.expect("an entry").file_name()).collect();
    assert!(!names.iter().any(|n| n.to_string_lossy().starts_with("trial")), "{names:?}");
    let done = place.run(&["import", "all"]);
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    assert!(place.run(&["export", "out"]).status.success(), "it is there now");
}
