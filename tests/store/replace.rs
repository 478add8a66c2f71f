//! A bank's results replaced as a whole.

use taffrail::quantity::{Band, BandedSoc};
use taffrail::store::{Anchor, Checkpoint, FixRecord, HistoryQuery, SeriesInfo, draft_of, replaced_of};

use super::*;

/// The track of a bank that has this name.
fn track(bank: &str) -> SeriesSpec {
    let kind = SeriesKind::Reckoning;
    SeriesSpec { name: "house-reckoning".to_owned(), kind, bank: bank.to_owned(), ..spec("", &["soc"], 180_000) }
}

fn fix(bank: &str, at: Moment, kind: &str, text: &str) -> FixRecord {
    let after = BandedSoc { soc: 1.0, band: Band { low: 0.98, high: 1.0 } };
    FixRecord { bank: bank.to_owned(), at, kind: kind.to_owned(), before: None, after, text: text.to_owned() }
}

/// A saved state: any JSON will do.
fn state_of(bank: &str) -> String {
    format!("\"{bank}\"")
}

/// Results under a name: a track of `minutes` at a charge, a full fix in the first and the last minute, an anchor and a
/// checkpoint.
fn store_results(writer: &mut Writer, bank: &str, boot: BootNo, minutes: i64, soc: f64) {
    let series = writer.series(&track(bank)).expect("fits");
    for minute in 0..minutes {
        writer.append_values(series, at(boot, minute * 60_000), &[Some(soc)]).expect("known");
    }
    let last = at(boot, (minutes - 1) * 60_000);
    for moment in [at(boot, 0), last] {
        writer.fix(fix(bank, moment, "full", bank)).expect("known boot");
    }
    let (bank, state) = (bank.to_owned(), state_of(bank));
    writer
        .anchor(Anchor { bank: bank.clone(), side: None, at: last, fix: None, version: 2, state: state.clone() })
        .expect("known boot");
    writer.checkpoint(Checkpoint { bank, at: last, version: 2, state }).expect("known boot");
    writer.commit().expect("room");
}

fn tracks(path: &Path, bank: &str) -> Vec<SeriesInfo> {
    let all = Reader::open(path).and_then(|reader| reader.all_series()).expect("reads");
    all.into_iter().filter(|series| series.bank == bank).collect()
}

fn texts(path: &Path) -> Vec<String> {
    let fixes = Reader::open(path).and_then(|r| r.fixes("house", UtcMs(i64::MIN), UtcMs(i64::MAX), 100));
    let mut texts: Vec<_> = fixes.expect("reads").into_iter().map(|stored| stored.fix.text).collect();
    texts.sort();
    texts
}

#[test]
fn the_draft_takes_the_place_of_the_results_and_nothing_else() {
    let scratch = scratch();
    let mut writer = open(&scratch.path);
    let boot = boot_at(&mut writer, "the boot", START);
    store_results(&mut writer, "house", boot, 1500, 0.5);
    store_results(&mut writer, "drive", boot, 700, 0.4);
    writer.fix(fix("house", at(boot, 5000), "hand", "said by hand")).expect("known boot");
    let shunt = writer.series(&shunt(10_000)).expect("fits");
    writer.append(shunt, &sample(boot, 1000, &[51.0, -5.0, 20.0])).expect("known");
    let draft = draft_of("house");
    store_results(&mut writer, &draft, boot, 1400, 0.7);
    assert_eq!(texts(&scratch.path), ["house", "house", "said by hand"], "nobody reads a draft");
    writer.replace_results("house", &[at(boot, 1000)]).expect("room");
    // The first full fix comes before what is renewed, and the draft has one there too.
    assert_eq!(texts(&scratch.path), ["house", &*draft, &*draft, "said by hand"]);
    let found = tracks(&scratch.path, "house");
    let track = found.iter().find(|series| series.kind == SeriesKind::Reckoning.as_str()).expect("one");
    let points = all_samples(&scratch.path, track.id);
    assert_eq!(points.len(), 1400);
    assert!(points.iter().all(|point| point.sample.values == [Some(0.7)]));
    let reader = Reader::open(&scratch.path).expect("opens");
    // Summaries changed places with their samples.
    let day = HistoryQuery {
        series: track.id,
        channels: Vec::new(),
        from: UtcMs(START),
        to: UtcMs(START + 24 * HOUR),
        points: 4,
    };
    let means = reader.history(&day).expect("known series").channels[0].mean.clone();
    assert!(means.iter().flatten().all(|mean| (mean - 0.7).abs() < 1e-9) && !means.is_empty(), "{means:?}");
    assert_eq!(writer.load_checkpoint("house").expect("reads").map(|saved| saved.state), Some(state_of(&draft)));
    let anchors = writer.anchors("house").expect("reads");
    assert_eq!(anchors.iter().map(|stored| &*stored.anchor.state).collect::<Vec<_>>(), [state_of(&draft)]);
    assert_eq!(all_samples(&scratch.path, tracks(&scratch.path, "drive")[0].id).len(), 700);
    assert_eq!(writer.load_checkpoint("drive").expect("reads").map(|saved| saved.state), Some(state_of("drive")));
    assert_eq!(all_samples(&scratch.path, shunt).len(), 1);
    // What was replaced is still there, for as long as nobody removes it.
    assert_eq!(tracks(&scratch.path, &replaced_of("house")).len(), 1);
    let mut batches = 0;
    while writer.clear_results(&replaced_of("house")).expect("room") {
        batches += 1;
        assert!(batches < 100, "it comes to an end");
    }
    assert!(tracks(&scratch.path, &replaced_of("house")).is_empty() && batches > 3);
    assert_eq!(all_samples(&scratch.path, track.id).len(), 1400);
    writer.close().expect("room");
    let sound: String = rusqlite::Connection::open(&scratch.path)
        .and_then(|c| c.query_row("PRAGMA integrity_check", [], |row| row.get(0)))
        .expect("answers");
    assert_eq!(sound, "ok");
    assert_eq!(count(&scratch.path, "pragma_foreign_key_check"), 0);
}

#[test]
fn a_draft_that_was_left_is_removed_with_what_waits_of_it_in_memory() {
    let scratch = scratch();
    let draft = draft_of("house");
    let mut writer = open(&scratch.path);
    let boot = boot_at(&mut writer, "the boot", START);
    store_results(&mut writer, "house", boot, 700, 0.5);
    store_results(&mut writer, &draft, boot, 100, 0.7);
    // Left by a kill, its tail is open again. Half of a draft is no damage.
    writer.fix(fix(&draft, at(boot, 0), "full", "of a draft")).expect("known boot");
    writer.commit().expect("room");
    drop(writer);
    rusqlite::Connection::open(&scratch.path)
        .and_then(|c| c.execute("UPDATE checkpoint SET state = 'half' WHERE bank = ?1", [&draft]))
        .expect("room");
    let verified = taffrail::store::verify(&scratch.path, &mut |_| {}).expect("opens");
    assert!(verified.findings.is_empty(), "{:?}", verified.findings);
    let mut writer = open(&scratch.path);
    while writer.clear_results(&draft).expect("room") {}
    assert!(tracks(&scratch.path, &draft).is_empty());
    // A new boot closes the open stretches of those before it: none of a series that is gone.
    boot_at(&mut writer, "another boot", START + HOUR);
    writer.close().expect("nothing of it is left to be written");
    assert_eq!(texts(&scratch.path), ["house", "house"]);
    assert_eq!(all_samples(&scratch.path, tracks(&scratch.path, "house")[0].id).len(), 700);
    assert_eq!(count(&scratch.path, "pragma_foreign_key_check"), 0);
}

#[test]
fn what_was_set_aside_of_a_series_stays_with_its_name() {
    let scratch = scratch();
    let mut writer = open(&scratch.path);
    let boot = boot_at(&mut writer, "the boot", START);
    store_results(&mut writer, "house", boot, 700, 0.5);
    let old = tracks(&scratch.path, "house")[0].id;
    let aside = "INSERT INTO set_aside (source, series, boot, first_mono_ms, cause) VALUES ('chunk', ?1, 1, 0, 'torn')";
    rusqlite::Connection::open(&scratch.path).and_then(|c| c.execute(aside, [old.0])).expect("room");
    store_results(&mut writer, &draft_of("house"), boot, 700, 0.7);
    writer.replace_results("house", &[]).expect("room");
    while writer.clear_results(&replaced_of("house")).expect("room") {}
    let kept: i64 = rusqlite::Connection::open(&scratch.path)
        .and_then(|c| c.query_row("SELECT series FROM set_aside", [], |row| row.get(0)))
        .expect("one");
    assert_eq!(kept, tracks(&scratch.path, "house")[0].id.0);
}
