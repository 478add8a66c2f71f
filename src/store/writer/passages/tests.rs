use super::*;
use crate::clock::{Trust, WallReading};
use crate::health::{CapacityFinding, Finding, Span, Watched};
use crate::quantity::{BootNo, Estimate, MonoMs, UtcMs};
use crate::store::kept::{Origin, StoredPassage, SurveyBatch, SurveyState};
use crate::store::reader::Reader;
use crate::store::record::BootKind;
use crate::store::writer::Options;

/// A store with a boot of a day and a trace of the day before, brought in later.
struct Ship {
    dir: tempfile::TempDir,
    writer: Writer,
}

const DAY: i64 = 86_400_000;
const LIVE: u32 = 1;
const TRACE: u32 = 2;

fn at(boot: u32, hour: i64) -> Moment {
    Moment { boot: BootNo(boot), mono: MonoMs(hour * 3_600_000) }
}

fn ship() -> Ship {
    let dir = tempfile::tempdir().expect("a scratch directory");
    let mut writer = Writer::open(&dir.path().join("marigold.sqlite"), Options::default()).expect("opens");
    for (boot_id, kind, utc) in [("live", BootKind::Live, DAY), ("trace", BootKind::Import, 0)] {
        let boot = writer.begin_boot(boot_id, kind).expect("noted");
        let reading = WallReading { mono: MonoMs(0), utc: UtcMs(utc), trust: Trust::Synchronised };
        writer.clock_fix(boot, reading, "first").expect("known");
    }
    writer.commit().expect("room");
    Ship { dir, writer }
}

impl Ship {
    fn find(&mut self, bank: &str, passages: &[(i64, Option<i64>)]) {
        let found =
            passages.iter().map(|&(begin, end)| Found { begin: at(LIVE, begin), end: end.map(|end| at(LIVE, end)) });
        self.keep(bank, found.collect(), Vec::new());
    }

    fn keep(&mut self, bank: &str, passages: Vec<Found>, findings: Vec<Finding>) {
        let state = SurveyState { at: at(LIVE, 0), version: 1, state: "{}".to_owned() };
        let (bank, events, tests) = (bank.to_owned(), Vec::new(), Vec::new());
        self.writer.keep_survey(&SurveyBatch { bank, state, findings, passages, events, tests }).expect("room");
    }

    fn edit(&mut self, edit: PassageEdit) -> i64 {
        self.writer.edit_passage(&edit).expect("possible")
    }

    fn refusal(&mut self, edit: PassageEdit) -> String {
        let before = self.listed();
        let text = self.writer.edit_passage(&edit).expect_err("impossible").to_string();
        assert_eq!(self.listed(), before, "and nothing has changed");
        text
    }

    fn reader(&self) -> Reader {
        Reader::open(&self.dir.path().join("marigold.sqlite")).expect("opens")
    }

    fn listed(&self) -> Vec<StoredPassage> {
        let mut all = self.reader().passages("drive").expect("reads");
        all.extend(self.reader().passages("house").expect("reads"));
        all
    }

    /// Begin and end by hours, and the name.
    fn told(&self) -> Vec<(i64, Option<i64>, String)> {
        let hour = |at: Moment| at.mono.0 / 3_600_000;
        self.listed().into_iter().map(|one| (hour(one.begin), one.end.map(hour), one.name)).collect()
    }
}

fn rename(id: i64, name: &str) -> PassageEdit {
    PassageEdit::Change { id, name: Some(name.to_owned()), note: None, begin: None, end: None }
}

fn ends(id: i64, begin: Option<Moment>, end: Option<Moment>) -> PassageEdit {
    PassageEdit::Change { id, name: None, note: None, begin, end }
}

fn mark(begin: Moment, end: Moment, name: &str) -> PassageEdit {
    PassageEdit::Mark { bank: "drive".to_owned(), begin, end, name: name.to_owned() }
}

#[test]
fn what_cannot_be_is_refused_in_words() {
    let mut ship = ship();
    ship.find("drive", &[(2, Some(4)), (6, Some(8))]);
    ship.find("house", &[(2, Some(3))]);
    let ids: Vec<i64> = ship.listed().iter().map(|one| one.id).collect();
    assert!(ship.refusal(rename(77, "x")).contains("there is no passage 77"));
    assert!(ship.refusal(ends(ids[0], Some(at(LIVE, 5)), None)).contains("ends after it begins"));
    assert!(ship.refusal(mark(at(LIVE, 5), at(LIVE, 5), "")).contains("ends after it begins"));
    assert!(ship.refusal(mark(at(9, 0), at(9, 1), "")).contains("nothing is stored of boot 9"));
    // The trace was the day before, though its boot has the greater number.
    assert!(ship.refusal(mark(at(LIVE, 1), at(TRACE, 2), "")).contains("ends after it begins"));
    for hour in [2, 4, 5] {
        let text = ship.refusal(PassageEdit::Split { id: ids[0], at: at(LIVE, hour) });
        assert!(text.contains("between its beginning and its end"), "{text}");
    }
    assert!(ship.refusal(PassageEdit::Merge { ids: vec![ids[0], ids[2]] }).contains("only passages of one bank"));
    assert!(ship.refusal(PassageEdit::Merge { ids: vec![ids[0], ids[0]] }).contains("at least two"));
    let gone = ship.edit(PassageEdit::Remove { id: ids[1] });
    assert!(ship.refusal(PassageEdit::Remove { id: gone }).contains("there is no passage"));
}

#[test]
fn what_a_hand_has_touched_is_not_changed_by_what_is_found() {
    let mut ship = ship();
    let found = [(2, Some(4)), (6, Some(8)), (10, Some(12)), (14, Some(16))];
    ship.find("drive", &found);
    let ids: Vec<i64> = ship.listed().iter().map(|one| one.id).collect();
    ship.edit(rename(ids[0], "To the mooring"));
    ship.edit(PassageEdit::Remove { id: ids[1] });
    ship.edit(ends(ids[2], Some(at(LIVE, 9)), None));
    let later = ship.edit(PassageEdit::Split { id: ids[3], at: at(LIVE, 15) });
    assert_ne!(later, ids[3]);
    let name = |text: &str| text.to_owned();
    let told = [
        (2, Some(4), name("To the mooring")),
        (9, Some(12), name("")),
        (14, Some(15), name("")),
        (15, Some(16), name("")),
    ];
    assert_eq!(ship.told(), told);
    assert!(ship.listed().iter().all(|one| one.origin == Origin::Hand && !one.settled));
    ship.find("drive", &found);
    assert_eq!(ship.told(), told, "found again, they change nothing");
    ship.writer.forget_survey("drive").expect("room");
    ship.find("drive", &[(2, Some(5)), (6, Some(8)), (11, Some(13)), (13, Some(17)), (20, Some(21))]);
    assert_eq!(ship.told()[..4], told);
    assert_eq!(ship.told()[4], (20, Some(21), String::new()));
}

#[test]
fn one_that_goes_on_gets_its_end_whatever_a_hand_has_done_to_it() {
    let mut ship = ship();
    ship.find("drive", &[(2, None)]);
    let id = ship.listed()[0].id;
    ship.edit(rename(id, "Out"));
    ship.find("drive", &[(2, Some(5))]);
    assert_eq!(ship.told(), [(2, Some(5), "Out".to_owned())]);
    ship.find("drive", &[(7, None)]);
    let id = ship.listed()[1].id;
    ship.edit(PassageEdit::Remove { id });
    ship.find("drive", &[(7, Some(9)), (11, Some(12))]);
    let told = [(2, Some(5), "Out".to_owned()), (11, Some(12), String::new())];
    assert_eq!(ship.told(), told, "what was removed hides no later one");
}

#[test]
fn a_mark_takes_the_place_of_what_it_overlaps_and_may_overlap_other_marks() {
    let mut ship = ship();
    ship.find("drive", &[(2, Some(4)), (6, Some(8))]);
    ship.edit(mark(at(LIVE, 3), at(LIVE, 7), "Whole day"));
    ship.edit(mark(at(LIVE, 6), at(LIVE, 7), "Harbour"));
    assert_eq!(ship.told(), [(3, Some(7), "Whole day".to_owned()), (6, Some(7), "Harbour".to_owned())]);
    let across = ship.edit(mark(at(TRACE, 20), at(LIVE, 1), "Night"));
    ship.find("drive", &[(0, Some(2))]);
    assert_eq!(ship.listed()[0].id, across, "it began the day before");
    assert_eq!(ship.told().len(), 3);
}

#[test]
fn merging_keeps_names_and_notes_and_the_first_number() {
    let mut ship = ship();
    ship.find("drive", &[(2, Some(4)), (6, Some(8)), (10, Some(12))]);
    let ids: Vec<i64> = ship.listed().iter().map(|one| one.id).collect();
    ship.edit(PassageEdit::Change {
        id: ids[0],
        name: Some("Out".to_owned()),
        note: Some("fog".to_owned()),
        begin: None,
        end: None,
    });
    ship.edit(rename(ids[2], "Home"));
    assert_eq!(ship.edit(PassageEdit::Merge { ids: vec![ids[2], ids[0]] }), ids[0]);
    assert_eq!(ship.told(), [(2, Some(12), "Out, Home".to_owned())], "and what was found between is part of it");
    assert_eq!(ship.listed()[0].note, "fog");
}

#[test]
fn a_name_leaves_the_summary_and_other_ends_do_not() {
    let mut ship = ship();
    ship.find("drive", &[(2, Some(4))]);
    let id = ship.listed()[0].id;
    let text = "{\"duration_s\":1.0}";
    ship.writer.connection.execute("UPDATE passage SET summary = ?1, settled = 1", [text]).expect("there");
    ship.edit(rename(id, "Out"));
    let kept: i64 = ship
        .writer
        .connection
        .query_row("SELECT count(*) FROM passage WHERE summary IS NOT NULL AND settled = 1", [], |row| row.get(0))
        .expect("a number");
    assert_eq!(kept, 1);
    ship.edit(ends(id, None, Some(at(LIVE, 5))));
    assert!(ship.listed()[0].summary.is_none() && !ship.listed()[0].settled);
}

#[test]
fn a_result_that_is_no_number_is_left_out_and_the_rest_is_kept() {
    let mut ship = ship();
    let finding = |value: f64| {
        let estimate = Estimate { value, std_dev: 1.0 };
        Finding::Capacity(CapacityFinding {
            watched: Watched::FullToEmpty,
            span: Span { from: at(LIVE, 1), to: at(LIVE, 2) },
            charge_ah: 100.0,
            soc_fall: estimate,
            load_a: 10.0,
            hours: 10.0,
            temperature_c: None,
            raw_ah: estimate,
            rated_ah: estimate,
            law: String::new(),
            combined_ah: None,

            corrected_ah: None,
            onward: None,
            believed: true,
        })
    };
    ship.keep("drive", Vec::new(), vec![finding(f64::NAN), finding(f64::INFINITY), finding(118.0)]);
    let kept = ship.reader().findings("drive", "capacity", UtcMs(i64::MIN), UtcMs(i64::MAX)).expect("reads");
    assert_eq!(kept.len(), 1);
    assert_eq!(kept[0].finding, finding(118.0));
}
