//! A proof that finds what it should: every kind of row is damaged in turn, and must be named.

use rusqlite::Connection;
use taffrail::store::{Anchor, Checkpoint, Finding, Verified, codec, verify};

use super::*;

const HOURS: i64 = 3;
/// Samples of the shunt, the last of them in the open tail.
const SAMPLES: i64 = HOURS * 3600 + 500;
/// Points of the track, all in its tail.
const POINTS: i64 = SAMPLES / 60 + 1;

/// A store with everything in it: chunks, minutes, hours, days, a tail, saved states. Gives where it lies.
fn everything() -> Scratch {
    let scratch = scratch();
    let mut writer = open(&scratch.path);
    let boot = boot_at(&mut writer, "one", START);
    let shunt = writer.series(&shunt(10_000)).expect("fits");
    let track = writer.series(&spec("house-track", &["soc"], 180_000)).expect("fits");
    for second in 0..SAMPLES {
        // Unlike from hour to hour, and with a channel that is missing now and then.
        let wave = (second * 37 % 101) as f64 / 100.0;
        let temperature = if second % 50 == 7 { f64::NAN } else { 19.5 };
        let values = [51.2 + wave / 10.0, ((wave * 8.0 - 5.0) * 100.0).round() / 100.0, temperature];
        let values = [(values[0] * 1000.0).round() / 1000.0, values[1], values[2]];
        writer.append(shunt, &sample(boot, second * 1000, &values)).expect("fits");
        if second % 60 == 0 {
            writer.append(track, &sample(boot, second * 1000, &[0.8])).expect("fits");
        }
        if second % 900 == 899 {
            writer.commit().expect("room");
        }
    }
    let (at, state) = (at(boot, (SAMPLES - 1) * 1000), "{\"charge\":0.8}".to_owned());
    writer
        .checkpoint(Checkpoint { bank: "house".to_owned(), at, version: 2, state: state.clone() })
        .expect("known boot");
    let fix = Some("full".to_owned());
    writer.anchor(Anchor { bank: "house".to_owned(), side: None, at, fix, version: 2, state }).expect("known boot");
    writer.commit().expect("room");
    scratch
}

fn proof(path: &Path) -> Verified {
    verify(path, &mut |_| {}).expect("readable")
}

/// Does something to the store, proves it, and puts it back.
fn after(scratch: &Scratch, damage: impl FnOnce(&Connection)) -> Vec<Finding> {
    let copy = scratch.path.with_extension("copy");
    let connection = Connection::open(&scratch.path).expect("opens");
    connection.execute("VACUUM INTO ?1", [copy.to_str().expect("text")]).expect("copied");
    let damaged = Connection::open(&copy).expect("opens");
    damaged.execute_batch("PRAGMA foreign_keys = OFF").expect("set");
    damage(&damaged);
    drop(damaged);
    let found = proof(&copy).findings;
    std::fs::remove_file(&copy).expect("ours");
    found
}

fn run(sql: &str) -> impl FnOnce(&Connection) + '_ {
    move |store| assert!(store.execute(sql, []).expect(sql) > 0, "{sql} changed nothing")
}

fn named(found: &[Finding], table: &str) -> bool {
    found.iter().any(|finding| finding.table == table)
}

#[test]
fn a_sound_store_is_proved_with_every_sample_in_it() {
    let scratch = everything();
    let verified = proof(&scratch.path);
    assert_eq!(verified.findings, []);
    assert_eq!(verified.samples, u64::try_from(SAMPLES + POINTS).expect("positive"));
    assert_eq!(verified.span, Some((UtcMs(START), UtcMs(START + (SAMPLES - 1) * 1000))));
    assert_eq!((verified.set_aside.len(), verified.not_provable), (0, 0));
    assert!(after(&scratch, |_| ()).is_empty(), "nor does the copying change anything");
}

#[test]
fn a_store_of_several_boots_devices_channels_and_reopenings_is_sound() {
    let scratch = scratch();
    for run in 0..3 {
        let mut writer = open(&scratch.path);
        let boot = boot_at(&mut writer, &format!("boot {run}"), START + run * 30 * HOUR);
        let slow = writer.series(&spec("slow", &["temperature_c"], 900_000)).expect("fits");
        let fast = writer.series(&spec("fast", &["current_a"], 1000)).expect("fits");
        // Channels that come later, and power that is measured from the last run on.
        let channels: &[&str] = match run {
            0 => &["voltage_v"],
            1 => &["voltage_v", "current_a"],
            _ => &["voltage_v", "current_a", "power_w"],
        };
        let grown = writer.series(&spec("grown", channels, 10_000)).expect("fits");
        for minute in 0..700 {
            writer.append(slow, &sample(boot, minute * 60_000, &[(minute % 9) as f64])).expect("fits");
        }
        for tick in 0..70_000 {
            writer.append(fast, &sample(boot, tick * 50, &[(tick % 13) as f64 - 6.0])).expect("fits");
        }
        for second in 0..5000 {
            let values = [50.0 + (second % 7) as f64, (second % 5) as f64 - 3.0, 0.5 * (second % 11) as f64];
            // A hole longer than the gap.
            let mono = second * 1000 + if second > 2000 { 60_000 } else { 0 };
            writer.append(grown, &sample(boot, mono, &values[..channels.len()])).expect("fits");
            if second == 4000 {
                writer.close().expect("room");
                writer = open(&scratch.path);
                writer.begin_boot(&format!("boot {run}"), BootKind::Live).expect("known");
                writer.series(&spec("grown", channels, 10_000)).expect("known");
            }
        }
        writer.close().expect("room");
    }
    let verified = proof(&scratch.path);
    assert_eq!(verified.findings, []);
    assert_eq!(verified.samples, 3 * (700 + 70_000 + 5000));
}

#[test]
fn a_store_of_the_first_layout_can_be_proved_before_it_is_brought_to_the_present_one() {
    let scratch = scratch();
    Connection::open(&scratch.path)
        .and_then(|store| {
            store.execute_batch(include_str!("../../migrations/0001_store.sql"))?;
            store.pragma_update(None, "user_version", 1)?;
            store.pragma_update(None, "application_id", 0x7461_6666)?;
            store.execute_batch(
                "INSERT INTO boot VALUES (1, 'one', 'live');
                 INSERT INTO series VALUES (1, 'house', 'shunt', 'device', 10000);
                 INSERT INTO channel VALUES (1, 0, 'temperature_c');
                 INSERT INTO checkpoint VALUES ('house', 1, 5000, 1, '{}');",
            )
        })
        .expect("made");
    assert_eq!(proof(&scratch.path).findings, []);
    let store = Connection::open(&scratch.path).expect("opens");
    store.execute("INSERT INTO chunk VALUES (1, 1, 1, 0, 9000, 10, x'')", []).expect("made");
    assert!(named(&proof(&scratch.path).findings, "chunk"));
}

#[test]
fn any_flipped_bit_of_packed_samples_is_found() {
    let scratch = everything();
    let first = |table: &str| -> Vec<u8> {
        let store = Connection::open(&scratch.path).expect("opens");
        store.query_row(&format!("SELECT data FROM {table} LIMIT 1"), [], |row| row.get(0)).expect("a row")
    };
    for table in ["chunk", "minute_chunk", "tail"] {
        let bits = first(table).len() * 8;
        for bit in (0..bits).step_by(bits / 12 + 1).chain([bits - 1]) {
            let found = after(&scratch, |store| {
                let key = if table == "minute_chunk" { "id" } else { "(series, boot, first_mono_ms)" };
                let mut data = first(table);
                data[bit / 8] ^= 1 << (bit % 8);
                let sql = format!(
                    "UPDATE {table} SET data = ?1 WHERE {key} = (SELECT {} FROM {table} LIMIT 1)",
                    key.trim_matches(['(', ')'])
                );
                assert_eq!(store.execute(&sql, [data]).expect("set"), 1);
            });
            assert!(named(&found, table), "bit {bit} of {table}: {found:?}");
        }
    }
}

#[test]
fn a_chunk_with_other_samples_and_a_right_checksum_is_found_by_its_sums() {
    let scratch = everything();
    let found = after(&scratch, |store| {
        let (id, data): (i64, Vec<u8>) = store
            .query_row("SELECT id, data FROM chunk LIMIT 1", [], |row| Ok((row.get(0)?, row.get(1)?)))
            .expect("a chunk");
        let mut columns = codec::decode(&data, |_| true).expect("sound");
        // One sample of 3,600, by one step of 1 mV.
        columns.channels[0][1000] = ((columns.channels[0][1000] + 0.001) * 1000.0).round() / 1000.0;
        let channels: Vec<&[f64]> = columns.channels.iter().map(Vec::as_slice).collect();
        let data = codec::encode(&columns.time_ms, &channels);
        store.execute("UPDATE chunk SET data = ?2 WHERE id = ?1", rusqlite::params![id, data]).expect("set");
    });
    assert!(named(&found, "hour_summary") && named(&found, "day_summary"), "{found:?}");
}

#[test]
fn minutes_that_say_something_else_with_a_right_checksum_are_found() {
    let scratch = everything();
    // Count, least, most and mean of the voltage; power takes the first four columns.
    for column in 4..8 {
        let found = after(&scratch, |store| {
            let (id, data): (i64, Vec<u8>) = store
                .query_row("SELECT id, data FROM minute_chunk LIMIT 1", [], |row| Ok((row.get(0)?, row.get(1)?)))
                .expect("minutes");
            let mut columns = codec::decode(&data, |_| true).expect("sound");
            columns.channels[column][30] += 1.0;
            let channels: Vec<&[f64]> = columns.channels.iter().map(Vec::as_slice).collect();
            let data = codec::encode(&columns.time_ms, &channels);
            store.execute("UPDATE minute_chunk SET data = ?2 WHERE id = ?1", rusqlite::params![id, data]).expect("set");
        });
        assert!(named(&found, "minute_chunk"), "column {column}: {found:?}");
    }
}

#[test]
fn any_changed_number_beside_the_samples_is_found() {
    let scratch = everything();
    let of_summary = ["count = count + 1", "covered_s = covered_s + 1", "min = min - 0.001", "max = max + 0.001"];
    let of_summary = of_summary.into_iter().chain(["mean = mean + 0.001"]);
    for table in ["hour_summary", "day_summary"] {
        for change in of_summary.clone() {
            let found = after(&scratch, run(&format!("UPDATE {table} SET {change} WHERE channel = 0")));
            assert!(named(&found, table), "{table}, {change}: {found:?}");
        }
        // The current and the derived power have integrals.
        for (channel, change) in [(1, "positive"), (1, "negative"), (1000, "positive"), (1000, "negative")] {
            let sql = format!("UPDATE {table} SET {change} = {change} + 0.5 WHERE channel = {channel}");
            assert!(named(&after(&scratch, run(&sql)), table), "{sql}");
        }
        for change in [
            format!("DELETE FROM {table} WHERE channel = 1000"),
            format!("UPDATE {table} SET start_mono_ms = start_mono_ms + 864000000 WHERE channel = 2"),
            format!("UPDATE {table} SET positive = 1, negative = 0 WHERE channel = 0"),
        ] {
            assert!(named(&after(&scratch, run(&change)), table), "{change}");
        }
    }
    for (table, change) in [
        ("chunk", "UPDATE chunk SET count = count - 1 WHERE first_mono_ms = 0"),
        ("chunk", "UPDATE chunk SET last_mono_ms = last_mono_ms - 1 WHERE first_mono_ms = 0"),
        ("chunk", "UPDATE chunk SET last_mono_ms = last_mono_ms + 10000 WHERE first_mono_ms = 0"),
        ("chunk", "UPDATE chunk SET first_mono_ms = first_mono_ms + 1 WHERE first_mono_ms = 0"),
        ("chunk", "UPDATE chunk SET data = x'' WHERE first_mono_ms = 0"),
        ("span", "UPDATE span SET count = count - 1"),
        ("span", "UPDATE span SET first_mono_ms = 1"),
        ("span", "UPDATE span SET last_mono_ms = last_mono_ms + 1"),
        ("span", "DELETE FROM span"),
        ("minute_chunk", "DELETE FROM minute_chunk"),
        ("file", "UPDATE minute_chunk SET id = id + 100"),
        ("file", "DELETE FROM boot"),
        ("tail", "UPDATE tail SET count = count + 1"),
        ("tail", "UPDATE tail SET first_mono_ms = first_mono_ms - 1"),
        ("checkpoint", "UPDATE checkpoint SET mono_ms = mono_ms + 1"),
        ("checkpoint", "UPDATE checkpoint SET state = substr(state, 2)"),
        ("anchor", "UPDATE anchor SET mono_ms = mono_ms + 1"),
        ("anchor", "UPDATE anchor SET state = '{'"),
    ] {
        let found = after(&scratch, run(change));
        assert!(named(&found, table), "{change}: {found:?}");
    }
}

#[test]
fn any_damaged_page_is_found() {
    let scratch = everything();
    let copy = scratch.path.with_extension("whole");
    let connection = Connection::open(&scratch.path).expect("opens");
    // Without pages that are in no use, and with all in the one file.
    for pragma in ["PRAGMA incremental_vacuum", "PRAGMA wal_checkpoint(TRUNCATE)"] {
        let mut steps = connection.prepare(pragma).expect("known");
        let mut rows = steps.query([]).expect("free");
        while rows.next().expect("free").is_some() {}
    }
    let free: i64 = connection.query_row("PRAGMA freelist_count", [], |row| row.get(0)).expect("a number");
    assert_eq!(free, 0);
    // Not by VACUUM INTO: in a file whose views come last SQLite's own check leaves out the map of its pages.
    let bytes = std::fs::read(&scratch.path).expect("read");
    assert!(bytes.len() > 20 * 4096);
    for page in 0..bytes.len() / 4096 {
        let mut damaged = bytes.clone();
        damaged[page * 4096..page * 4096 + 64].fill(0xff);
        std::fs::write(&copy, damaged).expect("written");
        assert!(!proof(&copy).is_sound(), "page {page}");
    }
    std::fs::write(&copy, &bytes[..bytes.len() - 3 * 4096]).expect("written");
    assert!(!proof(&copy).is_sound(), "cut short");
    std::fs::write(&copy, [0x5a; 10_000]).expect("written");
    assert!(!proof(&copy).is_sound(), "garbage");
    std::fs::write(&copy, &bytes).expect("written");
    assert!(proof(&copy).is_sound());
}

#[test]
fn a_finding_names_where_when_and_what_to_do() {
    let scratch = everything();
    let found = after(&scratch, run("UPDATE chunk SET data = substr(data, 1, 40) WHERE first_mono_ms = 3600000"));
    let told: Vec<String> = found.iter().map(ToString::to_string).collect();
    let expected = "chunk of series \"shunt\", bank \"house\", from 2026-12-01 01:00:00 to 2026-12-01 01:59:59 UTC: the \
                    checksum does not match; the daemon sets it aside when it next meets it; what is in no copy is lost";
    assert_eq!(told, [expected], "and nothing that cannot be proved without it is called wrong");
}

#[test]
fn a_store_is_proved_while_somebody_writes_it() {
    let scratch = scratch();
    let mut writer = open(&scratch.path);
    let boot = boot_at(&mut writer, "one", START);
    let series = writer.series(&shunt(10_000)).expect("fits");
    for second in 0..8000 {
        writer.append(series, &sample(boot, second * 1000, &[50.0, 1.0, 20.0])).expect("fits");
        if second % 500 == 0 {
            writer.secure().expect("room");
            assert_eq!(proof(&scratch.path).findings, [], "at {second}");
        }
    }
}

#[test]
fn thinned_chunks_are_sound_and_their_sums_are_said_to_be_unproved() {
    let scratch = scratch();
    let mut writer = Writer::open(&scratch.path, Options { pending_bytes: 8000 }).expect("opens");
    let boot = boot_at(&mut writer, "one", START);
    let series = writer.series(&shunt(10_000)).expect("fits");
    for second in 0..6 * 3600 {
        let noise = (second * second * 7919 % 1009) as f64 / 1000.0;
        writer.append(series, &sample(boot, second * 1000, &[51.0 + noise, -noise, 20.0])).expect("fits");
    }
    writer.close().expect("room");
    let thinned = count(&scratch.path, "thinned");
    assert!((1..6).contains(&thinned), "{thinned} of 6 chunks");
    let verified = proof(&scratch.path);
    assert_eq!(verified.findings, []);
    assert!(verified.not_provable > 0 && verified.samples < 5 * 3600, "{verified:?}");
    let unmarked = after(&scratch, run("DELETE FROM thinned"));
    assert!(named(&unmarked, "minute_chunk") && named(&unmarked, "hour_summary"), "{unmarked:?}");
}
