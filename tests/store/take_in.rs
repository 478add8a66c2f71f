//! A store that stood in is taken into the one it stood in for.

use taffrail::passage::Found;
use taffrail::quantity::{Band, BandedSoc};
use taffrail::store::{Anchor, Checkpoint, EventRecord, FixRecord, PassageEdit, SurveyBatch, SurveyState};

use super::*;

fn event(boot: BootNo, mono: i64, kind: &str) -> EventRecord {
    EventRecord {
        at: at(boot, mono),
        bank: None,
        device: Some("shunt".to_owned()),
        kind: kind.to_owned(),
        priority: "note".to_owned(),
        text: kind.to_owned(),
    }
}

fn full_fix(boot: BootNo, mono: i64) -> FixRecord {
    let after = BandedSoc { soc: 1.0, band: Band { low: 0.99, high: 1.0 } };
    let (bank, kind, text) = ("house".to_owned(), "full".to_owned(), "full fix".to_owned());
    FixRecord { bank, at: at(boot, mono), kind, before: None, after, text }
}

fn saved(boot: BootNo, mono: i64, state: &str) -> Checkpoint {
    Checkpoint { bank: "house".to_owned(), at: at(boot, mono), version: 2, state: state.to_owned() }
}

/// A store with two boots, of which the second is cut at second 100.
fn at_home(path: &Path) {
    let mut writer = open(path);
    let boot = boot_at(&mut writer, "one", START);
    let series = writer.series(&shunt(10_000)).expect("fits");
    for second in 0..100 {
        writer.append(series, &sample(boot, second * 1000, &[50.0, -1.0, 20.0])).expect("fits");
    }
    let boot = boot_at(&mut writer, "two", START + HOUR);
    for second in 0..100 {
        writer.append(series, &sample(boot, second * 1000, &[50.0, -1.0, 20.0])).expect("fits");
    }
    writer.checkpoint(saved(boot, 99_000, "{\"home\":1}")).expect("known boot");
    writer.close().expect("room");
}

/// What stood in: the second boot goes on, under another number, with a channel more and its series in another order.
fn away(path: &Path) {
    let mut writer = open(path);
    let boot = boot_at(&mut writer, "two", START + HOUR);
    let other = writer.series(&spec("tank", &["level_ratio"], 10_000)).expect("fits");
    let series =
        writer.series(&spec("shunt", &["voltage_v", "current_a", "temperature_c", "mark"], 10_000)).expect("fits");
    for second in 90..400 {
        writer.append(series, &sample(boot, second * 1000, &[50.0, -1.0, 20.0, 7.0])).expect("fits");
        writer.append(other, &sample(boot, second * 1000, &[0.5])).expect("fits");
    }
    for count in 0..3 {
        writer.event(event(boot, 200_000 + count * 1000, "bad-input")).expect("known boot");
    }
    writer.fix(full_fix(boot, 300_000)).expect("known boot");
    let (bank, fix, state) = ("house".to_owned(), Some("full".to_owned()), "{}".to_owned());
    writer.anchor(Anchor { bank, side: None, at: at(boot, 300_000), fix, version: 2, state }).expect("known boot");
    writer.checkpoint(saved(boot, 399_000, "{\"away\":1}")).expect("known boot");
    writer.close().expect("room");
}

#[test]
fn what_stood_in_is_taken_in_once_with_all_its_records() {
    let (home, stood_in) = (scratch(), scratch());
    at_home(&home.path);
    away(&stood_in.path);
    for (round, new) in [(1, 300 + 310), (2, 0)] {
        let mut writer = open(&home.path);
        assert_eq!(writer.take_in(&stood_in.path).expect("reads"), new, "round {round}");
        let saved = writer.load_checkpoint("house").expect("reads").expect("there");
        assert_eq!((saved.at, saved.state.as_str()), (at(BootNo(2), 399_000), "{\"away\":1}"), "under its number here");
        assert_eq!(writer.anchors("house").expect("reads").len(), 1);
        writer.close().expect("room");

        let reader = Reader::open(&home.path).expect("opens");
        let names: Vec<String> = reader.all_series().expect("reads").into_iter().map(|info| info.name).collect();
        assert_eq!(names, ["shunt", "tank"]);
        let second: Vec<StoredSample> =
            all_samples(&home.path, SeriesId(1)).into_iter().filter(|s| s.sample.at.boot == BootNo(2)).collect();
        let times: Vec<i64> = second.iter().map(|stored| stored.sample.at.mono.0 / 1000).collect();
        assert_eq!(times, (0..400).collect::<Vec<_>>(), "each second once");
        assert_eq!(second[99].sample.values[3], None, "what is there stays as it is");
        assert_eq!(second[100].sample.values[3], Some(7.0));
        let events = reader.latest_events(10).expect("reads");
        assert_eq!(events.iter().map(|e| (e.event.kind.as_str(), e.count)).collect::<Vec<_>>(), [("bad-input", 3)]);
        assert_eq!(events[0].event.at, at(BootNo(2), 202_000));
        let fixes = reader.fixes("house", UtcMs(i64::MIN), UtcMs(i64::MAX), 10).expect("reads");
        assert_eq!(fixes.iter().map(|fix| fix.fix.at).collect::<Vec<_>>(), [at(BootNo(2), 300_000)]);
    }
}

#[test]
fn what_hands_did_to_the_record_meanwhile_is_taken_in_once_and_what_was_found_is_not() {
    let (home, stood_in) = (scratch(), scratch());
    at_home(&home.path);
    away(&stood_in.path);
    let mut writer = open(&stood_in.path);
    let mark = |begin, end| PassageEdit::Mark {
        bank: "house".to_owned(),
        begin: at(BootNo(1), begin),
        end: at(BootNo(1), end),
        name: "Out".to_owned(),
    };
    writer.edit_passage(&mark(150_000, 200_000)).expect("possible");
    let removed = writer.edit_passage(&mark(210_000, 220_000)).expect("possible");
    writer.edit_passage(&PassageEdit::Remove { id: removed }).expect("possible");
    writer.begin_test("house", at(BootNo(1), 250_000), "{}").expect("room");
    let batch = SurveyBatch {
        bank: "house".to_owned(),
        state: SurveyState { at: at(BootNo(1), 300_000), version: 1, state: "{}".to_owned() },
        findings: Vec::new(),
        passages: vec![Found { begin: at(BootNo(1), 300_000), end: Some(at(BootNo(1), 310_000)) }],
        events: Vec::new(),
        tests: Vec::new(),
    };
    writer.keep_survey(&batch).expect("room");
    writer.close().expect("room");
    for round in 1..=2 {
        let mut writer = open(&home.path);
        writer.take_in(&stood_in.path).expect("sound");
        writer.close().expect("room");
        let reader = Reader::open(&home.path).expect("opens");
        let passages = reader.passages("house").expect("reads");
        let told: Vec<_> = passages.iter().map(|one| (one.begin, one.end, one.name.as_str())).collect();
        assert_eq!(told, [(at(BootNo(2), 150_000), Some(at(BootNo(2), 200_000)), "Out")], "round {round}");
        let tests = reader.tests("house").expect("reads");
        assert_eq!(tests.iter().map(|test| test.at).collect::<Vec<_>>(), [at(BootNo(2), 250_000)], "round {round}");
        assert_eq!(reader.survey("house").expect("reads"), None, "its samples are looked at here");
        let removed = rusqlite::Connection::open(&home.path)
            .and_then(|file| file.query_row("SELECT count(*) FROM passage WHERE removed = 1", [], |row| row.get(0)));
        assert_eq!(removed, Ok(1_i64), "round {round}");
    }
}
