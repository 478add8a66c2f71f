//! Power cuts while a store of an earlier layout is brought to the present one.

use rusqlite::Connection;

use super::*;

/// The layouts before the present one, as their programs made them.
const LAYOUTS: [&str; 2] =
    [include_str!("../../../migrations/0001_store.sql"), include_str!("../../../migrations/0002_reconciled.sql")];

/// A store of an earlier layout with a chunk and rows of the tail, and what is in it.
fn earlier(layout: usize) -> (Image, Log) {
    let folder = shore();
    let [present, old] = ["present", STORE].map(|name| folder.path().join(name));
    let mut writer = open(&present);
    let boot = boot_at(&mut writer, "one", START);
    let series = writer.series(&shunt(10_000)).expect("fits");
    let samples: Vec<Moment> = (0..900).map(|second| at(boot, HOUR - 700_000 + second * 1000)).collect();
    for (number, at) in (1..).zip(&samples) {
        writer.append(series, &sample(boot, at.mono.0, &boat::shunt_values(*at))).expect("fits");
        if number % 50 == 0 {
            writer.commit().expect("room");
        }
    }
    drop(writer);
    let file = Connection::open(&old).expect("made");
    file.execute_batch("PRAGMA auto_vacuum = INCREMENTAL; PRAGMA journal_mode = WAL; PRAGMA foreign_keys = OFF")
        .expect("set");
    LAYOUTS[..layout].iter().for_each(|script| file.execute_batch(script).expect("a released script"));
    file.pragma_update(None, "user_version", layout as i64).expect("set");
    file.pragma_update(None, "application_id", 0x7461_6666).expect("set");
    file.execute("ATTACH ?1 AS present", [present.to_str().expect("UTF-8")]).expect("there");
    for table in names(&file, "SELECT name FROM main.sqlite_schema WHERE type = 'table'") {
        let columns = names(&file, &format!("SELECT name FROM pragma_table_info('{table}')")).join(", ");
        file.execute_batch(&format!("INSERT INTO main.{table} ({columns}) SELECT {columns} FROM present.{table}"))
            .expect("each table of an earlier layout is still there");
    }
    // The highest trust of that time.
    file.execute_batch("UPDATE clock_fix SET trust = 2; DETACH present").expect("done");
    drop(file);
    let files = [(STORE.to_owned(), std::fs::read(&old).expect("reads"))];
    (Image { files: files.into() }, Log::of(samples))
}

fn names(file: &Connection, sql: &str) -> Vec<String> {
    let mut select = file.prepare(sql).expect(sql);
    select.query_map([], |row| row.get(0)).and_then(Iterator::collect).expect(sql)
}

#[test]
fn a_power_cut_at_any_point_of_an_upgrade_costs_no_sample() {
    for layout in 1..=LAYOUTS.len() {
        let (image, log) = earlier(layout);
        let samples = log.shunt.len();
        let Some(disk) = Disk::mount_with(&image) else { return };
        open(&disk.path(STORE)).close().expect("room");
        let record = disk.record();
        let mut chance = Chance(layout as u64);
        let mut platter = Platter::new(&image, 1);
        let mut cuts = 0;
        for instant in 0..=record.len() {
            if let Some(change) = instant.checked_sub(1).map(|last| &record[last]) {
                platter.apply(change);
            }
            for how in [Cut::Nothing, Cut::Everything, Cut::Torn, Cut::AnyOrder] {
                let shore = shore();
                platter.image(how, &mut chance).lay(shore.path());
                let what = format!("layout {layout}, cut after {instant} of {}, {how:?}", record.len());
                let found = found::check(&shore.path().join(STORE), &log, &what);
                assert_eq!(found.shunt, samples, "{what}");
                cuts += 1;
            }
        }
        println!("{cuts} power cuts in an upgrade from layout {layout}");
    }
}
