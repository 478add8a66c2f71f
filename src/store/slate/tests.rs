use super::*;

fn stretch(series: i64, bytes: usize) -> Stretch {
    let data: Vec<u8> = (0..bytes).map(|n| u8::try_from(n % 251).expect("small")).collect();
    Stretch { series: SeriesId(series), boot: BootNo(3), first_mono_ms: -5, count: 7, data: data.into() }
}

fn scratch() -> (tempfile::TempDir, PathBuf) {
    let dir = tempfile::tempdir().expect("a scratch directory");
    let path = path_of(&dir.path().join("marigold.sqlite"));
    (dir, path)
}

fn read(path: &Path) -> Vec<u8> {
    std::fs::read(path).expect("there")
}

#[test]
fn the_latest_note_is_read_back_and_the_one_before_outlives_a_torn_write() {
    let (_dir, path) = scratch();
    let mut slate = Slate::open(&path).expect("made");
    for (mark, bytes) in [(11, 10), (11, 3000), (-4, 0), (i64::MIN, 40_000)] {
        let stretches = vec![stretch(1, bytes), stretch(-2, bytes / 3)];
        let before = latest_note(&read(&path));
        assert!(slate.write(mark, stretches.clone()).expect("room"));
        let file = read(&path);
        assert_eq!(file.len(), 2 * SLOT_BYTES, "the file never changes its length");
        let latest = latest_note(&file).expect("just written");
        assert_eq!((latest.mark, latest.stretches), (mark, stretches));

        let place = if latest.sequence.is_multiple_of(2) { 0 } else { SLOT_BYTES };
        let mut torn = file;
        torn[place + 20] ^= 1;
        assert_eq!(latest_note(&torn), before, "a torn note costs itself only");
    }
}

#[test]
fn a_slate_that_is_opened_again_goes_on_behind_its_latest_note() {
    let (_dir, path) = scratch();
    for round in 1..6_u64 {
        let mut slate = Slate::open(&path).expect("opens");
        assert!(slate.write(1, vec![stretch(1, 100)]).expect("room"));
        assert_eq!(latest_note(&read(&path)).expect("written").sequence, round);
    }
}

#[test]
fn what_does_not_fit_leaves_the_note_before_it() {
    let (_dir, path) = scratch();
    let mut slate = Slate::open(&path).expect("made");
    assert!(slate.write(1, vec![stretch(1, 50)]).expect("room"));
    assert!(!slate.write(1, vec![stretch(1, SLOT_BYTES)]).expect("nothing was written"));
    assert_eq!(latest_note(&read(&path)).expect("there").stretches, [stretch(1, 50)]);
}

#[test]
fn a_short_file_is_filled_up_and_garbage_is_no_note() {
    let (_dir, path) = scratch();
    std::fs::write(&path, [0x5a; 100]).expect("written");
    assert_eq!(latest_note(&read(&path)), None);
    let mut slate = Slate::open(&path).expect("filled up");
    assert!(slate.write(9, Vec::new()).expect("room"));
    let empty = Note { mark: 9, sequence: 1, stretches: Vec::new() };
    assert_eq!(latest_note(&read(&path)), Some(empty));
}
