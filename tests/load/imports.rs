//! A year of milk through `traybook import`.

use crate::Places;
use crate::bare::{self, Rows};
use crate::table::{Table, median, rate};
use chrono::{Days, NaiveDate};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Instant;

/// Farms, each with one group of cows, and days on which each is milked.
const FARMS: usize = 500;
const DAYS: usize = 400;
const TIMES: usize = 3;

/// Measures the import of one large file into a database that knows the members already.
pub fn measure(places: &Places, table: &mut Table) {
    let base = places.work.join("base.sqlite");
    let (members, milk) = (places.work.join("members"), places.work.join("milk"));
    write_members(&members);
    write_milk(&milk);
    let found = [
        "found",
        "--name",
        "Load",
        "--currency",
        "TZS",
        "--zone",
        "Africa/Dar_es_Salaam",
        "--started-on",
        "2022-01-01",
        "--operator-email",
        "operator@load.example",
        "--manager-email",
        "manager@load.example",
    ];
    traybook(places, &base, &found);
    traybook(places, &base, &["import", &members.display().to_string()]);
    let seq = bare::last_change(&base);
    let rows = (FARMS * DAYS) as f64;
    let imported = places.work.join("imported.sqlite");
    let one = |_| {
        places.copy(&base, "imported.sqlite");
        let started = Instant::now();
        traybook(places, &imported, &["import", &milk.display().to_string()]);
        rows / started.elapsed().as_secs_f64()
    };
    let import = median((0..TIMES).map(one).collect());
    let same = Rows::written_after(&imported, seq);
    assert_eq!(same.len(), FARMS * DAYS);
    let bare = |feed: bool| {
        let one = |_| same.write(&places.copy(&base, "bare.sqlite"), feed);
        median((0..TIMES).map(one).collect())
    };
    let (plain, with_feed) = (bare(false), bare(true));
    table.line("rows by a bare insert loop, new database", rate(plain, "rows"), None, "");
    table.line("the same with the change feed's line", rate(with_feed, "rows"), None, "");
    let figure = rate(import, "rows");
    table.line("traybook import, 200,000 milk records", figure, Some(import / plain), "0.60");
    let figure = rate(import, "rows");
    table.line("  against the loop with the feed", figure, Some(import / with_feed), "");
}

fn traybook(places: &Places, database: &Path, args: &[&str]) {
    let url = format!("sqlite:{}", database.display());
    let status = Command::new(&places.program)
        .args(["--database-url", &url, "--data"])
        .arg(&places.work)
        .args(args)
        .stdout(Stdio::null())
        .status()
        .expect("the program starts");
    assert!(status.success(), "{args:?}");
}

/// Rows of a file that is imported while a server runs.
const BESIDE: usize = 60_000;

/// A file of milk of a served database's groups, long before its history.
pub fn milk_of(database: &Path, folder: &Path) -> PathBuf {
    let conn = bare::open(database);
    let sql = "SELECT f.code || '', g.code FROM animal_groups g JOIN farms f ON f.coop_id = \
               g.coop_id AND f.id = g.farm_id WHERE g.animal_class = 'dairy_cows' ORDER BY g.id";
    let mut statement = conn.prepare(sql).expect("a query");
    let codes = statement.query_map([], |row| row.get::<_, String>(1)).expect("rows");
    let codes: Vec<String> = codes.map(|code| code.expect("a code")).collect();
    let first: NaiveDate = "2004-01-01".parse().expect("a day");
    let mut text = "animal_group,date,session,litres,animals_in_milk\n".to_owned();
    for n in 0..BESIDE {
        let day = first.checked_add_days(Days::new((n / codes.len()) as u64)).expect("a day");
        let _ = writeln!(text, "{},{day},day,6.5,2", codes[n % codes.len()]);
    }
    write(folder, "milk_records.csv", &text);
    folder.join("milk_records.csv")
}

/// Imports a file beside a server that runs.
pub fn run(program: &Path, data: &Path, url: &str, file: &Path) {
    let status = Command::new(program)
        .args(["--database-url", url, "--data"])
        .arg(data)
        .arg("import")
        .arg(file)
        .stdout(Stdio::null())
        .status();
    assert!(status.expect("the program starts").success());
}

fn write(folder: &Path, name: &str, text: &str) {
    std::fs::create_dir_all(folder).expect("a folder");
    std::fs::write(folder.join(name), text).expect("a file");
}

fn write_members(folder: &Path) {
    let mut members = "number,name,area,sex,birth_year,language,consent,joined_on\n".to_owned();
    let mut farms = "code,member,area\n".to_owned();
    let mut groups = "code,farm,animal_class\n".to_owned();
    for n in 0..FARMS {
        let _ = writeln!(members, "M{n},Asha Mfano,North,female,1984,sw,true,2022-01-01");
        let _ = writeln!(farms, "F{n},M{n},North");
        let _ = writeln!(groups, "F{n}-cows,F{n},dairy_cows");
    }
    write(folder, "areas.csv", "name\nNorth\n");
    write(folder, "members.csv", &members);
    write(folder, "farms.csv", &farms);
    write(folder, "animal_groups.csv", &groups);
}

/// Every farm's milk of a day, then of the next.
fn write_milk(folder: &Path) {
    let first: NaiveDate = "2022-01-01".parse().expect("a day");
    let mut text =
        "animal_group,date,session,litres,animals_in_milk,sold_litres,price_per_litre\n".to_owned();
    for day in 0..DAYS {
        let date = first.checked_add_days(Days::new(day as u64)).expect("a day");
        for farm in 0..FARMS {
            let tenths = 120 + (day * 31 + farm * 17) % 97;
            let (whole, part) = (tenths / 10, tenths % 10);
            let _ = writeln!(text, "F{farm}-cows,{date},day,{whole}.{part},2,8.5,900");
        }
    }
    write(folder, "milk_records.csv", &text);
}
